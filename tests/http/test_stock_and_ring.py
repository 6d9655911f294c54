"""Stock and rings over HTTP: a cell gets its number, and what is refused says where."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
ProblemOf = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
WIRE = {"form": "round-wire", "metal": "sterling-silver", "diameter": "1.3 mm"}
CELLS = [
    ("stock", {**WIRE, "mass": "5", "mass_unit": "dwt"}, "565.6924"),
    ("stock", {**WIRE, "length": "1 m"}, "13.7458"),
    ("stock", {"form": "granules", "metal": "Ag", "diameter": "2 mm", "mass": "1 g"}, "22.7581"),
    ("ring", {"action": "convert", "size": "54", "system": "ISO", "to_system": "US"}, "6.8351"),
    ("ring", {"action": "convert", "size": "7", "system": "US"}, "17.3228"),
    ("ring", {"action": "blank", "size": "7", "system": "US", "thickness": "1.5 mm"}, "59.134"),
]
"""By hand, with pi to nine digits: 7.7758692/(10.356 x 1.327323), 1.327323 x 10.356, 1/(0.01049 x 4.18879),
(54/3.14159265 - 11.6332)/0.8128, 25.4 x (0.458 + 0.032 x 7), 3.14159265 x (17.3228 + 1.5)."""


@pytest.mark.parametrize(("name", "query", "text"), CELLS)
def test_a_cell_gets_its_number(web: Web, name: str, query: dict[str, str], text: str) -> None:
    answer = web("GET", f"/v1/{name}", params={**query, "format": "text"})
    assert (answer.status_code, answer.text) == (200, text)
    posted = {key: value for key, value in query.items() if not key.endswith("_unit")}
    if "mass_unit" in query:
        posted["mass"] = f"{query['mass']} {query['mass_unit']}"
    found = web("POST", f"/v1/{name}", json=posted).json()
    assert float(text) == found["result"]["answer"]["value"]
    assert found["inputs"]["form" if name == "stock" else "size"]


@pytest.mark.parametrize("size", [7, 7.0, "7", "7.0"])
def test_a_size_that_is_a_number_may_be_sent_as_one(web: Web, size: object) -> None:
    asked = {"action": "convert", "system": "US", "to_system": "UK"}
    found = web("POST", "/v1/ring", json={**asked, "size": size}).json()
    assert found["result"] == web("POST", "/v1/ring", json={**asked, "size": "7"}).json()["result"]
    sheet = {"form": "sheet", "metal": "Ag", "width": "1 cm", "length": "1 m", "gauge_system": "B&S"}
    masses = [
        web("POST", "/v1/stock", json={**sheet, "gauge": gauge}).json()["result"]["mass"] for gauge in (18, "18")
    ]
    assert masses[0] == masses[1]


@pytest.mark.parametrize(
    ("name", "body", "pointer"),
    [
        ("stock", {**WIRE, "mass": "5 dwt", "width": "1 mm"}, "/width"),
        ("stock", WIRE, ""),
        ("stock", {**WIRE, "mass": "5 oz"}, "/mass"),
        ("stock", {"form": "sheet", "metal": "Ag", "gauge": "18", "width": "1 mm", "mass": "1 g"}, "/gauge_system"),
        ("stock", {"form": "tube", "metal": "Ag", "diameter": "2 mm", "wall": "1 mm", "mass": "1 g"}, "/wall"),
        ("ring", {"action": "convert", "size": "54", "system": "UK"}, "/size"),
        ("ring", {"action": "convert", "size": -7, "system": "US"}, "/size"),
        ("ring", {"action": "convert", "size": True, "system": "US"}, "/size"),
        ("ring", {"action": "convert", "size": [7], "system": "US"}, "/size"),
        ("ring", {"action": "band-mass", "size": "7", "system": "US"}, "/profile"),
        ("ring", {"action": "resize", "size": "7", "system": "US", "to_size": "9", "thikness": "1 mm"}, "/thikness"),
    ],
)
def test_a_refusal_points_at_the_fault(
    web: Web, problem_of: ProblemOf, name: str, body: dict[str, Any], pointer: str
) -> None:
    problem = problem_of(web("POST", f"/v1/{name}", json=body), 422)
    assert pointer in [one["pointer"] for one in problem["errors"]]
    cell = web("GET", f"/v1/{name}", params={**body, "format": "text", "on_error": "text"})
    assert cell.status_code == 200
    assert cell.text


def test_a_warning_comes_with_its_standing(web: Web) -> None:
    asked = {
        "action": "resize",
        "method": "stretch",
        "size": "N",
        "system": "UK",
        "to_size": "P",
        "thickness": "2 mm",
    }
    result = web("POST", "/v1/ring", json=asked).json()["result"]
    assert [one["code"] for one in result["warnings"]] == ["ring-stretch-limit", "stones"]
    assert {one["status"] for one in result["warnings"]} == {"common-practice"}
    assert result["resize"]["metal"] is None
    rules = web("GET", "/v1/trade-rules").json()["trade_rules"]
    assert "ring-stretch-limit" in [one["id"] for one in rules]


def test_what_rounds_to_nothing_has_no_sign(web: Web) -> None:
    answer = web("POST", "/v1/ring", json={"action": "convert", "size": "0.999999", "system": "Japan"})
    assert answer.status_code == 200, answer.text
    assert "-0.0" not in re.findall(r"-?[0-9.]+", answer.text)
