"""Stored quotes as prices: only when they are asked for, kept with the record, and refused where one is missing."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
import requests

Problem = Callable[[requests.Response, int], dict[str, Any]]
ORDER = {"trial": {"metal": "sterling-silver", "mass": "6.31 g"}, "final_metal": "gold-585-yellow", "pieces": 2}
EARLY = [("Au", "100.00", "2031-01-01"), ("Ag", "1.20", "2031-01-01")]
LATE = [("fine-gold", "110.00", "2031-02-01"), ("Ag", "1.30", "2031-02-01")]
WANTED = {"from": "shop", "on": "2031-01-15", "currency": "XTS"}
SHELF = [{"metal": "Au"}, {"metal": "gold-375-yellow"}]


def quote(shop: Any, metal: str, price: str, date: str, currency: str = "XTS") -> dict[str, str]:
    """Store a quote in the currency that ISO 4217 keeps for tests, which no other test here uses."""
    document = {"metal": metal, "price": price, "currency": currency, "date": date}
    assert shop.ask("POST", "/v1/shop/prices", json={**document, "note": "by post"}).status_code == 201
    return {**document, "per": "g"}


@pytest.fixture(scope="module")
def quotes(shop: Any) -> list[dict[str, str]]:
    """Quotes of two days; those of the earlier one, as they are sent."""
    early = [quote(shop, *one) for one in EARLY]
    for one in LATE:
        quote(shop, *one)
    return early


def asked(shop: Any, name: str, body: dict[str, Any], key: str | None = "read") -> Any:
    answer = shop.ask("POST", f"/v1/{name}", key, json=body)
    assert answer.status_code == 200, answer.text
    return answer.json()


def by_metal(prices: list[dict[str, Any]]) -> list[dict[str, Any]]:
    exact = [{**one, "price": Decimal(one["price"])} for one in prices]
    return sorted(exact, key=lambda one: str(one["metal"]))


def test_an_order_takes_those_of_the_day_as_if_they_were_sent(shop: Any, quotes: list[dict[str, str]]) -> None:
    stored = asked(shop, "order", {**ORDER, "prices": WANTED})
    sent = asked(shop, "order", {**ORDER, "prices": quotes}, None)
    for part in ("total", "net", "returns_worth", "unpriced"):
        assert stored["result"]["cost"][part] == sent["result"]["cost"][part]
    assert sorted(stored["result"]["cost"]["quotes"]) == sorted(sent["result"]["cost"]["quotes"])
    assert asked(shop, "order", ORDER)["result"]["cost"] is None
    later = asked(shop, "order", {**ORDER, "prices": {**WANTED, "on": "2031-02-15"}})
    assert any("110" in one for one in later["result"]["cost"]["quotes"])


def test_a_record_keeps_the_figures(shop: Any, quotes: list[dict[str, str]]) -> None:
    answer = asked(shop, "order?record=true", {**ORDER, "prices": WANTED}, "both")
    record = shop.ask("GET", f"/v1/shop/records/{answer['record']}").json()
    assert by_metal(record["request"]["prices"]) == by_metal(quotes)
    quote(shop, "Au", "999.00", "2031-01-10")
    again = shop.ask("POST", f"/v1/shop/records/{answer['record']}/recompute").json()
    assert (again["same"], again["differences"]) == (True, [])


def test_a_recovery_and_a_charge_take_them_too(shop: Any, quotes: list[dict[str, str]]) -> None:
    lot = {"kind": "clean-scrap", "mass": "12 g", "metal": "gold-585-yellow"}
    terms = [{"name": "A", "pays": [{"metal": "Au", "paid": 0.98}]}]
    wanted = {**WANTED, "on": "2031-01-05"}
    recovery = {"lots": [lot], "terms": terms}
    stored, sent = (asked(shop, "recovery", {**recovery, "prices": prices}) for prices in (wanted, quotes))
    assert stored["result"]["settlements"] == sent["result"]["settlements"]
    charge = {"target": {"mass": "10 g", "alloy": "gold-585-yellow", "tolerance": 100}, "shelf": SHELF}
    stored, sent = (asked(shop, "charge", {**charge, "prices": prices}) for prices in (wanted, quotes))
    assert stored["result"] == sent["result"]
    assert stored["result"]["cost"]["currency"] == "XTS"


def test_what_is_missing_is_said(shop: Any, quotes: list[dict[str, str]], problem_of: Problem) -> None:
    palladium = {**ORDER, "final_metal": "gold-750-white-pd10"}
    (issue,) = problem_of(shop.ask("POST", "/v1/order", json={**palladium, "prices": WANTED}), 422)["errors"]
    assert (issue["pointer"], issue["code"], issue["suggestions"]) == ("/prices", "price-missing", ["Pd"])
    before = {**WANTED, "on": "2030-12-31"}
    (issue,) = problem_of(shop.ask("POST", "/v1/order", json={**ORDER, "prices": before}), 422)["errors"]
    assert issue["suggestions"] == ["Au", "Ag"]
    quote(shop, "Au", "98.00", "2031-01-01", "XXX")
    several = {"on": "2031-01-15"}
    (issue,) = problem_of(shop.ask("POST", "/v1/order", json={**ORDER, "prices": several}), 422)["errors"]
    assert (issue["pointer"], issue["code"]) == ("/prices/currency", "mixed-currencies")
    assert {"XTS", "XXX"} <= set(issue["suggestions"])


@pytest.mark.parametrize(
    ("prices", "pointer"),
    [
        ("stord", "/prices"),
        ({"from": "shp"}, "/prices/from"),
        ({"on": "yesterday"}, "/prices/on"),
        ({"at": "2031-01-01"}, "/prices/at"),
    ],
)
def test_a_wish_that_is_not_understood_is_refused_in_its_place(
    shop: Any, problem_of: Problem, prices: Any, pointer: str
) -> None:
    errors = problem_of(shop.ask("POST", "/v1/order", json={**ORDER, "prices": prices}), 422)["errors"]
    assert [one["pointer"] for one in errors] == [pointer]


def test_they_are_told_to_the_holder_of_a_key_only(shop: Any, problem_of: Problem) -> None:
    problem_of(shop.ask("POST", "/v1/order", None, json={**ORDER, "prices": "stored"}), 401)
    problem_of(shop.ask("POST", "/v1/order", "write", json={**ORDER, "prices": "stored"}), 403)
