"""Laws of growth: more of anything asked for never means less metal, and every value lies in its range."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from copy import deepcopy
from decimal import Decimal
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.order.results import OrderResult

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Orders = st.SearchStrategy[dict[str, Any]]
LAW = settings(max_examples=100, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
WAYS = ("trial", "volume", "pattern")


def ranged(thing: object, path: str = "") -> Iterator[tuple[str, Any]]:
    """Everything in an answer that has a value, a low and a high end, with the way to it."""
    if all(hasattr(thing, end) for end in ("value", "low", "high")):
        yield path, thing
    elif dataclasses.is_dataclass(thing):
        for field in dataclasses.fields(thing):
            yield from ranged(getattr(thing, field.name), f"{path}/{field.name}")
    elif isinstance(thing, Mapping):
        for name, inner in thing.items():
            yield from ranged(inner, f"{path}/{name}")
    elif isinstance(thing, tuple):
        for place, inner in enumerate(thing):
            yield from ranged(inner, f"{path}/{place}")


@LAW
@given(st.data())
def test_every_value_lies_in_its_range(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    outcome = ask(ORDER, data.draw(orders))
    found = list(ranged(outcome.result))
    assert {"/piece_mass", "/finished_mass", "/charge", "/to_buy/mass"} <= {path for path, _ in found}
    for path, one in (*found, *ranged(outcome.assumptions)):
        assert one.low <= one.value <= one.high, path
        assert one.low >= 0 or path.endswith("/basis"), path


def answers(ask: Ask, *asked: dict[str, Any]) -> list[OrderResult]:
    return [ask(ORDER, one).result for one in asked]


def never_less(small: OrderResult, large: OrderResult) -> None:
    """The larger order needs at least as much metal, and as much to buy where nothing on hand interferes."""
    assert large.charge.value >= small.charge.value
    assert large.charge.low >= small.charge.low
    assert large.charge.high >= small.charge.high
    if large.to_buy.form == "alloyed":
        assert large.to_buy.mass.value >= small.to_buy.mass.value


@LAW
@given(st.data(), st.integers(1, 50_000))
def test_more_mass_or_volume(ask: Ask, orders: Orders, data: st.DataObject, tenths: int) -> None:
    small = data.draw(orders)
    large = deepcopy(small)
    way = next(name for name in WAYS if name in small)
    if way == "volume":
        number, unit = small["volume"].split()
        large["volume"] = f"{Decimal(number) + Decimal(tenths) / 100} {unit}"
    else:
        # A finished mass weighed beside it stays the same, so that more was filed off.
        grams = Decimal(small[way]["mass"].removesuffix(" g"))
        large[way]["mass"] = f"{grams + Decimal(tenths) / 10_000} g"
    lesser, greater = answers(ask, small, large)
    assert greater.piece_mass.value >= lesser.piece_mass.value
    never_less(lesser, greater)


@LAW
@given(st.data(), st.integers(200, 2300), st.integers(1, 200))
def test_a_denser_final_metal(ask: Ask, orders: Orders, data: st.DataObject, hundredths: int, more: int) -> None:
    light = data.draw(orders)
    # Trials of the very same metal take no doubt about contraction: keep the trial apart from the final.
    composition = {"Au": 800, "Pd": 200}
    light["final_metal"] = {"composition": composition, "density": f"{hundredths / 100:.2f} g/cm3"}
    heavy = deepcopy(light)
    heavy["final_metal"]["density"] = f"{(hundredths + more) / 100:.2f} g/cm3"
    lesser, greater = answers(ask, light, heavy)
    assert greater.piece_mass.value > lesser.piece_mass.value
    never_less(lesser, greater)


@LAW
@given(st.data(), st.integers(0, 2000), st.integers(1, 500))
def test_a_larger_share_of_sprue(ask: Ask, orders: Orders, data: st.DataObject, thousandths: int, more: int) -> None:
    """Where no trial was weighed with its sprue: there a larger share means a smaller piece instead."""
    small = data.draw(orders)
    for one in (small, *small["others"]):
        if one.get("trial", {}).get("stage") == "with-sprue":
            one["trial"] = {**one["trial"], "stage": "as-cast"}
            one["trial"].pop("sprue_mass", None)
    small["allowances"].pop("sprue_mass", None)
    large = deepcopy(small)
    small["allowances"]["sprue_share"] = f"{thousandths / 1000:.3f}"
    large["allowances"]["sprue_share"] = f"{(thousandths + more) / 1000:.3f}"
    lesser, greater = answers(ask, small, large)
    assert greater.piece_mass == lesser.piece_mass
    never_less(lesser, greater)


@LAW
@given(st.data(), st.sampled_from(["melt_loss", "safety"]), st.integers(0, 300))
def test_a_larger_allowance(ask: Ask, orders: Orders, data: st.DataObject, name: str, thousandths: int) -> None:
    small = data.draw(orders)
    large = deepcopy(small)
    more = data.draw(st.integers(1, 100))
    small["allowances"][name] = f"{thousandths / 1000:.3f}"
    large["allowances"][name] = f"{(thousandths + more) / 1000:.3f}"
    lesser, greater = answers(ask, small, large)
    assert greater.piece_mass == lesser.piece_mass
    never_less(lesser, greater)


@LAW
@given(st.data())
def test_one_more_piece_and_one_more_spare(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    small = data.draw(orders)
    small["spares"] = data.draw(st.integers(0, 5))
    large, spared = deepcopy(small), deepcopy(small)
    large["pieces"] += 1
    spared["spares"] += 1
    lesser, greater, insured = answers(ask, small, large, spared)
    never_less(lesser, greater)
    assert insured.charge == greater.charge
    # What is delivered is a share of all castings, each brought to a tenth of a milligram.
    delivered = insured.balance.total.pieces - lesser.balance.total.pieces
    assert abs(delivered) <= Decimal("0.0002") * len(lesser.lines)


@LAW
@given(st.data())
def test_metal_on_hand_never_means_more_to_buy(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    """Bought alloyed also in whole steps; fine metal and master alloy are each rounded up by themselves."""
    asked = data.draw(orders)
    assume(asked["on_hand"])
    without = {**asked, "on_hand": []}
    some, none = answers(ask, asked, without)
    assert some.charge == none.charge
    needed = [sum(item.needed for item in one.to_buy.items) for one in (some, none)]
    assert needed[0] <= needed[1]
    if some.to_buy.form == "alloyed":
        assert some.to_buy.mass.value <= none.to_buy.mass.value
