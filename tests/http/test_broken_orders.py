"""Orders with one thing wrong each: refused in its place, with a code, and with what would have been right."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
GONE = object()
BASE = {
    "name": "reed-pattern band",
    "trial": {"metal": "sterling-silver", "mass": "6.31 g"},
    "final_metal": "gold-585-yellow",
    "pieces": 2,
}
GOLD = {"composition": {"Au": 750, "Ag": 125, "Cu": 125}}
EUR = {"metal": "Au", "price": "104.50", "per": "g", "currency": "EUR"}
Case = tuple[str, dict[str, Any], str, str, str | None]
# what it is, what is changed, and the pointer, the code and a suggestion that the answer must hold
MISSING: list[Case] = [
    ("no final metal", {"/final_metal": GONE}, "/final_metal", "missing", None),
    ("null final metal", {"/final_metal": None}, "/final_metal", "null", None),
    ("null optional", {"/name": None}, "/name", "null", None),
    ("no mass", {"/trial/mass": GONE}, "/trial/mass", "missing", None),
    ("no trial metal", {"/trial/metal": GONE}, "/trial/metal", "missing", None),
    ("empty trial", {"/trial": {}}, "/trial/mass", "missing", None),
    ("no unit", {"/trial/mass": {"value": 6.31}}, "/trial/mass/unit", "missing", None),
    ("no value", {"/trial/mass": {"unit": "g"}}, "/trial/mass/value", "missing", None),
    ("empty quantity", {"/trial/mass": {}}, "/trial/mass/value", "missing", None),
    ("no way in", {"/trial": GONE}, "", "one-of", None),
    ("two ways in", {"/pattern": {"mass": "0.6 g"}}, "", "one-of", None),
    ("three ways in", {"/pattern": {"mass": "0.6 g"}, "/volume": "600 mm3"}, "", "one-of", None),
    ("other without a way in", {"/others": [{"name": "pendant"}]}, "/others/0", "one-of", None),
]
MISSPELT: list[Case] = [
    ("misspelt field", {"/peices": 2}, "/peices", "unknown-field", "pieces"),
    ("misspelt nested field", {"/trial/mas": "1 g"}, "/trial/mas", "unknown-field", "mass"),
    ("misspelt in a list", {"/on_hand": [{"metal": "Au", "mass": "1 g", "knd": "scrap"}]}, "/on_hand/0/knd", "unknown-field", "kind"),
    ("misspelt quantity field", {"/trial/mass": {"value": 1, "unti": "g"}}, "/trial/mass/unti", "unknown-field", "unit"),
    ("field with a slash", {"/trial/a~1b": 1}, "/trial/a~1b", "unknown-field", None),
    ("misspelt stage", {"/trial/stage": "ascast"}, "/trial/stage", "not-an-option", "as-cast"),
    ("misspelt form", {"/purchase": {"form": "fine and master"}}, "/purchase/form", "not-an-option", "fine-and-master"),
    ("misspelt method", {"/casting": {"method": "vacum"}}, "/casting/method", "not-an-option", "vacuum"),
    ("misspelt metal", {"/final_metal": "gold-585-yelow"}, "/final_metal", "unknown-metal", "gold-585-yellow"),
    ("misspelt trial metal", {"/trial/metal": "sterling silvr"}, "/trial/metal", "unknown-metal", "sterling-silver"),
    ("misspelt element", {"/final_metal": {"composition": {"AU": 750, "Ag": 250}}}, "/final_metal/composition/AU", "unknown-element", "Au"),
    ("misspelt material", {"/trial": GONE, "/pattern": {"mass": "1 g", "material": "injection wax"}}, "/pattern/material", "not-an-option", "injection-wax"),
    ("misspelt stone", {"/stones": [{"mass": "0.1 ct", "kind": "dimond"}]}, "/stones/0/kind", "not-an-option", "diamond"),
    ("name with a tilde", {"/a~0b": 1}, "/a~0b", "unknown-field", None),
]
UNITS: list[Case] = [
    ("ounce", {"/trial/mass": "1 oz"}, "/trial/mass", "unit-ambiguous", "ozt"),
    ("ounce apart", {"/trial/mass": {"value": 1, "unit": "oz"}}, "/trial/mass/unit", "unit-ambiguous", "oz_av"),
    ("no unit in the string", {"/trial/mass": "6.31"}, "/trial/mass", "unit-missing", "g"),
    ("bare number", {"/trial/mass": 6.31}, "/trial/mass", "unit-missing", "g"),
    ("volume for mass", {"/trial/mass": "6.31 cm3"}, "/trial/mass", "unit-dimension", "g"),
    ("mass for volume", {"/trial": GONE, "/volume": "6 g"}, "/volume", "unit-dimension", "cm3"),
    ("length for mass, apart", {"/trial/mass": {"value": 6, "unit": "mm"}}, "/trial/mass/unit", "unit-dimension", "g"),
    ("unknown unit", {"/trial/mass": "6.31 grms"}, "/trial/mass", "unit-unknown", "grams"),
    ("unit that is a number", {"/trial/mass": {"value": 6, "unit": 1}}, "/trial/mass/unit", "not-a-string", None),
    ("unit that is null", {"/trial/mass": {"value": 6, "unit": None}}, "/trial/mass/unit", "not-a-string", None),
    ("price per ounce", {"/prices": [{**EUR, "per": "oz"}]}, "/prices/0/per", "unit-ambiguous", "ozt"),
    ("price per millimetre", {"/prices": [{**EUR, "per": "mm"}]}, "/prices/0/per", "unit-dimension", "g"),
]
MAGNITUDES: list[Case] = [
    ("negative mass", {"/trial/mass": "-6.31 g"}, "/trial/mass", "out-of-range", None),
    ("zero mass", {"/trial/mass": "0 g"}, "/trial/mass", "out-of-range", None),
    ("minus zero mass", {"/trial/mass": {"value": -0.0, "unit": "g"}}, "/trial/mass", "out-of-range", None),
    ("two tonnes", {"/trial/mass": "2000 kg"}, "/trial/mass", "out-of-range", None),
    ("a speck", {"/trial/mass": "0.0000000001 g"}, "", "too-small", None),
    ("1e30", {"/trial/mass": "1e30 g"}, "/trial/mass", "out-of-range", None),
    ("1e31", {"/trial/mass": "1e31 g"}, "/trial/mass", "number-out-of-range", None),
    ("1e400", {"/trial/mass": "1e400 g"}, "/trial/mass", "number-out-of-range", None),
    ("1e400 apart", {"/trial/mass": {"value": "1e400", "unit": "g"}}, "/trial/mass/value", "number-out-of-range", None),
    ("1e-400", {"/trial/mass": "1e-400 g"}, "/trial/mass", "number-out-of-range", None),
    ("1e1000", {"/trial/mass": {"value": "1e1000", "unit": "g"}}, "/trial/mass/value", "not-a-number", None),
    ("1e300 as a number", {"/trial/mass": {"value": 1e300, "unit": "g"}}, "/trial/mass/value", "number-out-of-range", None),
    ("50 digits", {"/trial/mass": {"value": "1." + "3" * 49, "unit": "g"}}, "/trial/mass/value", "number-too-long", None),
    ("50 digits in a string", {"/trial/mass": "1." + "3" * 49 + " g"}, "/trial/mass", "number-too-long", None),
    ("NaN as text", {"/trial/mass": {"value": "NaN", "unit": "g"}}, "/trial/mass/value", "not-a-number", None),
    ("Infinity as text", {"/trial/mass": "Infinity g"}, "/trial/mass", "not-a-quantity", None),
    ("underscores", {"/pieces": "1_000"}, "/pieces", "not-a-number", None),
    ("other digits", {"/pieces": "٣"}, "/pieces", "not-a-number", None),
    ("zero density", {"/final_metal": {**GOLD, "density": "0 g/cm3"}}, "/final_metal/density", "out-of-range", None),
    ("negative density", {"/final_metal": {**GOLD, "density": "-15 g/cm3"}}, "/final_metal/density", "out-of-range", None),
    ("impossible density", {"/final_metal": {**GOLD, "density": "155 g/cm3"}}, "/final_metal/density", "out-of-range", None),
    ("no pieces", {"/pieces": 0}, "/pieces", "out-of-range", None),
    ("half a piece", {"/pieces": 1.5}, "/pieces", "not-whole", None),
    ("too many pieces", {"/pieces": 10_001}, "/pieces", "out-of-range", None),
    ("all is lost", {"/allowances": {"melt_loss": 1}}, "/allowances/melt_loss", "out-of-range", None),
    ("percent for a share", {"/allowances": {"finishing_loss": 10}}, "/allowances/finishing_loss", "out-of-range", None),
    ("negative share", {"/allowances": {"melt_loss": -0.01}}, "/allowances/melt_loss", "out-of-range", None),
    ("no step", {"/purchase": {"increment": "0 g"}}, "/purchase/increment", "out-of-range", None),
    ("negative price", {"/prices": [{**EUR, "price": -1}]}, "/prices/0/price", "out-of-range", None),
    ("sure beyond doubt", {"/spares": {"success_rate": 0.5, "confidence": 1}}, "/spares/confidence", "out-of-range", None),
    ("never succeeds", {"/spares": {"success_rate": 0}}, "/spares/success_rate", "out-of-range", None),
    ("hardly ever succeeds", {"/spares": {"success_rate": 0.00001}}, "/spares/success_rate", "no-answer", None),
    ("too many others", {"/others": [{"volume": "1 cm3"}] * 101}, "/others", "too-many", None),
]
TYPES: list[Case] = [
    ("pieces true", {"/pieces": True}, "/pieces", "not-a-number", None),
    ("share false", {"/allowances": {"melt_loss": False}}, "/allowances/melt_loss", "not-a-number", None),
    ("value true", {"/trial/mass": {"value": True, "unit": "g"}}, "/trial/mass/value", "not-a-number", None),
    ("pieces list", {"/pieces": [2]}, "/pieces", "not-a-number", None),
    ("pieces object", {"/pieces": {}}, "/pieces", "not-a-number", None),
    ("name number", {"/name": 7}, "/name", "not-a-string", None),
    ("trial string", {"/trial": "6.31 g"}, "/trial", "not-an-object", None),
    ("trial list", {"/trial": []}, "/trial", "not-an-object", None),
    ("others object", {"/others": {}}, "/others", "not-a-list", None),
    ("others string", {"/others": "pendant"}, "/others", "not-a-list", None),
    ("an other that is a number", {"/others": [3]}, "/others/0", "not-an-object", None),
    ("metal number", {"/final_metal": 585}, "/final_metal", "not-a-metal", None),
    ("metal list", {"/final_metal": ["Au"]}, "/final_metal", "not-a-metal", None),
    ("metal empty object", {"/final_metal": {}}, "/final_metal/composition", "missing", None),
    ("metal empty string", {"/final_metal": ""}, "/final_metal", "unknown-metal", None),
    ("mass list", {"/trial/mass": ["6.31 g"]}, "/trial/mass", "unit-missing", None),
    ("mass true", {"/trial/mass": True}, "/trial/mass", "unit-missing", None),
    ("mass empty string", {"/trial/mass": ""}, "/trial/mass", "not-a-quantity", None),
    ("stage number", {"/trial/stage": 1}, "/trial/stage", "not-an-option", None),
    ("stage list", {"/trial/stage": ["as-cast"]}, "/trial/stage", "not-an-option", None),
    ("kind object", {"/stones": [{"mass": "1 ct", "kind": {}}]}, "/stones/0/kind", "not-an-option", None),
    ("composition list", {"/final_metal": {"composition": [750]}}, "/final_metal/composition", "not-an-object", None),
    ("composition empty", {"/final_metal": {"composition": {}}}, "/final_metal/composition", "not-an-object", None),
    ("share true", {"/final_metal": {"composition": {"Au": True}}}, "/final_metal/composition/Au", "not-a-number", None),
    ("share null", {"/final_metal": {"composition": {"Au": None}}}, "/final_metal/composition/Au", "not-a-number", None),
    ("name too long", {"/name": "a" * 121}, "/name", "too-long", None),
    ("name on two lines", {"/name": "reed\nband"}, "/name", "wrong-form", None),
    ("currency in words", {"/prices": [{**EUR, "currency": "euro"}]}, "/prices/0/currency", "wrong-form", None),
    ("date the other way round", {"/prices": [{**EUR, "date": "20.11.2026"}]}, "/prices/0/date", "wrong-form", None),
]
SENSE: list[Case] = [
    ("sum short", {"/final_metal": {"composition": {"Au": 750, "Ag": 125}}}, "/final_metal/composition", "composition-sum", None),
    ("percent", {"/final_metal": {"composition": {"Au": 75, "Ag": 12.5, "Cu": 12.5}}}, "/final_metal/composition", "composition-sum", None),
    ("sum just over", {"/final_metal": {"composition": {"Au": 750, "Cu": 250.51}}}, "/final_metal/composition", "composition-sum", None),
    ("fractions", {"/final_metal": {"composition": {"Au": 0.75, "Cu": 0.25}}}, "/final_metal/composition", "composition-sum", None),
    ("negative element", {"/final_metal": {"composition": {"Au": 1250, "Cu": -250}}}, "/final_metal/composition/Cu", "out-of-range", None),
    ("melts before it melts", {"/final_metal": {**GOLD, "solidus": "900 C", "liquidus": "850 C"}}, "/final_metal/solidus", "contradiction", None),
    ("sprue twice", {"/allowances": {"sprue_mass": "3 g", "sprue_share": 0.4}}, "/allowances/sprue_share", "one-of", None),
    ("spares neither", {"/spares": {}}, "/spares", "one-of", None),
    ("spares both", {"/spares": {"count": 1, "success_rate": 0.9}}, "/spares", "one-of", None),
    ("two currencies", {"/prices": [EUR, {**EUR, "metal": "Ag", "currency": "USD"}]}, "/prices/1/currency", "mixed-currencies", None),
    ("one metal priced twice", {"/prices": [EUR, EUR]}, "/prices/1/metal", "duplicate", None),
    ("price for a composition", {"/prices": [{**EUR, "metal": GOLD}]}, "/prices/0/metal", "missing", None),
    ("stones heavier than the trial", {"/stones": [{"mass": "40 ct"}]}, "/trial/mass", "out-of-range", None),
    ("many stones heavier than the trial", {"/stones": [{"mass": "1 ct", "count": 32}]}, "/trial/mass", "out-of-range", None),
    ("stones larger than the model", {"/trial": GONE, "/volume": "50 mm3", "/stones": [{"mass": "1 ct", "kind": "diamond"}]}, "/stones", "out-of-range", None),
    ("stone of no density in a model", {"/trial": GONE, "/volume": "900 mm3", "/stones": [{"mass": "1 ct"}]}, "/stones/0/kind", "missing", None),
    ("finished heavier than cast", {"/trial/finished_mass": "6.4 g"}, "/trial/finished_mass", "out-of-range", None),
    ("finished mass of a finished trial", {"/trial/finished_mass": "6 g", "/trial/stage": "finished"}, "/trial/finished_mass", "contradiction", None),
    ("sprue mass of a trial without sprue", {"/trial/sprue_mass": "1 g"}, "/trial/sprue_mass", "contradiction", None),
    ("sprue heavier than the trial", {"/trial/sprue_mass": "7 g", "/trial/stage": "with-sprue"}, "/trial/sprue_mass", "out-of-range", None),
    ("fault in another piece", {"/others": [{"volume": "1 cm3"}, {"trial": {"metal": "Ag", "mass": "1 g"}, "stones": [{"mass": "9 ct"}]}]}, "/others/1/trial/mass", "out-of-range", None),
]
CASES = [*MISSING, *MISSPELT, *UNITS, *MAGNITUDES, *TYPES, *SENSE]


def changed(changes: dict[str, Any]) -> dict[str, Any]:
    """The base order with the places changed that the pointers name."""
    order: dict[str, Any] = copy.deepcopy(BASE)
    for pointer, value in changes.items():
        *way, last = (step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:])
        place = order
        for step in way:
            place = place[step]
        if value is GONE:
            del place[last]
        else:
            place[last] = value
    return order


def test_the_base_order_has_nothing_wrong(web: Web) -> None:
    assert web("POST", "/v1/order", json=BASE).status_code == 200


@pytest.mark.parametrize(("changes", "pointer", "code", "suggestion"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_it_is_refused_in_its_place(
    web: Web, problem_of: Problem, changes: dict[str, Any], pointer: str, code: str, suggestion: str | None
) -> None:
    document = problem_of(web("POST", "/v1/order", json=changed(changes)), 422)
    issues = {(issue["pointer"], issue["code"]): issue for issue in document["errors"]}
    assert (pointer, code) in issues, document["errors"]
    assert suggestion is None or suggestion in issues[pointer, code]["suggestions"]


def test_percent_is_called_percent(web: Web, problem_of: Problem) -> None:
    percent = {"composition": {"Au": 75, "Ag": 12.5, "Cu": 12.5}}
    assert "percent" in problem_of(web("POST", "/v1/order", json={**BASE, "final_metal": percent}), 422)["detail"]


@pytest.mark.parametrize("mass", ["6,31 g", {"value": "6,31", "unit": "g"}])
def test_a_decimal_comma_is_called_one(web: Web, problem_of: Problem, mass: Any) -> None:
    document = problem_of(web("POST", "/v1/order", json=changed({"/trial/mass": mass})), 422)
    assert document["errors"][0]["pointer"].startswith("/trial/mass")
    assert "'.'" in document["detail"]


def test_all_faults_are_told_at_once(web: Web, problem_of: Problem) -> None:
    order = changed({"/pieces": 0, "/final_metal": "gild", "/trial/mass": "1 oz", "/colour": "red"})
    errors = problem_of(web("POST", "/v1/order", json=order), 422)["errors"]
    assert {issue["pointer"] for issue in errors} == {"/pieces", "/final_metal", "/trial/mass", "/colour"}


def test_a_flood_of_faults_is_cut_off(web: Web, problem_of: Problem) -> None:
    order = {**BASE, **{f"field_{number}": 1 for number in range(3000)}}
    assert len(problem_of(web("POST", "/v1/order", json=order), 422)["errors"]) <= 100


@pytest.mark.parametrize("name", ["𝄞 clef", "Kette für Anhänger", "<script>", "a" * 120, "", "=1+1"])
def test_a_name_is_given_back_as_it_was(web: Web, name: str) -> None:
    body = json.dumps({**BASE, "name": name})
    answer = web("POST", "/v1/order", data=body, headers={"Content-Type": "application/json"})
    assert answer.json()["result"]["lines"][0]["name"] == name


@pytest.mark.parametrize("value", ["1", "1.0", 1, 1.0, "1e0", "+1"])
def test_a_number_may_be_a_number_or_a_string(web: Web, value: Any) -> None:
    answer = web("POST", "/v1/order", json={**BASE, "pieces": value})
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
