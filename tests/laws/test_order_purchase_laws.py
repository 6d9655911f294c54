"""Laws of the purchase: enough is bought, by less than a step too much; lots on hand keep their limits."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.order.results import OrderResult
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension, Units

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Orders = st.SearchStrategy[dict[str, Any]]
LAW = settings(max_examples=120, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
STEP_OF_THE_BOOKS = Fraction(1, 10_000)
USUAL_SCRAP_SHARE = Fraction(1, 2)
Shares = tuple[tuple[str, Decimal], ...]


@pytest.fixture(scope="module")
def compositions(reference: Reference) -> dict[str, Shares]:
    """Permille shares of the metals that lots are drawn from by name."""
    return {name: reference.metal(name).composition.parts for name in (*reference.alloys, *reference.elements)}


def exact(numbers: list[Decimal]) -> Fraction:
    """The sum, without any rounding of decimals."""
    return sum((Fraction(number) for number in numbers), Fraction(0))


def booked(result: OrderResult) -> Fraction:
    """What the books may add to a need: less than a tenth of a milligram for the charge and for each lot."""
    return STEP_OF_THE_BOOKS * (1 + len(result.to_buy.on_hand))


@LAW
@given(st.data())
def test_each_item_is_rounded_up_by_less_than_a_step(
    ask: Ask, units: Units, orders: Orders, data: st.DataObject
) -> None:
    asked = data.draw(orders)
    result: OrderResult = ask(ORDER, asked).result
    number, unit = asked["purchase"]["increment"].split()
    step = units.convert(Fraction(number), unit, "g", Dimension.MASS)
    for item in result.to_buy.items:
        ordered, needed = Fraction(item.mass), Fraction(item.needed)
        assert (ordered / step).denominator == 1
        assert -booked(result) < ordered - needed < step
        assert Fraction(item.left_over) == max(ordered - needed, 0)
        assert needed > 0


@LAW
@given(st.data())
def test_what_is_bought_and_what_is_used_make_the_charge(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    result: OrderResult = ask(ORDER, data.draw(orders)).result
    charge = Fraction(result.charge.value)
    used = exact([lot.used for lot in result.to_buy.on_hand])
    offered = exact([lot.offered for lot in result.to_buy.on_hand])
    assert used + exact([item.needed for item in result.to_buy.items]) == charge
    bought = exact([item.mass for item in result.to_buy.items])
    assert Fraction(result.to_buy.mass.value) == bought
    # What booking added to the charge, and took off each lot, is not bought a step for.
    assert bought > charge - used - booked(result)
    assert used < offered + booked(result)


@LAW
@given(st.data())
def test_lots_on_hand_keep_their_limits(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    asked = data.draw(orders)
    result: OrderResult = ask(ORDER, asked).result
    share = Fraction(asked["purchase"].get("max_scrap_share", USUAL_SCRAP_SHARE))
    scrap = exact([lot.used for lot in result.to_buy.on_hand if lot.kind == "scrap"])
    assert scrap <= share * Fraction(result.charge.value)
    for lot in result.to_buy.on_hand:
        assert 0 <= lot.used < Fraction(lot.offered) + booked(result)
        assert Fraction(lot.left) == max(Fraction(lot.offered) - Fraction(lot.used), 0)
        assert lot.reason or Fraction(lot.left) < STEP_OF_THE_BOOKS


@LAW
@given(st.data(), st.lists(st.integers(1, 99), min_size=2, max_size=4))
def test_several_lots_of_scrap_share_one_limit(
    ask: Ask, orders: Orders, data: st.DataObject, percents: list[int]
) -> None:
    """Lots of the very metal ordered, each a part of the charge: used in turn, until the limit stops them."""
    asked = data.draw(orders)
    asked["on_hand"] = []
    charge = Fraction(ask(ORDER, asked).result.charge.value)
    offered = [round(float(charge) * percent / 100, 3) + 0.001 for percent in percents]
    asked["on_hand"] = [{"metal": asked["final_metal"], "mass": f"{mass:.3f} g"} for mass in offered]
    share = Fraction(asked["purchase"].get("max_scrap_share", USUAL_SCRAP_SHARE))
    used = exact([lot.used for lot in ask(ORDER, asked).result.to_buy.on_hand])
    most = min(share * charge, exact([Decimal(f"{mass:.3f}") for mass in offered]))
    assert most - len(offered) * STEP_OF_THE_BOOKS < used <= most


@LAW
@given(st.data())
def test_a_bought_item_holds_what_it_says(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    """Permille of an item sum to 1000 as far as their three decimals go; fine metal is one element."""
    result: OrderResult = ask(ORDER, data.draw(orders)).result
    for item in result.to_buy.items:
        assert all(0 <= share <= 1000 for share in item.composition.values())
        shares = exact(list(item.composition.values()))
        assert abs(shares - 1000) <= Fraction(len(item.composition), 2000)
        if item.what.startswith("fine "):
            assert item.composition == {item.metal: 1000}
    if result.to_buy.form == "alloyed":
        assert len(result.to_buy.items) <= 1
        for item in result.to_buy.items:
            assert set(item.composition) == set(result.elements)
            for symbol, mass in result.elements.items():
                share = Fraction(mass) / Fraction(result.charge.value) * 1000
                assert abs(Fraction(item.composition[symbol]) - share) <= Fraction(1, 1000)


@LAW
@given(st.data())
def test_elements_bought_and_elements_used_make_those_of_the_charge(
    ask: Ask, compositions: dict[str, Shares], orders: Orders, data: st.DataObject
) -> None:
    """Counted from the plain order: composition of each lot as sent, times what is used of it."""
    asked = data.draw(orders)
    asked["on_hand"] = [lot for lot in asked["on_hand"] if isinstance(lot["metal"], str)]
    result: OrderResult = ask(ORDER, asked).result
    found: dict[str, Fraction] = {}
    for lot, use in zip(asked["on_hand"], result.to_buy.on_hand, strict=True):
        for symbol, share in compositions[lot["metal"]]:
            found[symbol] = found.get(symbol, Fraction(0)) + Fraction(use.used) * Fraction(share) / 1000
    for item in result.to_buy.items:
        for symbol, share in item.composition.items():
            found[symbol] = found.get(symbol, Fraction(0)) + Fraction(item.needed) * Fraction(share) / 1000
    for symbol in {*found, *result.elements}:
        # Shares of an item are shown to three decimals of a permille.
        doubt = Fraction(result.charge.value) / 1_000_000
        charged = Fraction(result.elements.get(symbol, Decimal(0)))
        assert abs(found.get(symbol, Fraction(0)) - charged) <= doubt, symbol
