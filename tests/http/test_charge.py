"""Charges over a real socket: the recipe, the reasons where there is none, and refusals in their place."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest
import requests

from alloyref.domain.charge import CHARGE

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
PATH = "/v1/charge"


@pytest.fixture
def asked() -> dict[str, Any]:
    """The declared example, to be changed."""
    return deepcopy(CHARGE.example)


def test_a_recipe_sums_in_the_numbers_as_served(web: Web, asked: dict[str, Any]) -> None:
    result = web("POST", PATH, json=asked).json()["result"]
    assert result["possible"] is True
    assert sum(line["mass"]["value"] for line in result["recipe"]) == pytest.approx(result["mass"]["value"])
    assert sum(result["elements"].values()) == pytest.approx(result["mass"]["value"])
    assert result["fineness"]["value"] >= 585
    assert set(result["mass"]["display"]) == {"g", "dwt", "ozt"}
    assert result["cost"]["value"] >= result["least_cost"]["value"]
    scrap = sum(line["mass"]["value"] for line in result["recipe"] if line["kind"] == "scrap")
    assert scrap <= 0.5 * result["mass"]["value"] + 1e-9


def test_the_impossible_is_an_answer_with_its_reasons(web: Web, asked: dict[str, Any]) -> None:
    asked["shelf"] = asked["shelf"][1:]
    answer = web("POST", PATH, json=asked)
    assert answer.status_code == 200
    result = answer.json()["result"]
    assert result["possible"] is False
    assert (result["recipe"], result["mass"], result["cost"]) == ([], None, None)
    assert result["changes"]
    assert all(one["words"] in result["summary"] for one in result["changes"])


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"lots": [{"id": "x", "mass": "1 oz", "metal": "Au"}]}, "/lots/0/mass"),
        ({"lots": [{"id": "x", "mass": "1 g", "metal": "Au", "kinds": "scrap"}]}, "/lots/0/kinds"),
        ({"target": {"mass": "60 g", "windows": [{"elements": ["Au"]}]}}, "/target/windows/0/elements"),
        ({"lots": "all"}, "/lots"),
        ({"shelf": [{"metal": "Au", "price": "NaN"}]}, "/shelf/0/price"),
        ({"step": "0.00001 g"}, "/step"),
        ({"currency": "euro"}, "/currency"),
    ],
)
def test_a_fault_is_named_by_its_pointer(
    web: Web, problem_of: Problem, asked: dict[str, Any], change: dict[str, Any], pointer: str
) -> None:
    errors = problem_of(web("POST", PATH, json={**asked, **change}), 422)["errors"]
    assert pointer in [one["pointer"] for one in errors]


def test_two_hundred_lots_fit_a_body(web: Web, asked: dict[str, Any]) -> None:
    metal = {"composition": {"Au": 585, "Ag": 200, "Cu": 215}}
    asked["lots"] = [
        {"id": f"lot {n}", "mass": f"{n % 7 + 1} g", "metal": metal, "price": 55 + n / 100} for n in range(200)
    ]
    result = web("POST", PATH, json=asked).json()["result"]
    assert result["possible"] is True
    assert len(result["recipe"]) < 40


def test_too_many_lots_are_refused(web: Web, problem_of: Problem, asked: dict[str, Any]) -> None:
    asked["lots"] = [{"id": str(n), "mass": "1 g", "metal": "Au"} for n in range(501)]
    errors = problem_of(web("POST", PATH, json=asked), 422)["errors"]
    assert [(one["pointer"], one["code"]) for one in errors] == [("/lots", "too-many")]


@pytest.mark.parametrize("price", ["-0", -0.0])
def test_a_negative_zero_is_zero(web: Web, asked: dict[str, Any], price: object) -> None:
    for one in asked["shelf"][1:]:
        one["price"] = price
    answer = web("POST", PATH, json=asked)
    assert answer.status_code == 200, answer.text
    assert "-0.0" not in answer.text
