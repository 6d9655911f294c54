"""Stock by geometry done by hand (common practice, no source), mostly with a density that is given."""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.reference import Reference
from alloyref.domain.stock import STOCK

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
TEN = {"composition": {"Ag": 925, "Cu": 75}, "density": "10 g/cm3"}
DWT = 1.55517384

LONG = [
    ("sheet", {"width": "50 mm", "thickness": "0.8 mm"}, 40.0),
    ("strip", {"width": "6 mm", "thickness": "1.5 mm"}, 9.0),
    ("round-wire", {"diameter": "1.3 mm"}, math.pi * 1.3**2 / 4),
    ("round-wire", {"diameter": "0.1 in"}, math.pi * 2.54**2 / 4),
    ("square-wire", {"thickness": "2 mm"}, 4.0),
    ("half-round-wire", {"width": "4 mm"}, math.pi * 2**2 / 2),
    ("half-round-wire", {"width": "4 mm", "thickness": "1 mm"}, math.pi * 2 * 1 / 2),
    ("rectangular-wire", {"width": "3 mm", "thickness": "1 mm"}, 3.0),
    ("tube", {"diameter": "5 mm", "wall": "0.5 mm"}, math.pi * (2.5**2 - 2**2)),
    ("tube", {"diameter": "5 mm", "inside_diameter": "4 mm"}, math.pi * (2.5**2 - 2**2)),
]
"""Form, dimensions, area of the section in mm2."""


@pytest.mark.parametrize(("form", "size", "area"), LONG)
def test_a_length_and_its_mass(ask: Ask, form: str, size: dict[str, str], area: float) -> None:
    asked = {"form": form, "metal": TEN, **size}
    by_length = ask(STOCK, {**asked, "length": "250 mm"}).result
    assert float(by_length.mass.value) == pytest.approx(area * 250 / 1000 * 10, rel=1e-12)
    assert float(by_length.mass_per_metre.value) == pytest.approx(area * 10, rel=1e-12)
    by_mass = ask(STOCK, {**asked, "mass": "5 dwt"}).result
    assert float(by_mass.length.value) == pytest.approx(5 * DWT / 10 * 1000 / area, rel=1e-12)
    cut = ask(STOCK, {**asked, "mass": "5 dwt", "piece_length": "12 mm"}).result
    assert cut.whole_pieces == int(5 * DWT / 10 * 1000 / area / 12)


PIECES = [
    ("disc", {"diameter": "20 mm", "thickness": "0.5 mm"}, math.pi * 100 * 0.5),
    ("granules", {"diameter": "3 mm"}, math.pi * 27 / 6),
    (
        "ring-blank",
        {"inside_diameter": "17 mm", "width": "5 mm", "thickness": "1.5 mm"},
        math.pi * ((17 / 2 + 1.5) ** 2 - (17 / 2) ** 2) * 5,
    ),
]
"""Form, dimensions, volume in mm3; a blank holds what the closed ring holds."""


@pytest.mark.parametrize(("form", "size", "volume"), PIECES)
def test_pieces_and_their_mass(ask: Ask, form: str, size: dict[str, str], volume: float) -> None:
    asked = {"form": form, "metal": TEN, **size}
    result = ask(STOCK, {**asked, "pieces": 7}).result
    assert float(result.mass.value) == pytest.approx(7 * volume / 100, rel=1e-12)
    assert float(result.piece_mass.value) == pytest.approx(volume / 100, rel=1e-12)
    back = ask(STOCK, {**asked, "mass": "31 g"}).result
    assert float(back.pieces.value) == pytest.approx(31 / (volume / 100), rel=1e-12)
    assert back.whole_pieces == int(31 / (volume / 100))


def test_how_long_a_wire_five_pennyweights_make(ask: Ask) -> None:
    """7.7758692 g of 10.356 g/cm3 over 1.327323 mm2, by hand: 565.69 mm."""
    asked = {"form": "round-wire", "metal": "sterling-silver", "diameter": "1.3 mm", "mass": "5 dwt"}
    result = ask(STOCK, asked).result
    assert result.answer == (Decimal("565.6924"), "mm")
    assert result.length.low < result.length.value < result.length.high


def test_a_foot_of_18_gauge_by_either_system(ask: Ask, reference: Reference) -> None:
    """The gauge tables give 0.0403 inch for AWG and 0.048 inch for SWG: the same number, 42 % more metal."""
    asked = {"form": "round-wire", "metal": TEN, "gauge": "18", "length": "12 in"}
    masses = {name: ask(STOCK, {**asked, "gauge_system": name}).result.mass.value for name in ("AWG", "B&S", "SWG")}
    assert masses["AWG"] == masses["B&S"]
    assert float(masses["SWG"]) == pytest.approx(math.pi / 4 * (0.048 * 2.54) ** 2 * 12 * 2.54 * 10, rel=1e-9)
    assert float(masses["AWG"]) == pytest.approx(math.pi / 4 * (0.040303 * 2.54) ** 2 * 12 * 2.54 * 10, rel=1e-4)


@pytest.mark.parametrize(("gauge", "same"), [("0000", "4/0"), ("0", "1/0")])
def test_a_gauge_by_either_name(ask: Ask, gauge: str, same: str) -> None:
    asked = {"form": "sheet", "metal": TEN, "width": "10 mm", "gauge_system": "AWG", "length": "1 m"}
    assert ask(STOCK, {**asked, "gauge": gauge}).result == ask(STOCK, {**asked, "gauge": same}).result


@pytest.mark.parametrize(
    ("size", "name", "share"),
    [
        ({"width": "4 mm"}, "half-circle", "0.5"),
        ({"width": "4 mm", "thickness": "1 mm"}, "half-ellipse", "0.890"),
        ({"width": "4 mm", "thickness": "2 mm"}, "half-ellipse", "1"),
        ({"width": "4 mm", "thickness": "3 mm"}, "half-ellipse", "1"),
    ],
)
def test_the_curve_of_half_round_wire_is_said(ask: Ask, size: dict[str, str], name: str, share: str) -> None:
    """An arc 1 mm high over 4 mm: radius 2.5, 6.25 x 0.9273 - 1.5 x 2 = 2.796 mm2; the half ellipse has 3.142."""
    outcome = ask(STOCK, {"form": "half-round-wire", "metal": TEN, **size, "length": "1 m"})
    shares = {assumption.id: assumption.basis.value for assumption in outcome.assumptions}
    assert shares[name] == Decimal(share)
