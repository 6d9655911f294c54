"""`/v1/estimate` over a real socket: both forms of a composition, one number for a cell, cautions, refusals."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
PATH = "/v1/estimate"
YELLOW = {"Au": 750, "Ag": 125, "Cu": 125}
LINE = "Au 750, Ag 125, Cu 125"


def test_object_line_and_query_give_one_answer(web: Web) -> None:
    posted = web("POST", PATH, json={"composition": YELLOW}).json()
    assert web("POST", PATH, json={"composition": LINE}).json() == posted
    assert web("GET", PATH, params={"composition": LINE}).json() == posted
    assert web("GET", PATH + "?composition=Au:750,Ag:125,Cu:125").json() == posted
    assert posted["inputs"]["composition"] == YELLOW
    result = posted["result"]
    assert (result["karat"]["value"], result["fineness"]["value"]) == (18, 750)
    for name in ("density", "karat", "fineness"):
        assert {"value", "unit", "low", "high", "status", "source"} <= set(result[name])


@pytest.mark.parametrize(("wanted", "number"), [("karat", "18"), ("fineness", "750")])
def test_a_cell_gets_one_number(web: Web, wanted: str, number: str) -> None:
    answer = web("GET", PATH, params={"composition": LINE, "property": wanted, "format": "text"})
    assert (answer.status_code, answer.text) == (200, number)


def test_a_cell_gets_the_density_when_it_asks_for_nothing(web: Web) -> None:
    shown = web("GET", PATH, params={"composition": LINE}).json()["result"]["density"]
    text = web("GET", PATH, params={"composition": LINE, "format": "text"}).text
    assert float(text) == shown["value"]
    assert shown["low"] < shown["value"] < shown["high"]


def test_a_missing_number_says_why_and_the_whole_answer_stands(web: Web, problem_of: Problem) -> None:
    brass = {"composition": "Cu 850, Zn 150", "property": "karat"}
    answer = web("GET", PATH, params=brass)
    assert answer.status_code == 200
    result = answer.json()["result"]
    assert (result["karat"], result["number"]) == (None, None)
    (reason,) = [one["reason"] for one in result["not_available"] if one["property"] == "karat"]
    assert reason
    problem = problem_of(web("GET", PATH, params={**brass, "format": "text"}), 422)
    assert problem["type"] == "/v1/problems/no-answer"
    assert problem["errors"][0]["detail"] == reason
    cell = web("GET", PATH, params={**brass, "format": "text", "on_error": "text"})
    assert (cell.status_code, cell.text) == (200, f"#ERROR {reason}")


@pytest.mark.parametrize(
    ("line", "cautions"),
    [
        ("Au 750, Ni 100, Cu 150", {"nickel-skin", "nickel-law"}),
        ("Ag 700, Cu 200, Cd 100", {"cadmium", "cadmium-law"}),
        ("Sn 600, Pb 400", {"lead", "lead-law"}),
        ("Cu 980, Be 20", {"beryllium"}),
        ("Cu 700, Zn 300", {"zinc-fume"}),
        ("Pt 950, Co 50", {"cobalt"}),
        (LINE, set()),
    ],
)
def test_what_it_contains_is_warned_of(web: Web, line: str, cautions: set[str]) -> None:
    found = {one["id"] for one in web("POST", PATH, json={"composition": line}).json()["cautions"]}
    assert cautions <= found
    contents = {"nickel-skin", "cadmium", "lead", "beryllium", "zinc-fume", "cobalt"}
    assert found & contents == cautions & contents


@pytest.mark.parametrize(
    ("composition", "pointer", "code"),
    [
        ("Au 75, Ag 12.5, Cu 12.5", "/composition", "composition-sum"),
        ("Au 750, Xx 250", "/composition", "unknown-element"),
        ({"Au": 750, "Xx": 250}, "/composition/Xx", "unknown-element"),
        ("Au 750, Au 250", "/composition", "duplicate"),
        ("gold 750", "/composition", "not-a-composition"),
        ("Au 1000" + " " * 900, "/composition", "too-long"),
        ("Au 1e31", "/composition", "number-out-of-range"),
        (7, "/composition", "not-an-object"),
        ({}, "/composition", "not-an-object"),
    ],
)
def test_a_bad_composition_is_refused(
    web: Web, problem_of: Problem, composition: Any, pointer: str, code: str
) -> None:
    issue = problem_of(web("POST", PATH, json={"composition": composition}), 422)["errors"][0]
    assert (issue["pointer"], issue["code"]) == (pointer, code)


def test_an_unknown_property_is_refused_with_the_known(web: Web, problem_of: Problem) -> None:
    answer = web("GET", PATH, params={"composition": LINE, "property": "densty"})
    issue = problem_of(answer, 422)["errors"][0]
    assert (issue["pointer"], issue["suggestions"]) == ("/property", ["density"])
