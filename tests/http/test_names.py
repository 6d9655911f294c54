"""Names and aliases over HTTP: wherever an id is taken, an exact name is too."""

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
NAMED, BY_ID = ("Sterling", "14K yellow 20.5/21 gold"), ("sterling-silver", "gold-585-yellow")


def asked(web: Web, metals: tuple[str, str]) -> dict[str, Any]:
    params = {"mass": "4.82 g", "from_metal": metals[0], "to_metal": metals[1]}
    answer = web("GET", "/v1/transfer", params=params)
    assert answer.status_code == 200, answer.text
    document: dict[str, Any] = answer.json()
    assert web("POST", "/v1/transfer", json=params).json() == document
    return document


def test_a_name_is_answered_as_its_id(web: Web) -> None:
    assert asked(web, NAMED) == asked(web, BY_ID)


@pytest.mark.parametrize("size", [3, 40_000])
def test_rows_may_name_metals_so_too(web: Web, size: int) -> None:
    """Also by the way of many plain rows at once, where it is there."""
    rows = {}
    for metals in (NAMED, BY_ID):
        body = "mass,unit,from_metal,to_metal\n" + f"4.82,dwt,{metals[0]},{metals[1]}\n" * size
        answer = web("POST", "/v1/bulk/transfer", data=body, headers={"Content-Type": "text/csv"})
        rows[metals] = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(rows[NAMED]) == size
    for named, by_id in zip(*rows.values(), strict=True):
        assert named["error"] == ""
        assert named["result_mass"] == by_id["result_mass"]


def test_an_alloy_is_read_by_its_name(web: Web) -> None:
    assert web("GET", "/v1/alloys/crown gold").json()["id"] == "gold-917-red"
    for property_ in ("density", "karat"):
        path = f"/v1/alloys/{{}}/{property_}?format=text"
        assert web("GET", path.format("3n")).text == web("GET", path.format("gold-750-yellow")).text


def test_a_form_takes_a_name(web: Web) -> None:
    form = {"/trial/metal": "Sterling silver", "/trial/mass": "6.31 g", "/final_metal": "crown gold"}
    page = web("POST", "/order", data=form)
    assert page.status_code == 200
    assert "gold-917-red" in page.text


def test_the_description_lists_the_names(description: dict[str, Any]) -> None:
    schemas = description["components"]["schemas"]
    assert {"crown gold", "3N"} <= set(schemas["AlloyName"]["enum"])
    assert {"14 ct yellow", "14k yellow", "950 platinum"} <= set(schemas["TradeNameOfMetal"]["enum"])
    assert {"$ref": "#/components/schemas/AlloyName"} in schemas["MetalName"]["oneOf"]
    names = [set(schemas[name]["enum"]) for name in ("AlloyName", "TradeNameOfMetal", "MetalId")]
    assert sum(map(len, names)) == len(set[str]().union(*names))


@pytest.mark.parametrize(
    ("path", "value"),
    [("density", "19.3"), ("solidus", "1064.18"), ("liquidus", "1064.18"), ("fineness", "1000"), ("karat", "24")],
)
def test_an_element_has_its_numbers_too(web: Web, path: str, value: str) -> None:
    """Gold: 19.30 g/cm3 at 20 C, and the fixed point of the ITS-90."""
    address = f"/v1/alloys/Au/{path}"
    assert float(web("GET", address, params={"format": "text"}).text) == float(value)
    document = web("GET", address).json()
    assert (document["alloy"], document["property"], document["value"]) == ("Au", path, float(value))
    assert document["source"]


def test_one_number_also_comes_as_a_row(web: Web) -> None:
    answer = web("GET", "/v1/alloys/sterling-silver/density", params={"format": "csv", "unit": "kg/m3"})
    assert answer.headers["Content-Type"].startswith("text/csv")
    (row,) = csv.DictReader(io.StringIO(answer.text))
    assert (row["alloy"], row["unit"], float(row["value"])) == ("sterling-silver", "kg/m3", 10356)


def test_what_is_neither_alloy_nor_element_is_not_found(web: Web, problem_of: Problem) -> None:
    for name in ("Xx", "gold", "nothing-such"):
        problem_of(web("GET", f"/v1/alloys/{name}/density"), 404)


def test_a_name_of_several_alloys_is_refused_with_them_wherever_a_metal_is_named(
    web: Web, problem_of: Problem
) -> None:
    named = {"mass": "4.82 g", "from_metal": "sterling-silver", "to_metal": "Brass"}
    for answer, pointer in (
        (web("POST", "/v1/transfer", json=named), "/to_metal"),
        (web("GET", "/v1/transfer", params=named), "/to_metal"),
        (web("GET", "/v1/alloys/brass"), ""),
        (web("GET", "/v1/alloys/brass/density"), ""),
    ):
        (issue,) = problem_of(answer, 422)["errors"]
        assert (issue["pointer"], issue["code"]) == (pointer, "ambiguous-metal")
        assert {"brass-c26000", "brass-c23000"} <= set(issue["suggestions"])
    body = "mass,unit,from_metal,to_metal\n4.82,g,sterling-silver,brass\n4.82,g,sterling-silver,brass-c26000\n"
    answer = web("POST", "/v1/bulk/transfer", data=body, headers={"Content-Type": "text/csv"})
    vague, exact = csv.DictReader(io.StringIO(answer.text))
    assert "[ambiguous-metal]" in vague["error"]
    assert (exact["error"], vague["result_mass"]) == ("", "")


def test_the_finder_finds_all_that_a_name_stands_for(web: Web) -> None:
    found = {one["id"] for one in web("GET", "/v1/alloys", params={"q": "950 platinum"}).json()["alloys"]}
    assert {"platinum-950-ru", "platinum-950-co", "platinum-950-ir"} <= found
