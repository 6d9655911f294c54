"""Areas and centroids of sections against numerical integration, and bands against a sum of washers."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal

import pytest
from scipy.integrate import quad

from alloyref.domain.errors import InvalidInput
from alloyref.domain.ring.inputs import PROFILES
from alloyref.domain.sections import arctangent, ring

SIZES = [("2", "1"), ("5", "1.5"), ("6", "0.4"), ("3.2", "1.6"), ("50", "0.1")]
Profile = Callable[[float, float, float], float]


def across_rectangle(width: float, height: float, y: float) -> float:
    return width


def across_segment(width: float, height: float, y: float) -> float:
    """Chord of the circle through both ends of the base and the crown, at height y."""
    radius = (width**2 / 4 + height**2) / (2 * height)
    return 2 * math.sqrt(max(0.0, radius**2 - (y + radius - height) ** 2))


def across_half_ellipse(width: float, height: float, y: float) -> float:
    return width * math.sqrt(max(0.0, 1 - (y / height) ** 2))


def across_ellipse(width: float, height: float, y: float) -> float:
    return width * math.sqrt(max(0.0, 1 - (2 * y / height - 1) ** 2))


ACROSS: dict[str, Profile] = {
    "flat": across_rectangle,
    "D": across_segment,
    "half-round": across_half_ellipse,
    "court": across_ellipse,
}
"""How wide each section is at a height above its inside: another description of the same shapes."""


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_area_and_centroid_by_integration(profile: str, width: str, height: str) -> None:
    section = PROFILES[profile](Decimal(width), Decimal(height))
    w, h = float(width), float(height)
    area = quad(lambda y: ACROSS[profile](w, h, y), 0, h, epsabs=1e-12)[0]
    moment = quad(lambda y: y * ACROSS[profile](w, h, y), 0, h, epsabs=1e-12)[0]
    assert float(section.area) == pytest.approx(area, rel=1e-7)
    assert float(section.centroid) == pytest.approx(moment / area, rel=1e-7)


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize(("width", "height"), SIZES)
def test_a_turned_band_by_washers(profile: str, width: str, height: str) -> None:
    """Pappus against the integral of shells 2 pi r over the section, for a ring of 17.35 mm."""
    section = PROFILES[profile](Decimal(width), Decimal(height))
    w, h, inside = float(width), float(height), 17.35
    turned = quad(lambda y: 2 * math.pi * (inside / 2 + y) * ACROSS[profile](w, h, y), 0, h, epsabs=1e-12)[0]
    assert float(section.area) * math.pi * (inside + 2 * float(section.centroid)) == pytest.approx(turned, rel=1e-7)


def test_half_a_circle_is_both_a_d_and_a_half_round() -> None:
    """Area pi r^2/2 and centroid 4 r/(3 pi): textbook figures of the half circle."""
    for profile in ("D", "half-round"):
        section = PROFILES[profile](Decimal(4), Decimal(2))
        assert float(section.area) == pytest.approx(2 * math.pi, rel=1e-14)
        assert float(section.centroid) == pytest.approx(8 / (3 * math.pi), rel=1e-14)


def test_a_flat_arc_is_a_parabola() -> None:
    """A low segment tends to a parabola's: area 2 w h/3, centroid 2 h/5; no digits are lost on the way there."""
    section = PROFILES["D"](Decimal(1000), Decimal("0.01"))
    assert float(section.area) == pytest.approx(2 / 3 * 10, rel=1e-9)
    assert float(section.centroid) == pytest.approx(0.004, rel=1e-9)


def test_a_full_section_holds_more_than_a_rounded_one() -> None:
    areas = [PROFILES[name](Decimal(5), Decimal("1.5")).area for name in ("flat", "half-round", "D")]
    assert areas == sorted(areas, reverse=True)
    court, half_round = (PROFILES[name](Decimal(5), Decimal("1.5")) for name in ("court", "half-round"))
    assert court.area == half_round.area
    assert court.centroid > half_round.centroid


@pytest.mark.parametrize("height", ["2.51", "5"])
def test_an_arc_does_not_overhang(height: str) -> None:
    with pytest.raises(InvalidInput, match="half its width") as refused:
        PROFILES["D"](Decimal(5), Decimal(height))
    assert refused.value.issues[0].pointer == "/thickness"


@pytest.mark.parametrize("value", [1e-9, 0.01, 0.3, 0.7, 1.0])
def test_the_arctangent_is_that_of_the_mathematics_library(value: float) -> None:
    assert float(arctangent(Decimal(repr(value)))) == pytest.approx(math.atan(value), rel=1e-15)


def test_a_tube_is_a_rod_less_its_bore() -> None:
    assert float(ring(Decimal(3), Decimal(1)).area) == pytest.approx(math.pi * (1.5**2 - 0.5**2), rel=1e-14)
