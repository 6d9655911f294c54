"""Laws of rings: sizes there and back, a resize is the difference of two bands, growth."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.numbers import PI
from alloyref.domain.ring import RING
from alloyref.domain.ring.inputs import PROFILES
from alloyref.domain.ring_sizes import GIVEN_SYSTEMS, SYSTEMS, inside_of, size_text

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
LAW = settings(max_examples=25, derandomize=True, deadline=None)
Plain = dict[str, str]
CLOSE = Decimal("1e-20")
ENDS = {"US": (0, 16), "UK": (0, 31), "ISO": (41, 76), "Japan": (1, 30), "continental": (1, 36)}


@st.composite
def sizes(draw: st.DrawFn) -> Plain:
    """A size of a system, in quarters."""
    system = draw(st.sampled_from(sorted(ENDS)))
    first, last = ENDS[system]
    number = Fraction(draw(st.integers(first * 4, last * 4)), 4)
    return {"system": system, "size": size_text(SYSTEMS[system], number)}


@st.composite
def bands(draw: st.DrawFn) -> Plain:
    """A band that any profile allows."""
    width = Decimal(draw(st.integers(10, 200))) / 10
    thickness = width * draw(st.integers(5, 50)) / 100
    return {
        "profile": draw(st.sampled_from(sorted(PROFILES))),
        "width": f"{width} mm",
        "thickness": f"{max(thickness, Decimal('0.1'))} mm",
        "metal": draw(st.sampled_from(["gold-585-yellow", "sterling-silver", "platinum-950-ru"])),
    }


def mass(ask: Ask, size: Plain, band: Plain) -> Any:
    return ask(RING, {"action": "band-mass", **size, **band}).result.band.mass


@LAW
@given(size=sizes(), to=st.sampled_from(sorted(SYSTEMS)))
def test_a_size_there_and_back(size: Plain, to: str) -> None:
    """Exactly, through the measure that both share, else to the digits of pi."""
    inside = inside_of(size["system"], size["size"])
    there = SYSTEMS[to].extent(inside.number_in(SYSTEMS[to]))
    measured = "diameter-mm" if SYSTEMS[to].measure == "diameter" else "circumference-mm"
    back = inside_of(measured, f"{float(there):.6f} mm")
    assert abs(back.diameter / inside.diameter - 1) < Decimal("1e-7")
    assert abs(back.number_in(inside.system) - inside.number) < Fraction(1, 10**5)


@LAW
@given(size=sizes())
def test_the_same_system_gives_the_very_size(ask: Ask, size: Plain) -> None:
    result = ask(RING, {"action": "convert", **size, "to_system": size["system"]}).result
    own = next(one for one in result.sizes if one.system == size["system"])
    assert result.answer[0] == own.number
    assert abs(result.inside_circumference / result.inside_diameter - PI) < CLOSE
    for one in result.sizes:
        if one.size is not None:
            near = inside_of(one.system, one.size)
            assert abs(near.circumference + one.off - result.inside_circumference) < CLOSE


@LAW
@given(one=sizes(), other=sizes(), band=bands())
def test_a_resize_is_the_difference_of_two_bands(ask: Ask, one: Plain, other: Plain, band: Plain) -> None:
    first, last = (inside_of(size["system"], size["size"]).diameter for size in (one, other))
    if first == last:
        return
    wanted = {"to_size": other["size"], "to_system": other["system"]}
    resize = ask(RING, {"action": "resize", **one, **wanted, **band}).result.resize
    assert resize.method == ("insert" if last > first else "cut")
    assert (resize.us_sizes > 0) == (last > first)
    apart = abs(mass(ask, other, band).value - mass(ask, one, band).value)
    assert abs(resize.metal.value - apart) < Decimal("1e-20")
    assert abs(resize.length - PI * abs(last - first)) < CLOSE
    assert resize.metal.low < resize.metal.value < resize.metal.high


@LAW
@given(one=sizes(), other=sizes(), band=bands())
def test_a_larger_ring_weighs_more(ask: Ask, one: Plain, other: Plain, band: Plain) -> None:
    larger = inside_of(one["system"], one["size"]).diameter > inside_of(other["system"], other["size"]).diameter
    assert (mass(ask, one, band).value > mass(ask, other, band).value) == larger


@LAW
@given(size=sizes(), band=bands(), factor=st.integers(2, 5))
def test_twice_as_wide_weighs_twice(ask: Ask, size: Plain, band: Plain, factor: int) -> None:
    """For all but the D, whose arc changes its shape."""
    wide = {**band, "width": f"{Decimal(band['width'].split()[0]) * factor} mm"}
    if band["profile"] == "D" or Decimal(wide["width"].split()[0]) > 50:
        return
    assert abs(mass(ask, size, wide).value / mass(ask, size, band).value / factor - 1) < CLOSE


@LAW
@given(size=sizes(), thickness=st.integers(1, 400), allowance=st.integers(0, 2000))
def test_a_blank_closes_to_its_ring(ask: Ask, size: Plain, thickness: int, allowance: int) -> None:
    asked = {"action": "blank", **size, "thickness": f"{thickness / 100 + 0.1:.2f} mm"}
    blank = ask(RING, asked).result.blank
    assert (
        abs(
            blank.length / PI
            - inside_of(system_name=size["system"], size=size["size"]).diameter
            - Decimal(f"{thickness / 100 + 0.1:.2f}")
        )
        < CLOSE
    )
    more = ask(RING, {**asked, "allowance": f"{allowance / 100:.2f} mm"}).result.blank
    assert abs(more.length - blank.length - more.allowance) < CLOSE
    assert more.allowance == Decimal(f"{allowance / 100:.2f}")


@LAW
@given(size=sizes(), width=st.integers(5, 200), thickness=st.integers(1, 40))
def test_a_strip_weighs_what_its_flat_band_weighs(ask: Ask, size: Plain, width: int, thickness: int) -> None:
    band = {"width": f"{width / 10} mm", "thickness": f"{thickness / 10} mm", "metal": "fine-gold"}
    strip = ask(RING, {"action": "blank", **size, **band}).result.blank.mass.value
    assert abs(strip / mass(ask, size, {**band, "profile": "flat"}).value - 1) < CLOSE


@LAW
@given(size=sizes(), quarters=st.integers(1, 8), thickness=st.integers(1, 40))
def test_stretching_keeps_the_volume(ask: Ask, size: Plain, quarters: int, thickness: int) -> None:
    diameter = inside_of(size["system"], size["size"]).diameter
    wanted = round(diameter + Decimal("0.2032") * quarters, 6)
    asked = {"action": "resize", "method": "stretch", **size, "to_size": f"{wanted} mm", "to_system": "diameter-mm"}
    resize = ask(RING, {**asked, "thickness": f"{thickness / 10} mm"}).result.resize
    before, after = (inside + Decimal(thickness) / 10 for inside in (diameter, wanted))
    assert abs(before / after / resize.section_left - 1) < CLOSE
    assert abs((1 + resize.strain) * resize.section_left - 1) < CLOSE
    assert resize.metal is None


@pytest.mark.parametrize("system", sorted(GIVEN_SYSTEMS))
def test_every_system_can_be_asked(ask: Ask, system: str) -> None:
    size = {"UK": "N 1/2", "US": "7", "ISO": "54", "Japan": "13", "continental": "14"}.get(system, "17.3")
    size = "54.3" if system == "circumference-mm" else size
    result = ask(RING, {"action": "convert", "size": size, "system": system}).result
    assert 16 < result.inside_diameter < 18
    assert {one.system for one in result.sizes} == set(SYSTEMS)
