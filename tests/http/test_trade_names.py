"""Trade names over HTTP: a range, what would narrow it, and a refusal where a composition is needed."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
RING = {"mass": "8 g", "from_metal": "sterling", "to_metal": "14k yellow"}


def test_a_trade_name_answers_with_its_range_and_says_what_would_narrow_it(web: Web) -> None:
    document = web("POST", "/v1/transfer", json=RING).json()
    mass = document["result"]["mass"]
    assert mass["low"] < 9.97
    assert mass["high"] > 10.54
    metal = document["inputs"]["to_metal"]
    assert metal["trade_name"] == "14k-yellow-gold"
    assert {"gold-585-yellow", "gold-585-yellow-zn"} <= set(metal["members"])
    assert "composition" not in metal
    (left_open,) = [one for one in document["assumptions"] if one["id"] == "trade-name"]
    assert "gold-585-yellow" in left_open["text"]
    assert "supplier" in left_open["text"]
    assert web("POST", "/v1/transfer", json=document["inputs"]).json() == document


def test_the_suppliers_density_narrows_it(web: Web) -> None:
    told = {**RING, "to_metal": {"trade_name": "14k yellow", "density": "13.07 g/cm3"}}
    narrow = web("POST", "/v1/transfer", json=told).json()
    assert narrow["inputs"]["to_metal"]["density"]["status"] == "given"
    wide = web("POST", "/v1/transfer", json=RING).json()["result"]["mass"]
    mass = narrow["result"]["mass"]
    assert wide["low"] < mass["low"] < mass["high"] < wide["high"]
    assert mass["value"] == pytest.approx(8 * 13.07 / 10.356, rel=1e-4)
    assert web("POST", "/v1/transfer", json=narrow["inputs"]).json() == narrow


@pytest.mark.parametrize(
    ("told", "pointer", "code"),
    [
        ({"trade_name": "house blend"}, "/to_metal/trade_name", "unknown-trade-name"),
        ({"trade_name": "14k yellow", "densty": "13 g/cm3"}, "/to_metal/densty", "unknown-field"),
        ({"trade_name": "14k yellow", "members": ["gold-585-red"]}, "/to_metal/members", "contradiction"),
        ({"trade_name": "14k yellow", "solidus": "900 C", "liquidus": "800 C"}, "/to_metal/solidus", "contradiction"),
        ({"trade_name": 14}, "/to_metal/trade_name", "not-a-string"),
    ],
)
def test_what_is_said_wrongly_beside_a_trade_name_is_refused(
    web: Web, problem_of: Problem, told: dict[str, Any], pointer: str, code: str
) -> None:
    (issue,) = problem_of(web("POST", "/v1/transfer", json={**RING, "to_metal": told}), 422)["errors"]
    assert (issue["pointer"], issue["code"]) == (pointer, code)


ORDER = {"trial": {"metal": "sterling", "mass": "6.31 g"}, "final_metal": "14k yellow"}
CHARGE = {"target": {"mass": "10 g", "fineness": "14 karat"}, "shelf": [{"metal": "Au"}, {"metal": "14k yellow"}]}


@pytest.mark.parametrize(
    ("path", "asked", "pointer"),
    [
        ("/v1/order", {**ORDER, "purchase": {"form": "fine-and-master"}}, "/final_metal"),
        ("/v1/charge", CHARGE, "/shelf/1/metal"),
    ],
)
def test_where_a_composition_is_needed_it_is_refused_with_its_alloys(
    web: Web, problem_of: Problem, path: str, asked: dict[str, Any], pointer: str
) -> None:
    (issue,) = problem_of(web("POST", path, json=asked), 422)["errors"]
    assert (issue["pointer"], issue["code"]) == (pointer, "trade-name")
    assert "gold-585-yellow" in issue["suggestions"]


def test_an_order_ready_alloyed_is_planned_in_a_trade_name(web: Web) -> None:
    answer = web("POST", "/v1/order", json=ORDER)
    assert answer.status_code == 200, answer.text
    result = answer.json()["result"]
    assert set(result["elements"]) == {"Au", "other"}
    assert result["to_buy"]["items"][0]["metal"] == "14k-yellow-gold"
    assert answer.json()["assumptions"][0]["id"] == "trade-name"


def test_the_table_of_trade_names(web: Web) -> None:
    document = web("GET", "/v1/trade-names").json()
    names = {one["id"]: one for one in document["trade_names"]}
    yellow = names["14k-yellow-gold"]
    assert yellow["density"]["low"] < 12.9
    assert yellow["density"]["high"] > 13.64
    assert yellow["fineness"]["low"] == pytest.approx(583.333)
    assert "14 ct yellow" in yellow["spellings"]
    assert web("GET", "/v1/trade-names/14k-yellow-gold").json()["members"] == yellow["members"]
    rows = list(csv.DictReader(io.StringIO(web("GET", "/v1/trade-names.csv").text)))
    assert [row["id"] for row in rows] == [one["id"] for one in document["trade_names"]]


def test_a_trade_name_is_no_alloy_but_its_density_is_told_with_its_range(web: Web, problem_of: Problem) -> None:
    (issue,) = problem_of(web("GET", "/v1/alloys/14k yellow"), 404)["errors"]
    assert issue["code"] == "trade-name"
    assert "gold-585-yellow" in issue["suggestions"]
    density = web("GET", "/v1/alloys/14k yellow/density").json()
    assert density["low"] < density["value"] < density["high"]
    assert "gold-585-yellow" in web("GET", "/alloys/14k yellow").text


@pytest.mark.parametrize(
    ("asked", "some", "none"),
    [
        ("14k white gold", {"gold-585-white-ni12", "gold-585-white-pd5"}, {"gold-585-yellow"}),
        ("14 kt white", {"gold-585-white-ni12", "gold-583-white-pd9-5"}, {"gold-750-white-pd10"}),
        ("18k white palladium", {"gold-750-white-pd10"}, {"gold-750-white-ni13-5"}),
        ("14k nickel white", {"gold-585-white-ni12"}, {"gold-585-white-pd5"}),
        ("10k gold", {"gold-417-yellow-zn", "gold-417-rose"}, {"gold-375-yellow"}),
        ("9ct", {"gold-375-yellow"}, {"gold-417-rose"}),
        ("22k", {"gold-917-red"}, {"gold-875-red"}),
        ("pt950", {"platinum-950-ru", "platinum-950-co"}, {"palladium-950-ru"}),
        ("950 pt", {"platinum-950-ir"}, {"platinum-900-ir"}),
        ("nickel free", {"gold-585-yellow", "sterling-silver"}, {"gold-585-white-ni12"}),
        ("nickel free white", {"gold-750-white-pd10"}, {"gold-750-white-ni13-5"}),
        ("sterling", {"sterling-silver"}, {"gold-585-yellow"}),
        ("yellow brass", {"brass-c26000"}, {"brass-c23000"}),
    ],
)
def test_the_finder_understands_what_the_trade_says(web: Web, asked: str, some: set[str], none: set[str]) -> None:
    found = web("GET", "/v1/alloys", params={"q": asked, "page_size": "500"}).json()
    ids = {one["id"] for one in found["alloys"]}
    assert found["total"] == len(ids)
    assert some <= ids
    assert not none & ids
