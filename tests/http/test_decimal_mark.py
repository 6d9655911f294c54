"""`decimal=,`: csv and text for tables of a country that writes a comma, and numbers in the query with one."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]


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


def test_a_comma_without_asking_for_it_is_refused(web: Web, problem_of: Callable[..., dict[str, Any]]) -> None:
    problem = problem_of(web("GET", "/v1/mass?value=4,82&from=dwt&to=g"), 422)
    assert "decimal point" in problem["errors"][0]["detail"]


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
