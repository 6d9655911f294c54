"""Laws of stock: there and back, growth, scale, ranges."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.stock import STOCK
from alloyref.domain.stock.forms import FORMS

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
LAW = settings(max_examples=25, derandomize=True, deadline=None)
CLOSE = Decimal("1e-20")
METALS = ["sterling-silver", "gold-750-yellow", "Pt", "fine-gold"]
sizes = st.integers(10, 5000).map(lambda hundredths: Decimal(hundredths) / 100)


@st.composite
def stock(draw: st.DrawFn) -> dict[str, Any]:
    """A form with fitting dimensions, and a metal."""
    name = draw(st.sampled_from(sorted(FORMS)))
    form = FORMS[name]
    size = {dimension: draw(sizes) for dimension in form.needs}
    if name == "tube":
        size["wall"] = size["diameter"] * draw(st.integers(1, 49)) / 100
    return {
        "form": name,
        "metal": draw(st.sampled_from(METALS)),
        **{dimension: f"{value} mm" for dimension, value in size.items()},
    }


def amounts(asked: dict[str, Any]) -> tuple[str, str]:
    """What else than by mass this stock is told by, and an amount of it."""
    return ("length", "{} mm") if FORMS[asked["form"]].section else ("pieces", "{}")


@LAW
@given(asked=stock(), grams=st.integers(1, 10**6))
def test_there_and_back(ask: Ask, asked: dict[str, Any], grams: int) -> None:
    """A mass gives a length, which gives the mass; a number of pieces gives a mass, which gives the number."""
    mass = Decimal(grams) / 100
    if FORMS[asked["form"]].section:
        there = ask(STOCK, {**asked, "length": f"{grams / 1000:.3f} mm"}).result.mass.value
        back = ask(STOCK, {**asked, "mass": f"{there:.20f} g"}).result.length.value
        assert abs(back * 1000 / grams - 1) < Decimal("1e-9")
    else:
        count = grams % 1000 + 1
        there = ask(STOCK, {**asked, "pieces": count}).result.mass.value
        assert abs(there / count / ask(STOCK, {**asked, "mass": f"{mass} g"}).result.piece_mass.value - 1) < CLOSE
        back = ask(STOCK, {**asked, "mass": f"{mass} g"}).result
        assert abs(back.pieces.value * back.piece_mass.value / mass - 1) < CLOSE
        assert -CLOSE < back.pieces.value - back.whole_pieces < 1
        assert ask(STOCK, {**asked, "pieces": count}).result.whole_pieces == count


@LAW
@given(asked=stock(), amount=st.integers(1, 10**4), times=st.integers(2, 9))
def test_twice_the_stock_weighs_twice(ask: Ask, asked: dict[str, Any], amount: int, times: int) -> None:
    name, form = amounts(asked)
    one = ask(STOCK, {**asked, name: form.format(amount)}).result.mass
    many = ask(STOCK, {**asked, name: form.format(amount * times)}).result.mass
    for part in ("low", "value", "high"):
        assert abs(getattr(many, part) / getattr(one, part) / times - 1) < CLOSE


@LAW
@given(asked=stock(), factor=st.integers(2, 5))
def test_scaled_in_every_dimension_it_weighs_the_cube(ask: Ask, asked: dict[str, Any], factor: int) -> None:
    name, form = amounts(asked)
    larger = {
        key: f"{Decimal(value.split()[0]) * factor} mm" if str(value).endswith(" mm") else value
        for key, value in asked.items()
    }
    small = ask(STOCK, {**asked, name: form.format(12)}).result.mass.value
    large = ask(STOCK, {**larger, name: form.format(12 * factor if name == "length" else 12)}).result.mass.value
    assert abs(large / small / factor**3 - 1) < CLOSE


@LAW
@given(asked=stock(), grown=st.data())
def test_every_dimension_but_a_bore_adds_metal(ask: Ask, asked: dict[str, Any], grown: st.DataObject) -> None:
    name, form = amounts(asked)
    dimension = grown.draw(st.sampled_from([key for key, value in asked.items() if str(value).endswith(" mm")]))
    if dimension == "diameter" and "wall" in asked:
        more = Decimal(asked[dimension].split()[0]) * 2
    else:
        more = Decimal(asked[dimension].split()[0]) * Decimal("1.01")
    small = ask(STOCK, {**asked, name: form.format(10)}).result.mass.value
    large = ask(STOCK, {**asked, dimension: f"{more} mm", name: form.format(10)}).result.mass.value
    assert large > small


@LAW
@given(asked=stock(), amount=st.integers(1, 10**4))
def test_what_is_given_is_sure_and_the_rest_lies_in_its_range(ask: Ask, asked: dict[str, Any], amount: int) -> None:
    name, form = amounts(asked)
    counted = ask(STOCK, {**asked, name: form.format(amount)}).result
    weighed = ask(STOCK, {**asked, "mass": f"{amount} g"}).result
    told = getattr(counted, name)
    assert abs(told.low / amount - 1) < CLOSE
    assert told.low == told.value == told.high
    assert weighed.mass.low == weighed.mass.value == weighed.mass.high == amount
    for unsure in (counted.mass, getattr(weighed, name), weighed.volume):
        assert unsure.low <= unsure.value <= unsure.high
        assert unsure.low < unsure.high


@pytest.mark.parametrize("metal", METALS)
def test_the_range_is_that_of_the_density(ask: Ask, reference: Any, metal: str) -> None:
    density = reference.metal(metal).density
    mass = ask(STOCK, {"form": "square-wire", "metal": metal, "thickness": "1 mm", "length": "1 m"}).result.mass
    for part in ("low", "value", "high"):
        assert abs(getattr(mass, part) - getattr(density, part)) < CLOSE
