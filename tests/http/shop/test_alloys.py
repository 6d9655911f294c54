"""Alloys and quotes of the shop's own: written, read, changed, deleted, used, and remembered."""

from __future__ import annotations

import copy
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
import requests

from alloyref.domain.calculation import Calculation, ListOf, MetalName, Record, items
from alloyref.services.calculations import CALCULATIONS

Problem = Callable[[requests.Response, int], dict[str, Any]]
ALLOY = {"name": "house yellow 14", "composition": {"Au": 585, "Ag": 205, "Cu": 210}, "density": "13.1 g/cm3"}
ALLOYS, PRICES = "/v1/shop/alloys", "/v1/shop/prices"


NOTHING_TO_SEE = ["", "  ", "\u00a0\u2003", "\u200b\ufeff", "\u2800"]


@pytest.mark.parametrize("name", NOTHING_TO_SEE)
def test_a_name_has_something_to_see(shop: Any, problem_of: Problem, name: str) -> None:
    alloy = {**ALLOY, "name": name}
    refused = problem_of(shop.ask("POST", ALLOYS, json=alloy), 422)["errors"]
    assert [(one["pointer"], one["code"]) for one in refused] == [("/name", "blank")]
    document = {"composition": {"Au": 1000}, "density": "19.3 g/cm3", "name": name}
    body = {"mass": "1 g", "from_metal": "Ag", "to_metal": document}
    refused = problem_of(shop.ask("POST", "/v1/transfer", json=body), 422)["errors"]
    assert [(one["pointer"], one["code"]) for one in refused] == [("/to_metal/name", "blank")]


@pytest.mark.parametrize(
    ("price", "kept"), [("1e-400", None), ("2e-324", None), ("5e-324", 5e-324), ("1e-300", 1e-300)]
)
def test_a_price_is_never_stored_as_nothing(shop: Any, problem_of: Problem, price: str, kept: float | None) -> None:
    quote = {"metal": "Rh", "price": price, "currency": "EUR", "date": "2020-01-01"}
    answer = shop.ask("POST", PRICES, json=quote)
    if kept is None:
        assert problem_of(answer, 422)["errors"][0]["code"] == "number-out-of-range"
    else:
        assert answer.json()["price"] == kept > 0
        place = f"{PRICES}/{answer.json()['id']}"
        assert shop.ask("DELETE", place, headers={"If-Match": answer.headers["ETag"]}).status_code == 204


def test_the_life_of_an_alloy(shop: Any, problem_of: Problem) -> None:
    made = shop.made(id="life", solidus="830 C", liquidus="875 C", premium="8 percent", note="from the old ledger")
    document = made.json()
    assert made.headers["Location"] == "/v1/shop/alloys/shop:life"
    assert document["id"] == "shop:life"
    assert document["composition"] == {"Au": 585, "Ag": 205, "Cu": 210}
    assert document["density"] == {
        "value": 13.1,
        "unit": "g/cm3",
        "low": 13.1,
        "high": 13.1,
        "status": "given",
        "source": "shop",
    }
    assert (document["solidus"]["value"], document["premium"], document["version"]) == (830, 0.08, 1)
    for name in ("shop:life", "life"):
        read = shop.ask("GET", f"{ALLOYS}/{name}", "read")
        assert (read.json(), read.headers["ETag"]) == (document, made.headers["ETag"])
    changed = {**ALLOY, "density": "13.2 g/cm3"}
    problem_of(shop.ask("PUT", f"{ALLOYS}/life", json=changed), 428)
    put = shop.ask("PUT", f"{ALLOYS}/life", json=changed, headers={"If-Match": made.headers["ETag"]})
    assert put.status_code == 200
    assert (put.json()["version"], put.json()["density"]["value"], put.json()["solidus"]) == (2, 13.2, None)
    for stale in (made.headers["ETag"], '"x"', "x", "W/" + put.headers["ETag"], ""):
        problem_of(shop.ask("PUT", f"{ALLOYS}/life", json=ALLOY, headers={"If-Match": stale}), 412)
        problem_of(shop.ask("DELETE", f"{ALLOYS}/life", headers={"If-Match": stale}), 412)
    problem_of(shop.ask("DELETE", f"{ALLOYS}/life"), 428)
    gone = shop.ask("DELETE", f"{ALLOYS}/life", headers={"If-Match": f'"other", {put.headers["ETag"]}'})
    assert (gone.status_code, gone.content) == (204, b"")
    problem_of(shop.ask("GET", f"{ALLOYS}/life"), 404)
    problem_of(shop.ask("PUT", f"{ALLOYS}/life", json=ALLOY, headers={"If-Match": "*"}), 404)
    problem_of(shop.ask("DELETE", f"{ALLOYS}/life", headers={"If-Match": "*"}), 404)
    problem_of(shop.ask("POST", ALLOYS, json={**ALLOY, "id": "life"}), 409)
    history = shop.ask("GET", f"{ALLOYS}/life/history", "read").json()["changes"]
    assert [(one["action"], one["version"]) for one in history] == [("delete", 3), ("replace", 2), ("create", 1)]
    assert history[0]["document"] is None
    assert history[1]["document"]["density"] == {"value": 13.2, "unit": "g/cm3"}
    assert history[2]["document"]["premium"] == 0.08
    assert {one["key"] for one in history} == {shop.keys["both"].split("_")[1]}


def test_of_many_changes_at_once_one_is_made(shop: Any) -> None:
    tag = shop.made(id="contested").headers["ETag"]

    def change(number: int) -> int:
        body = {**ALLOY, "name": f"change {number}"}
        answer = shop.ask("PUT", f"{ALLOYS}/contested", json=body, headers={"If-Match": tag})
        return int(answer.status_code)

    with ThreadPoolExecutor(8) as pool:
        codes = sorted(pool.map(change, range(8)))
    assert codes == [200] + [412] * 7
    assert shop.ask("GET", f"{ALLOYS}/contested").json()["version"] == 2
    assert shop.ask("GET", f"{ALLOYS}/contested/history").json()["total"] == 2


def test_of_many_that_take_one_id_one_gets_it(shop: Any) -> None:
    def make(number: int) -> int:
        answer = shop.ask("POST", ALLOYS, json={**ALLOY, "name": str(number), "id": "one-of-many"})
        return int(answer.status_code)

    with ThreadPoolExecutor(8) as pool:
        assert sorted(pool.map(make, range(8))) == [201] + [409] * 7


@pytest.mark.parametrize(
    "name",
    ["=1+1", "<script>alert(1)</script>", "'; DROP TABLE shop_alloys; --", "ñandú ‰ 金", "\\u0000 \\", "%s {x}"],
)
def test_names_are_given_back_as_they_came(shop: Any, name: str) -> None:
    made = shop.made(name=name, note=name)
    read = shop.ask("GET", f"{ALLOYS}/{made.json()['id']}").json()
    assert (read["name"], read["note"]) == (name, name)


@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"composition": {"Au": 585}}, "/composition", "composition-sum"),
        ({"density": "13.1"}, "/density", "unit-missing"),
        ({"solidus": "900 C", "liquidus": "800 C"}, "/solidus", "contradiction"),
        ({"premium": -1}, "/premium", "out-of-range"),
        ({"id": "Not An Id"}, "/id", "wrong-form"),
        ({"id": "shop:shop:x"}, "/id", "wrong-form"),
        ({"denisty": "13.1 g/cm3"}, "/denisty", "unknown-field"),
        ({"name": "two\nlines"}, "/name", "wrong-form"),
        ({"note": "x" * 401}, "/note", "too-long"),
    ],
)
def test_what_breaks_a_rule_is_refused_and_stores_nothing(
    shop: Any, problem_of: Problem, changes: dict[str, Any], pointer: str, code: str
) -> None:
    before = shop.ask("GET", "/v1/shop/history").json()["total"]
    issues = problem_of(shop.ask("POST", ALLOYS, json={**ALLOY, **changes}), 422)["errors"]
    assert (pointer, code) in [(one["pointer"], one["code"]) for one in issues]
    assert shop.ask("GET", "/v1/shop/history").json()["total"] == before


@pytest.mark.parametrize("name", ["none", "%00", "..%2f", "shop:", "x" * 300, "%ED%A0%80", "A", "shop:none"])
def test_an_unknown_id_is_not_found(shop: Any, problem_of: Problem, name: str) -> None:
    for path in (f"{ALLOYS}/{name}", f"{PRICES}/{name}", f"/v1/shop/records/{name}", f"{ALLOYS}/{name}/history"):
        problem_of(shop.ask("GET", path), 404)


def test_pages_come_in_order_and_link_to_each_other(shop: Any) -> None:
    for number in range(3):
        shop.made(id=f"paged-{number}")
    whole = [one["id"] for one in shop.ask("GET", f"{ALLOYS}?page_size=500").json()["alloys"]]
    assert whole == sorted(whole)
    paged, path = [], f"{ALLOYS}?page_size=2"
    while path:
        answer = shop.ask("GET", path)
        assert answer.json()["total"] == len(whole)
        paged += [one["id"] for one in answer.json()["alloys"]]
        path = answer.links.get("next", {}).get("url", "")
    assert paged == whole


def places(type_: type, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    """Where an input asks for a metal."""
    found: list[tuple[str, ...]] = []
    for one in items(type_).values():
        if isinstance(one.kind, MetalName):
            found.append((*path, one.name))
        elif isinstance(one.kind, Record):
            found += places(one.kind.type, (*path, one.name))
        elif isinstance(one.kind, ListOf):
            found += places(one.kind.record.type, (*path, one.name, "0"))
    return found


def put(document: Any, place: tuple[str, ...], value: Any) -> bool:
    """Write a value into the example, if the example has such a place."""
    for step in place[:-1]:
        inner = document.get(step) if isinstance(document, dict) else document[int(step)] if document else None
        if inner is None:
            return False
        document = inner
    if not isinstance(document, dict) or place[-1] not in document:
        return False
    document[place[-1]] = value
    return True


PLACES = [(one, place) for one in CALCULATIONS.values() for place in places(one.inputs)]


@pytest.mark.parametrize(
    ("calculation", "place"), PLACES, ids=[f"{one.name}:{'.'.join(place)}" for one, place in PLACES]
)
def test_it_goes_wherever_a_metal_is_asked_for(
    shop: Any, problem_of: Problem, calculation: Calculation, place: tuple[str, ...]
) -> None:
    if shop.ask("GET", f"{ALLOYS}/used-everywhere").status_code == 404:
        shop.made(id="used-everywhere")
    body = copy.deepcopy(calculation.example)
    if not put(body, place, "shop:used-everywhere"):
        pytest.skip("the example has no such place")
    path = f"/v1/{calculation.name}"
    answer = shop.ask("POST", path, "read", json=body)
    if calculation.name == "recovery" and place[0] == "prices":
        # Understood, and refused for what it is: a refiner's quotes are for fine metal.
        assert problem_of(answer, 422)["errors"][0]["code"] == "not-fine"
    else:
        assert answer.status_code == 200, answer.text[:400]
        assert '"status":"given","source":"shop"' in answer.text
    problem_of(shop.ask("POST", path, None, json=body), 401)
    put(body, place, "shop:used-everywere")
    issue = problem_of(shop.ask("POST", path, "read", json=body), 422)["errors"][0]
    assert issue["pointer"] == "/" + "/".join(place)
    assert (issue["code"], issue["suggestions"][0]) == ("unknown-metal", "shop:used-everywhere")


def test_there_are_places_to_use_it(shop: Any) -> None:
    assert len(PLACES) >= 6


def test_the_newest_quote_by_a_day_is_found(shop: Any, problem_of: Problem) -> None:
    for metal, price, currency, date in (
        ("Pd", "30.10", "EUR", "2026-01-05"),
        ("Pd", "31.20", "EUR", "2026-03-01"),
        ("Pd", "33.00", "USD", "2026-02-01"),
        ("Pt", "40", "EUR", "2026-02-02"),
        ("Pd", "31.25", "EUR", "2026-03-01"),
    ):
        quote = {"metal": metal, "price": price, "currency": currency, "date": date, "note": "by phone"}
        assert shop.ask("POST", PRICES, json=quote).status_code == 201

    def found(**query: str) -> list[tuple[str, float, str]]:
        listed = shop.ask("GET", PRICES, "read", params=query).json()["prices"]
        return [(one["metal"], one["price"], one["currency"]) for one in listed]

    assert found(metal="Pd", at="2026-01-04") == []
    assert found(metal="Pd", at="2026-01-05") == [("Pd", 30.1, "EUR")]
    assert sorted(found(at="2026-02-15")) == [("Pd", 30.1, "EUR"), ("Pd", 33, "USD"), ("Pt", 40, "EUR")]
    assert found(metal="Pd", currency="EUR", at="2026-12-31") == [("Pd", 31.25, "EUR")]
    assert len(found(metal="Pd", currency="EUR")) == 3
    last = shop.ask("GET", PRICES, params={"metal": "Pd", "currency": "EUR", "at": "2026-12-31"}).json()["prices"][0]
    tag = shop.ask("GET", f"{PRICES}/{last['id']}").headers["ETag"]
    assert shop.ask("DELETE", f"{PRICES}/{last['id']}", headers={"If-Match": tag}).status_code == 204
    assert found(metal="Pd", currency="EUR", at="2026-12-31") == [("Pd", 31.2, "EUR")]
    problem_of(shop.ask("GET", PRICES, params={"at": "2026-13-01"}), 422)
    problem_of(shop.ask("GET", PRICES, params={"att": "2026-01-01"}), 422)
    nameless = {"metal": {"composition": {"Au": 1000}}, "price": 1, "currency": "EUR", "date": "2026-01-01"}
    assert problem_of(shop.ask("POST", PRICES, json=nameless), 422)["errors"][0]["pointer"] == "/metal"


def test_a_quote_that_was_replaced_is_found_by_what_it_is_now(shop: Any) -> None:
    def ids(**query: str) -> list[str]:
        return [one["id"] for one in shop.ask("GET", PRICES, "read", params=query).json()["prices"]]

    quote = {"metal": "Ir", "price": "1", "currency": "EUR", "date": "2026-05-01"}
    made = shop.ask("POST", PRICES, json=quote)
    now = {"metal": "Rh", "price": "2", "currency": "USD", "date": "2026-05-09"}
    put = shop.ask("PUT", made.headers["Location"], json=now, headers={"If-Match": made.headers["ETag"]})
    assert put.status_code == 200
    assert ids(metal="Ir") == ids(metal="Rh", currency="EUR") == ids(metal="Rh", at="2026-05-08") == []
    assert ids(metal="Rh", currency="USD", at="2026-05-09") == [made.json()["id"]]


def test_a_quote_may_be_for_an_alloy_of_the_shop(shop: Any) -> None:
    shop.made(id="quoted")
    quote = {"metal": "shop:quoted", "price": "60.5", "currency": "EUR", "date": "2026-04-01", "per": "ozt"}
    made = shop.ask("POST", PRICES, json=quote)
    assert made.status_code == 201
    assert made.json()["metal"] == "shop:quoted"
    assert shop.ask("GET", made.headers["Location"]).json() == made.json()


def test_the_history_of_all_is_newest_first(shop: Any, problem_of: Problem) -> None:
    shop.made(id="latest")
    changes = shop.ask("GET", "/v1/shop/history?page_size=500", "read").json()["changes"]
    assert changes[0]["id"] == "shop:latest"
    numbers = [one["number"] for one in changes]
    assert numbers == sorted(numbers, reverse=True)
    only = shop.ask("GET", "/v1/shop/history?kind=prices&page_size=500").json()["changes"]
    assert {one["kind"] for one in only} <= {"prices"}
    problem_of(shop.ask("GET", "/v1/shop/history?kind=keys"), 422)


def test_its_premium_is_asked_by_the_supplier_and_not_paid_back(shop: Any) -> None:
    costs, prices = {}, {"Au": 100, "Ag": 1, "Cu": 0}
    for premium in (0, 0.08):
        name = shop.made(premium=premium).json()["id"]
        order = {
            "trial": {"metal": "sterling-silver", "mass": "6.31 g"},
            "final_metal": name,
            "purchase": {"form": "alloyed"},
            "prices": [{"metal": one, "price": price, "currency": "EUR"} for one, price in prices.items()],
        }
        result = shop.ask("POST", "/v1/order", "read", json=order).json()["result"]
        costs[premium] = result["cost"]
        assert result["to_buy"]["items"][0]["cost"] == result["cost"]["total"]
    assert costs[0.08]["total"]["value"] == pytest.approx(costs[0]["total"]["value"] * 1.08, abs=0.01)
    assert costs[0.08]["returns_worth"] == costs[0]["returns_worth"]
    assert any("8 % above" in quote for quote in costs[0.08]["quotes"])
    assert not any("above" in quote for quote in costs[0]["quotes"])
