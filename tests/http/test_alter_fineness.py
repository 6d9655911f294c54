"""Raising and lowering over a real socket: cells, refusals in words, and the same by POST."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
PATH = "/v1/alter-fineness"
CELL = {"mass": "25", "unit": "dwt", "fineness": "10 karat", "target": "14 karat", "format": "text"}


def test_a_cell_reads_the_addition_in_the_unit_it_gave(web: Web) -> None:
    answer = web("GET", PATH, params=CELL)
    assert (answer.status_code, answer.text) == (200, "10")


def test_a_catalogue_metal_by_post_and_by_get(web: Web) -> None:
    asked = {"mass": "10 g", "metal": "gold-585-yellow", "target": "750 permille", "with_metal": "fine-gold"}
    posted = web("POST", PATH, json=asked).json()
    assert web("GET", PATH, params=asked).json() == posted
    assert posted["result"]["fineness"] == {"value": 750, "unit": "permille"}
    assert sum(posted["result"]["composition"].values()) == pytest.approx(1000)


def test_what_cannot_be_reached_is_a_problem_in_words(web: Web, problem_of: Problem) -> None:
    asked = {"mass": "10 g", "fineness": "14 karat", "target": "18 karat", "with_fineness": "16 karat"}
    problem = problem_of(web("POST", PATH, json=asked), 422)
    assert problem["type"].endswith("/no-answer")
    assert "stays below" in problem["errors"][0]["detail"]
    cell = web("GET", PATH, params={**asked, "on_error": "text"})
    assert cell.text.startswith("#ERROR ")


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"target": "14 carat"}, "/target"),
        ({"target": {"value": "x", "unit": "karat"}}, "/target/value"),
        ({"target": ["14 karat"]}, "/target"),
        ({"targt": "14 karat"}, "/targt"),
        ({"fineness": "1e400 karat"}, "/fineness"),
        ({"mass": "1e30 kg"}, "/mass"),
        ({"mark": "585", "jurisdiction": "x" * 120}, "/jurisdiction"),
    ],
)
def test_a_fault_is_named_by_its_pointer(web: Web, problem_of: Problem, change: dict[str, Any], pointer: str) -> None:
    asked = {"mass": "10 g", "fineness": "10 karat", "target": "14 karat", **change}
    errors = problem_of(web("POST", PATH, json=asked), 422)["errors"]
    assert pointer in [one["pointer"] for one in errors]
