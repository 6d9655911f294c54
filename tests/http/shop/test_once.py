"""The same request sent again is stored once, whoever answers it and whenever."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from uuid import uuid4

import pytest
import requests
from sqlalchemy import update

from alloyref.shop import tables
from alloyref.shop.clock import ago

Problem = Callable[[requests.Response, int], dict[str, Any]]
ALLOY = {"name": "house white", "composition": {"Au": 585, "Pd": 200, "Ag": 215}}
ORDER = {"trial": {"metal": "sterling-silver", "mass": "6.31 g"}, "final_metal": "gold-585-yellow"}
QUOTE = {"metal": "Au", "price": "104.5", "currency": "EUR", "date": "2026-11-20"}
STORES = [("/v1/shop/alloys", ALLOY), ("/v1/shop/prices", QUOTE), ("/v1/order?record=true", ORDER)]
ALL = pytest.mark.parametrize(("path", "body"), STORES, ids=["alloys", "prices", "order"])


def same(*answers: requests.Response) -> bool:
    """Whether all answers are one."""
    parts = {(one.status_code, one.content, *map(one.headers.get, ("Location", "ETag"))) for one in answers}
    return len(parts) == 1


def stored(shop: Any, path: str) -> int:
    """How many of its kind there are."""
    listing = "/v1/shop/records" if "record" in path else path
    return int(shop.ask("GET", listing).json()["total"])


@ALL
def test_duplicates_at_the_same_time_are_stored_once(shop: Any, path: str, body: Any) -> None:
    key = {"Idempotency-Key": str(uuid4())}
    before = stored(shop, path)
    with ThreadPoolExecutor(10) as pool:
        answers = list(pool.map(lambda _: shop.ask("POST", path, json=body, headers=key), range(10)))
    assert same(*answers), [one.text[:200] for one in answers]
    assert answers[0].status_code in (200, 201)
    assert stored(shop, path) == before + 1


@ALL
def test_without_a_key_of_its_own_each_request_counts(shop: Any, path: str, body: Any) -> None:
    before = stored(shop, path)
    one, two = (shop.ask("POST", path, json=body) for _ in range(2))
    assert one.headers["Location"] != two.headers["Location"]
    assert stored(shop, path) == before + 2


@ALL
def test_another_request_under_the_same_key_is_refused(shop: Any, path: str, body: Any, problem_of: Problem) -> None:
    key = {"Idempotency-Key": str(uuid4())}
    first = shop.ask("POST", path, json=body, headers=key)
    before = stored(shop, path)
    for other_path, other in ((path, {**body, "note": "x", "name": "y"}), *(one for one in STORES if one[0] != path)):
        issue = problem_of(shop.ask("POST", other_path, json=other, headers=key), 422)["errors"][0]
        assert issue["code"] == "idempotency-key-used"
    assert stored(shop, path) == before
    again = dict(reversed(body.items()))
    assert same(first, shop.ask("POST", path, json=again, headers=key))


def test_the_key_is_the_holders_own(shop: Any) -> None:
    key = {"Idempotency-Key": str(uuid4())}
    one, two = (shop.ask("POST", "/v1/shop/alloys", who, json=ALLOY, headers=key) for who in ("both", "write"))
    assert {one.status_code, two.status_code} == {201}
    assert one.json()["id"] != two.json()["id"]


def test_another_service_over_the_same_database_gives_the_same_answer(shop: Any, start: Callable[..., Any]) -> None:
    key = {"Idempotency-Key": str(uuid4())}
    first = shop.ask("POST", "/v1/order?record=true", json=ORDER, headers=key)
    with start(ALLOYREF_DATABASE_URL=shop.url) as service:
        other = type(shop)(service, shop.url, shop.database, shop.keys)
        assert same(first, other.ask("POST", "/v1/order?record=true", json=ORDER, headers=key))


def test_what_was_refused_leaves_the_key_free(shop: Any) -> None:
    key = {"Idempotency-Key": str(uuid4())}
    assert shop.ask("POST", "/v1/shop/alloys", json={"name": "x"}, headers=key).status_code == 422
    assert shop.ask("POST", "/v1/shop/alloys", json=ALLOY, headers=key).status_code == 201


def test_it_is_the_same_answer_also_after_a_change(shop: Any) -> None:
    key = {"Idempotency-Key": str(uuid4())}
    first = shop.ask("POST", "/v1/shop/alloys", json=ALLOY, headers=key)
    where = first.headers["Location"]
    assert shop.ask("DELETE", where, headers={"If-Match": first.headers["ETag"]}).status_code == 204
    assert same(first, shop.ask("POST", "/v1/shop/alloys", json=ALLOY, headers=key))


def test_after_its_time_the_key_is_free_again(shop: Any) -> None:
    name = str(uuid4())
    key = {"Idempotency-Key": name}
    first = shop.ask("POST", "/v1/shop/alloys", json=ALLOY, headers=key)
    for hours, kept in ((23.9, True), (24.1, False)):
        with shop.database.write() as connection:
            old = update(tables.idempotency).where(tables.idempotency.c.name == name)
            connection.execute(old.values(created=ago(hours=hours)))
        assert same(first, shop.ask("POST", "/v1/shop/alloys", json=ALLOY, headers=key)) is kept


@pytest.mark.parametrize("name", ["", "a b", "x" * 256])
def test_a_key_of_another_form_is_refused(shop: Any, problem_of: Problem, name: str) -> None:
    for path, body in (*STORES, ("/v1/order", ORDER)):
        problem_of(shop.ask("POST", path, json=body, headers={"Idempotency-Key": name}), 422)
