"""Which form an answer takes, and one number for a spreadsheet cell."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
import requests

from alloyref.domain.reference import Reference

Web = Callable[..., requests.Response]
pytestmark = pytest.mark.usefixtures("no_new_fault")
JSON, CSV, TEXT = "application/json", "text/csv", "text/plain"
BARE = re.compile(r"-?\d+(\.\d+)?")


@pytest.mark.parametrize(
    ("accept", "media"),
    [
        ("application/json", JSON),
        ("text/csv", CSV),
        ("*/*", JSON),
        ("text/*", CSV),
        ("text/csv;q=0.9, application/json;q=0.4", CSV),
        ("text/csv;q=0.2, application/json", JSON),
        ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", JSON),
        ("application/pdf", JSON),
        ("image/png, application/vnd.example+json", JSON),
        ("nonsense", JSON),
        ("", JSON),
        (";;q=,", JSON),
    ],
)
def test_accept_is_heeded_and_an_unknown_one_never_refused(web: Web, accept: str, media: str) -> None:
    answer = web("GET", "/v1/elements", headers={"Accept": accept})
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].split(";")[0] == media


def test_no_accept_header_at_all_gives_json(web: Web) -> None:
    answer = web("GET", "/v1/elements", headers={"Accept": None})
    assert (answer.status_code, answer.headers["Content-Type"]) == (200, JSON)


@pytest.mark.parametrize(
    ("path", "form", "accept", "media"),
    [
        ("/v1/elements", "csv", JSON, CSV),
        ("/v1/elements", "json", CSV, JSON),
        ("/v1/alloys", "csv", "application/pdf", CSV),
        ("/v1/alloys/fine-gold/density", "text", JSON, TEXT),
        ("/v1/alloys/fine-gold/density", "json", TEXT, JSON),
        ("/v1/mass?value=1&from=ozt&to=g", "text", JSON, TEXT),
    ],
)
def test_the_parameter_goes_before_the_header(web: Web, path: str, form: str, accept: str, media: str) -> None:
    answer = web("GET", path, params={"format": form}, headers={"Accept": accept})
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].split(";")[0] == media


def test_a_form_that_is_not_there_is_refused_with_those_that_are(
    web: Web, problem_of: Callable[[requests.Response, int], dict[str, Any]]
) -> None:
    issue = problem_of(web("GET", "/v1/elements?format=xml"), 422)["errors"][0]
    assert (issue["pointer"], set(issue["suggestions"])) == ("/format", {"json", "csv"})


@pytest.mark.parametrize(
    "alloy", ["sterling-silver", "fine-gold", "gold-585-yellow", "gold-750-yellow", "silver-958"]
)
@pytest.mark.parametrize(
    "asked",
    [
        ("density", None, Fraction(1), Fraction(0)),
        ("density", "kg/m3", Fraction(1000), Fraction(0)),
        ("solidus", None, Fraction(1), Fraction(0)),
        ("solidus", "K", Fraction(1), Fraction("273.15")),
        ("liquidus", "F", Fraction(9, 5), Fraction(32)),
        ("fineness", None, Fraction(1), Fraction(0)),
        ("fineness", "percent", Fraction(1, 10), Fraction(0)),
    ],
)
def test_one_number_in_the_unit_asked_for(
    web: Web, reference: Reference, alloy: str, asked: tuple[str, str | None, Fraction, Fraction]
) -> None:
    name, unit, factor, offset = asked
    known = getattr(reference.alloys[alloy].metal, name) if alloy in reference.alloys else None
    if known is None:
        assert web("GET", f"/v1/alloys/{alloy}/{name}").status_code == 404
        return
    expected = Fraction(getattr(known, "value", known)) * factor + offset
    params = {"format": "text"} | ({"unit": unit} if unit else {})
    answer = web("GET", f"/v1/alloys/{alloy}/{name}", params=params)
    assert BARE.fullmatch(answer.text)
    assert abs(Fraction(answer.text) - expected) <= Fraction(1, 2_000_000)
    whole = web("GET", f"/v1/alloys/{alloy}/{name}", params={"unit": unit} if unit else {}).json()
    assert Decimal(str(whole["value"])) == Decimal(answer.text)
    assert whole["alloy"] == alloy
    assert whole["low"] <= whole["value"] <= whole["high"]


def test_karat_is_arithmetic_and_only_for_gold(web: Web) -> None:
    assert web("GET", "/v1/alloys/gold-750-yellow/karat?format=text").text == "18"
    assert web("GET", "/v1/alloys/gold-585-yellow/karat?format=text").text == "14.04"
    assert web("GET", "/v1/alloys/sterling-silver/karat?format=text").status_code == 404


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("/v1/alloys/sterlng-silver/density?on_error=text", "sterling-silver"),
        ("/v1/alloys/fine-silver/karat?on_error=text", "karat"),
        ("/v1/alloys/fine-gold/density?unit=dwt&on_error=text", "dwt"),
        ("/v1/transfer?mass=1&unit=oz&from_metal=fine-gold&to_metal=fine-silver&on_error=text", "ozt"),
        ("/v1/mass?on_error=text", ""),
        ("/v1/alloys?colr=x&on_error=text", "colour"),
        ("/v1/nothing?on_error=text", ""),
    ],
)
def test_a_cell_gets_a_short_text_instead_of_an_error(web: Web, path: str, says: str) -> None:
    answer = web("GET", path)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"].startswith(TEXT)
    assert answer.text.startswith("#ERROR ")
    assert says in answer.text
    assert "\n" not in answer.text
    assert len(answer.text) < 250
    assert web("GET", path.replace("on_error=text", "on_error=problem")).status_code in (404, 422)


def test_on_error_changes_nothing_about_an_answer_without_one(web: Web) -> None:
    path = "/v1/alloys/fine-gold/density?format=text"
    assert web("GET", path + "&on_error=text").content == web("GET", path).content


def test_a_quantity_of_a_query_may_stand_apart_from_its_unit(web: Web) -> None:
    base = {"from_metal": "fine-gold", "to_metal": "fine-silver"}
    ways = (
        {"mass": "2 dwt"},
        {"mass": "2", "unit": "dwt"},
        {"mass": "2", "mass_unit": "dwt"},
        {"mass": "2", "unit": "[pwt_tr]"},
    )
    answers = [web("GET", "/v1/transfer", params={**base, **way}).json() for way in ways]
    assert all(answer == answers[0] for answer in answers)
    assert answers[0]["inputs"]["mass"] == {
        "value": 3.11034768,
        "unit": "g",
        "in_unit": {"value": 2, "unit": "dwt"},
    }


@pytest.mark.parametrize(
    ("more", "pointer"),
    [
        ({}, "/mass"),
        ({"mass": "2"}, "/mass"),
        ({"unit": "dwt"}, "/mass"),
        ({"mass": ["2 g", "3 g"]}, "/mass"),
        ({"mass": "2", "unit": "g", "mass_unit": "g"}, "/unit"),
        ({"mass": "2", "unit": "oz"}, "/mass/unit"),
        ({"mass": "2 dwt", "unit": "dwt"}, "/mass/value"),
        ({"mas": "2 dwt", "mass": "1 g"}, "/mas"),
    ],
)
def test_a_wrong_query_is_refused_in_its_place(
    web: Web, problem_of: Callable[[requests.Response, int], dict[str, Any]], more: dict[str, Any], pointer: str
) -> None:
    query = {"from_metal": "fine-gold", "to_metal": "fine-silver", **more}
    errors = problem_of(web("GET", "/v1/transfer", params=query), 422)["errors"]
    assert pointer in [issue["pointer"] for issue in errors]
