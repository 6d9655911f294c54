"""Orders that contradict themselves, many faults at once, and other calculations asked wrongly."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
Case = tuple[str, dict[str, Any], str, str, str | None]
pytestmark = pytest.mark.usefixtures("no_new_fault")
GOLD = {"composition": {"Au": 750, "Ag": 125, "Cu": 125}}
EUR = {"metal": "Au", "price": "104.50", "per": "g", "currency": "EUR"}
# What it is, what is changed in a sound order (`...` takes a field away), and then the pointer, the code and
# a suggestion that the answer must hold.
SENSE: list[Case] = [
    (
        "sum short",
        {"/final_metal": {"composition": {"Au": 750, "Ag": 125}}},
        "/final_metal/composition",
        "composition-sum",
        None,
    ),
    (
        "percent",
        {"/final_metal": {"composition": {"Au": 75, "Ag": 12.5, "Cu": 12.5}}},
        "/final_metal/composition",
        "composition-sum",
        None,
    ),
    (
        "sum just over",
        {"/final_metal": {"composition": {"Au": 750, "Cu": 250.51}}},
        "/final_metal/composition",
        "composition-sum",
        None,
    ),
    (
        "fractions",
        {"/final_metal": {"composition": {"Au": 0.75, "Cu": 0.25}}},
        "/final_metal/composition",
        "composition-sum",
        None,
    ),
    (
        "negative element",
        {"/final_metal": {"composition": {"Au": 1250, "Cu": -250}}},
        "/final_metal/composition/Cu",
        "out-of-range",
        None,
    ),
    (
        "melts before it melts",
        {"/final_metal": {**GOLD, "solidus": "900 C", "liquidus": "850 C"}},
        "/final_metal/solidus",
        "contradiction",
        None,
    ),
    (
        "sprue twice",
        {"/allowances": {"sprue_mass": "3 g", "sprue_share": 0.4}},
        "/allowances/sprue_share",
        "one-of",
        None,
    ),
    ("spares neither", {"/spares": {}}, "/spares", "one-of", None),
    ("spares both", {"/spares": {"count": 1, "success_rate": 0.9}}, "/spares", "one-of", None),
    (
        "two currencies",
        {"/prices": [EUR, {**EUR, "metal": "Ag", "currency": "USD"}]},
        "/prices/1/currency",
        "mixed-currencies",
        None,
    ),
    ("one metal priced twice", {"/prices": [EUR, EUR]}, "/prices/1/metal", "duplicate", None),
    ("price for a composition", {"/prices": [{**EUR, "metal": GOLD}]}, "/prices/0/metal", "missing", None),
    ("stones heavier than the trial", {"/stones": [{"mass": "40 ct"}]}, "/trial/mass", "out-of-range", None),
    (
        "many stones heavier than the trial",
        {"/stones": [{"mass": "1 ct", "count": 32}]},
        "/trial/mass",
        "out-of-range",
        None,
    ),
    (
        "stones larger than the model",
        {"/trial": ..., "/volume": "50 mm3", "/stones": [{"mass": "1 ct", "kind": "diamond"}]},
        "/stones",
        "out-of-range",
        None,
    ),
    (
        "stone of no density in a model",
        {"/trial": ..., "/volume": "900 mm3", "/stones": [{"mass": "1 ct"}]},
        "/stones/0/kind",
        "missing",
        None,
    ),
    ("finished heavier than cast", {"/trial/finished_mass": "6.4 g"}, "/trial/finished_mass", "out-of-range", None),
    (
        "finished mass of a finished trial",
        {"/trial/finished_mass": "6 g", "/trial/stage": "finished"},
        "/trial/finished_mass",
        "contradiction",
        None,
    ),
    ("sprue mass of a trial without sprue", {"/trial/sprue_mass": "1 g"}, "/trial/sprue_mass", "contradiction", None),
    (
        "sprue heavier than the trial",
        {"/trial/sprue_mass": "7 g", "/trial/stage": "with-sprue"},
        "/trial/sprue_mass",
        "out-of-range",
        None,
    ),
    (
        "fault in another piece",
        {"/others": [{"volume": "1 cm3"}, {"trial": {"metal": "Ag", "mass": "1 g"}, "stones": [{"mass": "9 ct"}]}]},
        "/others/1/trial/mass",
        "out-of-range",
        None,
    ),
]


@pytest.mark.parametrize("case", SENSE, ids=lambda case: case[0])
def test_it_is_refused_in_its_place(refused_order: Callable[..., None], case: Case) -> None:
    refused_order(*case[1:])


def test_percent_is_called_percent(web: Web, problem_of: Problem, sound_order: dict[str, Any]) -> None:
    percent = {"composition": {"Au": 75, "Ag": 12.5, "Cu": 12.5}}
    assert (
        "percent" in problem_of(web("POST", "/v1/order", json={**sound_order, "final_metal": percent}), 422)["detail"]
    )


@pytest.mark.parametrize("mass", ["6,31 g", {"value": "6,31", "unit": "g"}])
def test_a_decimal_comma_is_called_one(web: Web, problem_of: Problem, sound_order: dict[str, Any], mass: Any) -> None:
    order = {**sound_order, "trial": {**sound_order["trial"], "mass": mass}}
    document = problem_of(web("POST", "/v1/order", json=order), 422)
    assert document["errors"][0]["pointer"].startswith("/trial/mass")
    assert "'.'" in document["detail"]


def test_all_faults_are_told_at_once(web: Web, problem_of: Problem) -> None:
    trial = {"metal": "sterling-silver", "mass": "1 oz"}
    order = {"pieces": 0, "final_metal": "gild", "trial": trial, "colour": "red"}
    errors = problem_of(web("POST", "/v1/order", json=order), 422)["errors"]
    assert {issue["pointer"] for issue in errors} == {"/pieces", "/final_metal", "/trial/mass", "/colour"}


def test_a_flood_of_faults_is_cut_off(web: Web, problem_of: Problem, sound_order: dict[str, Any]) -> None:
    order = {**sound_order, **{f"field_{number}": 1 for number in range(3000)}}
    assert len(problem_of(web("POST", "/v1/order", json=order), 422)["errors"]) <= 100


@pytest.mark.parametrize("name", ["𝄞 clef", "Kette für Anhänger", "<script>", "a" * 120, "", "=1+1"])
def test_a_name_is_given_back_as_it_was(web: Web, sound_order: dict[str, Any], name: str) -> None:
    body = json.dumps({**sound_order, "name": name})
    answer = web("POST", "/v1/order", data=body, headers={"Content-Type": "application/json"})
    assert answer.json()["result"]["lines"][0]["name"] == name


@pytest.mark.parametrize("value", ["1", "1.0", 1, 1.0, "1e0", "+1"])
def test_a_number_may_be_a_number_or_a_string(web: Web, sound_order: dict[str, Any], value: Any) -> None:
    answer = web("POST", "/v1/order", json={**sound_order, "pieces": value})
    assert answer.json()["result"]["lines"][0]["pieces"] == 1


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"value": 1, "from": "oz", "to": "g"}, "/from"),
        ({"value": 1, "from": "g", "to": "ct", "decimals": 13}, "/decimals"),
        ({"value": 1, "from": "g"}, "/to"),
        ({"value": -1, "from": "g", "to": "ct"}, "/value"),
        ({"value": "1e13", "from": "g", "to": "ct"}, "/value"),
        ({"value": 1, "from_": "g", "to": "ct"}, "/from_"),
        ({"value": 1, "from": "g", "to": "ct", "rounding": "up and away"}, "/rounding"),
    ],
)
def test_a_wrong_mass(web: Web, problem_of: Problem, body: dict[str, Any], pointer: str) -> None:
    assert pointer in [issue["pointer"] for issue in problem_of(web("POST", "/v1/mass", json=body), 422)["errors"]]


@pytest.mark.parametrize("value", [25, "24.0000001"])
def test_more_than_fine_is_refused(web: Web, problem_of: Problem, value: Any) -> None:
    body = {"value": value, "from": "karat", "to": "permille"}
    assert problem_of(web("POST", "/v1/purity", json=body), 422)["errors"][0]["pointer"] == "/value"
    assert problem_of(web("GET", "/v1/purity", params={**body, "from": "ct"}), 422)["errors"][0]["pointer"] == "/from"
