"""The mark of an order over a real socket: in JSON, on the page, and refused where it could mean several metals."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
PATH = "/v1/order"
ORDER = {"trial": {"metal": "sterling-silver", "mass": "6.31 g"}, "final_metal": "gold-583-white-pd9-5"}


def test_what_falls_short_is_planned_and_said(web: Web) -> None:
    answer = web("POST", PATH, json={**ORDER, "mark": "14 ct", "jurisdiction": "UK"}).json()
    (mark,) = answer["result"]["mark"]
    assert (mark["jurisdiction"], mark["mark"], mark["verdict"]) == ("UK", "14 ct", "falls-short")
    assert (mark["misses_by"]["value"], mark["misses_by"]["unit"]) == (2, "permille")
    assert answer["result"]["charge"]["value"] > 0
    first = answer["assumptions"][0]
    assert first["id"] == "mark-not-reached"
    assert "falls short of the mark 14 ct. UK: 14 ct (falls short)" in first["text"]
    assert "misses by 2" in first["text"]
    assert "mark-short" in {one["id"] for one in answer["cautions"]}
    assert (answer["inputs"]["mark"], answer["inputs"]["jurisdiction"]) == ("14 ct", "UK")


def test_what_passes_by_a_tolerance_alone_is_said_too(web: Web) -> None:
    answer = web("POST", PATH, json={**ORDER, "mark": "14K", "jurisdiction": "US"}).json()
    (mark,) = answer["result"]["mark"]
    assert (mark["verdict"], mark["misses_by"], mark["within_tolerance"]) == ("meets", None, True)
    assert "no licence to plan short" in answer["assumptions"][0]["text"]


def test_without_a_mark_the_highest_of_each_place_is_told(web: Web) -> None:
    answer = web("POST", PATH, json={**ORDER, "final_metal": "gold-585-yellow"}).json()
    told = {one["jurisdiction"]: (one["mark"], one["verdict"]) for one in answer["result"]["mark"]}
    assert told["UK"] == ("585", "meets")
    assert told["US"] == ("14K", "meets")
    assert [one["id"] for one in answer["assumptions"]].count("marks-without-solder") == 1
    asked = {**ORDER, "final_metal": {"composition": {"Au": 333, "Ag": 67, "Cu": 600}}, "jurisdiction": "UK"}
    (least,) = web("POST", PATH, json=asked).json()["result"]["mark"]
    assert (least["mark"], least["verdict"], least["misses_by"]["value"]) == ("375", "falls-short", 42)


def test_a_metal_that_is_not_precious_bears_no_mark(web: Web, problem_of: Any) -> None:
    brass = {**ORDER, "final_metal": "brass-c26000"}
    answer = web("POST", PATH, json=brass).json()
    assert answer["result"]["mark"] == []
    assert "marks-without-solder" not in {one["id"] for one in answer["assumptions"]}
    (issue,) = problem_of(web("POST", PATH, json={**brass, "mark": "585"}), 422)["errors"]
    assert (issue["pointer"], issue["code"]) == ("/mark", "missing")
    assert "585 gold" in issue["suggestions"]
    marked = web("POST", PATH, json={**brass, "mark": "585 gold", "jurisdiction": "UK"}).json()
    assert marked["result"]["mark"][0]["misses_by"]["value"] == 585


def test_the_page_says_it_before_the_figures(web: Web) -> None:
    form = {
        "/trial/metal": "sterling-silver",
        "/trial/mass": "6.31 g",
        "/final_metal": "gold-583-white-pd9-5",
        "/mark": "585",
        "/jurisdiction": "UK",
    }
    page = web("POST", "/order", data=form).text
    said = page.index("falls short of the mark 585")
    assert said < page.index("Weigh into the crucible")
    assert "May be marked" in page
    plain = web("POST", "/order", data={**form, "/final_metal": "gold-585-yellow"}).text
    assert "falls short of" not in plain
    assert "May be marked" in plain


@pytest.mark.parametrize("place", ["Atlantis", ""])
def test_an_unknown_place_is_refused(web: Web, problem_of: Any, place: str) -> None:
    asked = {**ORDER, "mark": "585", "jurisdiction": place}
    (issue,) = problem_of(web("POST", PATH, json=asked), 422)["errors"]
    assert issue["pointer"] == "/jurisdiction"
