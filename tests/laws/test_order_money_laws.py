"""Laws of the money: totals follow from the prices given, and shares of a net cost add up to it."""

from __future__ import annotations

import csv
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from alloyref.catalogue.files import data_folder
from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.order.results import OrderResult
from alloyref.domain.span import AtLeast

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Orders = st.SearchStrategy[dict[str, Any]]
LAW = settings(max_examples=100, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
GRAMS = {"g": Fraction(1), "ozt": Fraction("31.1034768"), "kg": Fraction(1000)}
HALF_CENT = Fraction(1, 200)
SYMBOLS = ["Au", "Ag", "Cu", "Zn", "Pt", "Pd", "Co", "Ru"]


with (data_folder() / "alloys.csv").open(encoding="utf-8", newline="") as table:
    PRINTED = {row["id"]: row["composition"].split() for row in csv.DictReader(table)}


def shares_of(metal: Any) -> dict[str, Any]:
    """Permille by element of a metal as an order names it."""
    if isinstance(metal, str):
        words = PRINTED.get(metal, [metal, "1000"])
        return dict(zip(words[::2], words[1::2], strict=True))
    shares: dict[str, Any] = metal["composition"]
    return shares


def all_priced(asked: dict[str, Any]) -> dict[str, Fraction]:
    """Price every element an order can hold; those not drawn cost a cent a gram. Gives euro per gram."""
    known = {one["metal"] for one in asked["prices"]}
    asked["prices"] += [
        {"metal": symbol, "price": "0.01", "per": "g", "currency": "EUR"} for symbol in SYMBOLS if symbol not in known
    ]
    return {one["metal"]: Fraction(one["price"]) / GRAMS[one["per"]] for one in asked["prices"]}


@LAW
@given(st.data())
def test_total_returns_and_net_follow_from_the_prices(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    asked = data.draw(orders)
    euro = all_priced(asked)
    result: OrderResult = ask(ORDER, asked).result
    charge = Fraction(result.charge.value)
    gram = sum(euro[symbol] * Fraction(mass) / charge for symbol, mass in result.elements.items())
    total = left_over = Fraction(0)
    for item in result.to_buy.items:
        each = sum(euro[symbol] * Fraction(share) / 1000 for symbol, share in item.composition.items())
        total += each * Fraction(item.mass)
        left_over += each * Fraction(item.left_over)
    returns = gram * Fraction(result.returns.mass)
    # Metal on hand is not free: it is worth what its elements are.
    own = sum(
        euro[symbol] * Fraction(share) / 1000 * Fraction(use.used)
        for lot, use in zip(asked["on_hand"], result.to_buy.on_hand, strict=True)
        for symbol, share in shares_of(lot["metal"]).items()
    )
    cost = result.cost
    assert cost is not None
    assert cost.unpriced == ()
    # An item's composition is shown to three decimals of a permille: a part in a million of its worth.
    doubt = HALF_CENT + (total + own + returns) / 500_000 + sum(euro.values()) * (total + own) / 10**9
    for amount, expected in (
        (cost.total, total),
        (cost.returns_worth, returns),
        (cost.on_hand_worth, own),
        (cost.left_over_worth, left_over),
        (cost.net, total + own - returns - left_over),
    ):
        assert amount is not None
        assert amount[1] == "EUR"
        assert abs(Fraction(amount[0]) - expected) <= doubt


@LAW
@given(st.data())
def test_the_lines_share_the_net_cost_to_the_cent(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    asked = data.draw(orders)
    all_priced(asked)
    asked["allowances"]["sprue_share"] = "0.5"
    asked["allowances"].pop("sprue_mass", None)
    result: OrderResult = ask(ORDER, asked).result
    assert result.cost is not None
    assert result.cost.net is not None
    shares = [line.cost for line in result.lines]
    assert sum(Fraction(share[0]) for share in shares if share) == Fraction(result.cost.net[0])
    assert None not in shares


@LAW
@given(st.data())
def test_an_order_without_prices_has_no_money(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    asked = data.draw(orders)
    asked["prices"] = []
    result: OrderResult = ask(ORDER, asked).result
    assert result.cost is None
    assert all(one.cost is None for one in (*result.to_buy.items, *result.lines))
    assert all(lot.worth is None for lot in result.returns.items)


@LAW
@given(st.data())
def test_an_unpriced_element_is_named(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    """Each element without a price is named, and no element with one is."""
    asked = data.draw(orders)
    priced = {one["metal"] for one in asked["prices"]}
    result: OrderResult = ask(ORDER, asked).result
    if not priced:
        assert result.cost is None
        return
    assert result.cost is not None
    assert set(result.cost.unpriced) == set(result.elements) - priced


@LAW
@given(st.data())
def test_an_amount_that_leaves_something_out_is_at_least_what_it_says(
    ask: Ask, orders: Orders, data: st.DataObject
) -> None:
    """With the missing prices given, no such amount is less, and none is left marked."""
    asked = data.draw(orders)
    partly: OrderResult = ask(ORDER, asked).result
    if partly.cost is None:
        return
    asked["prices"] = [*asked["prices"]]
    all_priced(asked)
    whole: OrderResult = ask(ORDER, asked).result
    assert whole.cost is not None
    for name in ("total", "on_hand_worth", "left_over_worth", "returns_worth", "net", "per_piece"):
        before, after = getattr(partly.cost, name), getattr(whole.cost, name)
        assert after is not None
        assert not isinstance(after, AtLeast)
        if isinstance(before, AtLeast):
            assert before[0] <= after[0]
            assert partly.cost.unpriced
        elif before is not None:
            assert before == after
    pairs = zip((*partly.to_buy.items, *partly.lines), (*whole.to_buy.items, *whole.lines), strict=True)
    for one, other in pairs:
        assert other.cost is not None
        assert not isinstance(other.cost, AtLeast)
        if isinstance(one.cost, AtLeast):
            # The lines share the cents of a whole: one may bear a cent that another bears with more of them.
            assert one.cost[0] <= other.cost[0] + Decimal("0.01")
        elif one.cost is not None:
            assert one.cost == other.cost
