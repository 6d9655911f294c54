"""Answers with alloys of the shop's own and with stored quotes are sent again like any other."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests

Problem = Callable[[requests.Response, int], dict[str, Any]]
QUOTE = {"metal": "Au", "price": "104.50", "currency": "XXX", "date": "2031-03-01"}


@pytest.fixture
def order(shop: Any) -> dict[str, Any]:
    """An order in an alloy of the shop's own, at a stored quote."""
    assert shop.ask("POST", "/v1/shop/prices", json=QUOTE).status_code == 201
    return {
        "trial": {"metal": "sterling-silver", "mass": "6.31 g"},
        "final_metal": shop.made().json()["id"],
        "pieces": 2,
        "prices": {"from": "shop", "on": "2031-03-01", "currency": "XXX"},
        "purchase": {"form": "alloyed"},
        "on_hand": [{"metal": "Ag", "mass": "1 g"}],
    }


def asked(shop: Any, inputs: Any, path: str = "order") -> dict[str, Any]:
    answer = shop.ask("POST", f"/v1/{path}", json=inputs)
    assert answer.status_code == 200, answer.text
    document: dict[str, Any] = answer.json()
    return document


def test_they_have_the_same_answer(shop: Any, order: dict[str, Any]) -> None:
    prices = [{**QUOTE, "per": "g"}, {**QUOTE, "metal": "Ag", "price": "1.31"}]
    first = asked(shop, {**order, "prices": prices})
    assert first["inputs"]["final_metal"]["id"] == order["final_metal"]
    assert asked(shop, first["inputs"]) == first


def test_a_stored_quote_comes_back_as_its_figures(shop: Any, order: dict[str, Any]) -> None:
    fine = {**order, "final_metal": "fine-gold", "on_hand": []}
    first = asked(shop, fine)
    assert first["inputs"]["prices"][0]["price"] == 104.5
    assert asked(shop, first["inputs"]) == first


def test_the_key_is_asked_for_all_the_same(shop: Any, order: dict[str, Any], problem_of: Problem) -> None:
    del order["prices"]
    inputs = asked(shop, order)["inputs"]
    problem_of(shop.ask("POST", "/v1/order", None, json=inputs), 401)


def test_an_alloy_that_the_shop_has_changed_since_is_not_taken_silently(
    shop: Any, order: dict[str, Any], problem_of: Problem
) -> None:
    del order["prices"]
    first = asked(shop, order, "order?record=true")
    where = f"/v1/shop/alloys/{order['final_metal']}"
    alloy = {"name": "house yellow 14", "composition": {"Au": 585, "Ag": 205, "Cu": 210}, "density": "13.2 g/cm3"}
    assert shop.ask("PUT", where, json=alloy, headers={"If-Match": "*"}).status_code == 200
    (issue, *_) = problem_of(shop.ask("POST", "/v1/order", json=first["inputs"]), 422)["errors"]
    assert issue["pointer"] == "/final_metal/density/value"
    assert "13.2" in issue["detail"]


def test_a_record_of_what_was_sent_again_is_recomputed(shop: Any, order: dict[str, Any]) -> None:
    del order["prices"]
    inputs = asked(shop, order)["inputs"]
    id_ = asked(shop, inputs, "order?record=true")["record"]
    record = shop.ask("GET", f"/v1/shop/records/{id_}").json()
    assert asked(shop, record["answer"]["inputs"])["result"] == record["answer"]["result"]
    assert shop.ask("POST", f"/v1/shop/records/{id_}/recompute").json()["same"] is True
