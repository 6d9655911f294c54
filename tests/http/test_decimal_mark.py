"""`decimal=,`: csv and text for tables of a country that writes a comma, and numbers in the query with one."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
Problem = Callable[..., dict[str, Any]]


def test_one_number_has_a_comma(web: Web) -> None:
    point = web("GET", "/v1/alloys/sterling-silver/density?format=text").text
    comma = web("GET", "/v1/alloys/sterling-silver/density?format=text&decimal=,").text
    assert "." in point
    assert comma == point.replace(".", ",")


def test_csv_has_semicolons_and_commas_and_says_the_same(web: Web) -> None:
    point = list(csv.reader(io.StringIO(web("GET", "/v1/alloys.csv").text)))
    comma = list(csv.reader(io.StringIO(web("GET", "/v1/alloys.csv?decimal=,").text), delimiter=";"))
    assert [len(row) for row in point] == [len(row) for row in comma]
    place = point[0].index("density")
    assert [row[place].replace(".", ",") for row in point[1:]] == [row[place] for row in comma[1:]]
    assert [row[0] for row in point] == [row[0] for row in comma]


def test_numbers_in_the_query_may_have_a_comma_too(web: Web) -> None:
    path = "/v1/mass?from=dwt&to=g&format=text"
    assert web("GET", f"{path}&decimal=,&value=4,82").text == web("GET", f"{path}&value=4.82").text.replace(".", ",")
    assert web("GET", f"{path}&decimal=,&value=4.82").status_code == 200


@pytest.mark.parametrize("query", ["decimal=;", "decimal=", "decimal=comma"])
def test_another_mark_is_refused(web: Web, problem_of: Callable[..., dict[str, Any]], query: str) -> None:
    problem = problem_of(web("GET", f"/v1/elements?{query}"), 422)
    assert problem["errors"][0]["pointer"] == "/decimal"


@pytest.mark.parametrize(
    ("path", "pointer"),
    [
        ("mass?value=4,82&from=dwt&to=g", "/value"),
        ("contents?mass=1,5 g&metal=sterling-silver", "/mass"),
        ("mark-check?of=gold&assay=920&mark=916,6", "/mark"),
        ("alloys?karat=13,5", "/karat"),
    ],
)
def test_a_comma_without_asking_for_it_is_refused_and_told_how_to_ask(
    web: Web, problem_of: Problem, path: str, pointer: str
) -> None:
    (issue,) = problem_of(web("GET", f"/v1/{path}"), 422)["errors"]
    assert issue["pointer"] == pointer
    assert "decimal point" in issue["detail"]
    assert "decimal=," in issue["detail"]
    assert web("GET", f"/v1/{path}&decimal=,").status_code == 200


@pytest.mark.parametrize("mass", ["1,5 g", {"value": "1,5", "unit": "g"}])
def test_json_is_told_the_same_and_has_a_point(web: Web, problem_of: Problem, mass: Any) -> None:
    (issue,) = problem_of(web("POST", "/v1/contents", json={"mass": mass, "metal": "sterling-silver"}), 422)["errors"]
    assert "In a query" in issue["detail"]


@pytest.mark.parametrize("number", ["1,234.5", "1,234,567"])
def test_separators_of_thousands_are_no_decimal_comma(web: Web, problem_of: Problem, number: str) -> None:
    for path in (f"mass?value={number}&from=dwt&to=g", f"contents?mass={number} g&metal=sterling-silver"):
        (issue,) = problem_of(web("GET", f"/v1/{path}"), 422)["errors"]
        assert "thousands" in issue["detail"]
        assert "decimal=," not in issue["detail"]


@pytest.mark.parametrize(
    ("path", "comma", "point"),
    [
        ("mark-check?of=gold&mark=585", "assay=584,2&uncertainty=0,5", "assay=584.2&uncertainty=0.5"),
        ("mark-check?of=gold&assay=920", "mark=916,6", "mark=916.6"),
        ("alter-fineness?mass=20&unit=g&fineness=9 karat", "target=14,5 karat", "target=14.5 karat"),
        ("ring?action=convert&system=US", "size=7,25", "size=7.25"),
    ],
)
def test_every_kind_of_number_may_have_a_comma(web: Web, path: str, comma: str, point: str) -> None:
    answer = web("GET", f"/v1/{path}&{comma}&decimal=,")
    assert answer.status_code == 200, answer.text
    assert answer.json() == web("GET", f"/v1/{path}&{point}").json()
