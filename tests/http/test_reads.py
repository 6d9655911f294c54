"""Every table, as JSON and as csv: the same rows, the same values, and those of the reference data."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
import requests

from alloyref.domain.reference import Reference

Web = Callable[..., requests.Response]
pytestmark = pytest.mark.usefixtures("no_new_fault")
TABLES = {
    "elements": lambda data: list(data.elements),
    "units": lambda data: [one.symbol for one in data.units.all],
    "sources": lambda data: list(data.sources),
    "patterns": lambda data: list(data.patterns),
    "stones": lambda data: list(data.stones),
    "trade-rules": lambda data: list(data.rules),
    "constants": lambda data: list(data.constants),
    "cautions": lambda data: [one.id for one in data.cautions],
    "fineness-marks": lambda data: [one.jurisdiction for one in data.marks],
    "trade-names": lambda data: list(data.trade_names),
    "gauges": lambda data: [one.system for one in data.gauges],
    "ring-sizes": lambda data: [one.system for one in data.ring_sizes],
    "colour-designations": lambda data: [one.designation for one in data.colour_designations],
    "alloys": lambda data: sorted(data.alloys),
}
FIRST_COLUMN = {
    "elements": "symbol",
    "units": "symbol",
    "fineness-marks": "jurisdiction",
    "gauges": "system",
    "ring-sizes": "system",
    "colour-designations": "designation",
}
IN_A_CELL = {True: "true", False: "false", None: ""}


def cells_of(row: dict[str, Any]) -> dict[str, Any]:
    """A row of the JSON table as its cells should be in csv."""
    cells: dict[str, Any] = {}
    for name, value in row.items():
        if isinstance(value, dict) and "status" in value:
            parts = {"": value["value"]} | {
                f"_{part}": value[part] for part in ("low", "high", "unit", "status", "source")
            }
            cells |= {name + part: inner for part, inner in parts.items()}
        elif isinstance(value, dict):
            cells[name] = " ".join(f"{symbol} {share.normalize():f}" for symbol, share in value.items())
        elif isinstance(value, list):
            cells[name] = ";".join(value)
        else:
            cells[name] = IN_A_CELL[value] if value is None or isinstance(value, bool) else value
    return cells


def same(cell: str, value: Any) -> bool:
    """Whether a csv cell says what the JSON value says."""
    if isinstance(value, Decimal):
        return Decimal(cell) == value
    return bool(cell == value or (cell.startswith("'") and cell[1:] == value))


@pytest.mark.parametrize("name", TABLES)
def test_the_rows_are_those_of_the_reference_data(web: Web, reference: Reference, name: str) -> None:
    expected = TABLES[name](reference)
    document = web("GET", f"/v1/{name}", params={"page_size": "500"} if name == "alloys" else {}).json()
    rows = document[name.replace("-", "_")]
    assert [row[FIRST_COLUMN.get(name, "id")] for row in rows] == expected
    assert document["total"] == len(expected) > 0
    assert document["dataset"] == {"version": reference.dataset.version, "hash": reference.dataset.hash}


@pytest.mark.parametrize("name", TABLES)
def test_the_suffix_the_parameter_and_the_header_give_the_same_csv(web: Web, name: str) -> None:
    paged = {"page_size": "500"} if name == "alloys" else {}
    by_suffix = web("GET", f"/v1/{name}.csv")
    assert by_suffix.headers["Content-Type"].startswith("text/csv")
    assert by_suffix.content == web("GET", f"/v1/{name}", params={"format": "csv", **paged}).content
    assert by_suffix.content == web("GET", f"/v1/{name}", headers={"Accept": "text/csv"}, params=paged).content


@pytest.mark.parametrize("name", TABLES)
def test_csv_says_what_json_says(web: Web, name: str) -> None:
    paged = {"page_size": "500"} if name == "alloys" else {}
    document = json.loads(web("GET", f"/v1/{name}", params=paged).content, parse_float=Decimal, parse_int=Decimal)
    rows = document[name.replace("-", "_")]
    text = web("GET", f"/v1/{name}.csv").content.decode("utf-8")
    assert text.endswith("\r\n")
    table = list(csv.DictReader(io.StringIO(text, newline=""), strict=True))
    assert len(table) == len(rows)
    wrong = [
        (line, column, cell, value)
        for line, row in zip(table, rows, strict=True)
        for column, value in cells_of(row).items()
        if not same(cell := line[column], value)
    ]
    assert wrong == []


@pytest.mark.parametrize("name", TABLES)
def test_no_csv_cell_is_a_formula(web: Web, name: str) -> None:
    rows = csv.reader(io.StringIO(web("GET", f"/v1/{name}.csv").content.decode("utf-8"), newline=""), strict=True)
    signs = [cell for row in rows for cell in row if cell.startswith(("=", "+", "@", "\t", "\r"))]
    minus = [cell for row in rows for cell in row if cell.startswith("-") and not cell[1:].replace(".", "").isdigit()]
    assert signs + minus == []


def test_every_cited_source_can_be_resolved(web: Web) -> None:
    known = {row["id"] for row in web("GET", "/v1/sources").json()["sources"]}
    cited = set()
    for row in web("GET", "/v1/alloys", params={"page_size": "500"}).json()["alloys"]:
        cited.add(row["composition_source"])
        cited.update(
            row[name]["source"] for name in ("fineness", "density", "solidus", "liquidus", "hardness") if row[name]
        )
    assert len(cited) > 10
    assert cited <= known
    for name in sorted(cited):
        entry = web("GET", f"/v1/sources/{name}")
        assert entry.status_code == 200
        assert entry.json()["id"] == name


def test_a_source_lists_every_value_that_rests_on_it(web: Web, reference: Reference) -> None:
    for name in ("karmarsch-1877", "astm-b258-quoted", "wgc-carat-golds-memory", "caller"):
        supports = web("GET", f"/v1/sources/{name}").json()["supports"]
        expected = [one for one in reference.citations if one.source == name]
        assert [tuple(one.values()) for one in supports] == [
            (one.table, one.id, one.field, one.status) for one in expected
        ]
    sterling = {"table": "alloys", "id": "sterling-silver", "field": "density", "status": "measured"}
    assert sterling in web("GET", "/v1/sources/karmarsch-1877").json()["supports"]
    assert web("GET", "/v1/sources/caller").json()["supports"] == []
    assert "supports" not in web("GET", "/v1/sources").json()["sources"][0]


def test_the_dataset_counts_values_by_standing(web: Web) -> None:
    document = web("GET", "/v1/dataset").json()
    standings = document["standings"]
    assert standings["alloys.density"] == document["statuses"]
    assert sum(standings["gauges.diameter"].values()) == document["counts"]["gauges"] == 117
    assert sum(standings["ring-sizes.diameter"].values()) == document["counts"]["ring_sizes"] == 231


def test_an_alloy_is_given_whole_with_the_figures_it_rests_on(web: Web, reference: Reference) -> None:
    document = web("GET", "/v1/alloys/sterling-silver").json()
    alloy = reference.alloys["sterling-silver"]
    assert document["composition"] == {"Ag": 925, "Cu": 75}
    assert document["density"]["value"] == float(alloy.metal.density.value)
    assert document["density"]["low"] <= document["density"]["value"] <= document["density"]["high"]
    assert [one["row"] for one in document["published"]] == [one.row for one in alloy.published]
    assert any(one["preferred"] and one["property"] == "density" for one in document["published"])
    assert document["karat"] is None
    assert document["dataset"]["hash"] == reference.dataset.hash


def test_the_dataset_counts_what_the_tables_hold(web: Web) -> None:
    counts = web("GET", "/v1/dataset").json()["counts"]
    assert set(counts) == {name.replace("-", "_") for name in TABLES}
    for name in TABLES:
        assert counts[name.replace("-", "_")] == web("GET", f"/v1/{name}").json()["total"]


@pytest.mark.parametrize("path", ["/v1/alloys/sterling-silvr", "/v1/elements/ag", "/v1/sources/ideal-mixin"])
def test_an_unknown_entry_names_near_ones(
    web: Web, problem_of: Callable[[requests.Response, int], dict[str, Any]], path: str
) -> None:
    near = {"alloys": "sterling-silver", "elements": "Ag", "sources": "ideal-mixing"}[path.split("/")[2]]
    document = problem_of(web("GET", path), 404)
    assert near in document["errors"][0]["suggestions"]
    assert near in document["detail"]
