"""What an answer shows of its inputs is sent again, one figure changed or none; what cannot be meant is refused."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest
import requests

from alloyref.services.calculations import CALCULATIONS

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
OWN = {"composition": {"Au": 585, "Ag": 205, "Cu": 210}, "name": "old rings"}
MEASURED = {**OWN, "density": "13.1 g/cm3", "solidus": "830 C"}
TRANSFER = {"mass": "4.82 dwt", "from_metal": "sterling-silver", "to_metal": OWN}


def answered(web: Web, name: str, inputs: Any) -> dict[str, Any]:
    answer = web("POST", f"/v1/{name}", json=inputs)
    assert answer.status_code == 200, answer.text
    document: dict[str, Any] = answer.json()
    return document


@pytest.mark.parametrize("name", CALCULATIONS)
def test_the_inputs_of_every_answer_have_the_same_answer(web: Web, name: str) -> None:
    first = web("POST", f"/v1/{name}", json=CALCULATIONS[name].example)
    # As bytes, with the very digits.
    shown = first.text.partition('"inputs":')[2]
    end = json.JSONDecoder().raw_decode(shown)[1]
    again = web("POST", f"/v1/{name}", data=shown[:end].encode(), headers={"Content-Type": "application/json"})
    assert again.status_code == 200, again.text
    assert again.json() == first.json()


@pytest.mark.parametrize("name", [name for name, one in CALCULATIONS.items() if one.query])
def test_what_was_asked_by_query_is_asked_again_by_body(web: Web, name: str, description: dict[str, Any]) -> None:
    parameters = description["paths"][f"/v1/{name}"]["get"]["parameters"]
    query = {one["name"]: one["example"] for one in parameters if "example" in one and one["name"] != "format"}
    first = web("GET", f"/v1/{name}", params=query)
    assert first.status_code == 200, first.text
    assert answered(web, name, first.json()["inputs"]) == first.json()


def test_one_figure_changed_is_as_if_asked_so(web: Web, demo_order: dict[str, Any]) -> None:
    inputs = answered(web, "order", demo_order)["inputs"]
    inputs["pieces"] += 1
    inputs["trial"]["mass"]["value"] = 7
    asked = {**demo_order, "pieces": inputs["pieces"], "trial": {**demo_order["trial"], "mass": "7 g"}}
    assert answered(web, "order", inputs) == answered(web, "order", asked)


def test_a_metal_of_the_callers_own_keeps_what_was_given(web: Web) -> None:
    first = answered(web, "transfer", {**TRANSFER, "to_metal": MEASURED})
    shown = first["inputs"]["to_metal"]
    assert (shown["id"], shown["solidus"]["value"]) == (None, 830)
    assert answered(web, "transfer", first["inputs"]) == first
    shown["density"]["value"] = 13.2
    changed = answered(web, "transfer", first["inputs"])
    assert changed == answered(web, "transfer", {**TRANSFER, "to_metal": {**MEASURED, "density": "13.2 g/cm3"}})


def test_materials_and_stones_come_back_too(web: Web) -> None:
    stones = [{"mass": "0.02 ct", "kind": "diamond", "count": 3}]
    order = {"final_metal": "gold-585-yellow", "pattern": {"mass": "1.2 g", "material": "carving-wax"}}
    first = answered(web, "order", {**order, "stones": stones})
    assert first["inputs"]["stones"][0]["kind"]["name"]
    assert answered(web, "order", first["inputs"]) == first


def test_null_is_as_if_left_out(web: Web) -> None:
    assert answered(web, "transfer", {**TRANSFER, "readability": None, "to_unit": None}) == answered(
        web, "transfer", TRANSFER
    )


def test_rows_are_sent_again_too(web: Web) -> None:
    first = answered(web, "transfer", TRANSFER)
    media = {"Content-Type": "application/x-ndjson", "Accept": "application/x-ndjson"}
    asked = [first["inputs"], {**TRANSFER, "to_unit": None}, TRANSFER]
    sent = "\n".join(map(json.dumps, asked)).encode()
    rows = web("POST", "/v1/bulk/transfer", data=sent, headers=media).text.splitlines()
    same, without, left_out = (json.loads(row)["result"] for row in rows)
    assert same == first["result"]
    assert without == left_out


@pytest.mark.parametrize(
    ("where", "value", "refusal"),
    [
        # Of a metal that is taken by its id, nothing else is read, so it must not have been changed.
        ("/from_metal/density/value", 10.5, ("/from_metal/density/value", "contradiction")),
        ("/from_metal/density/low", 10.3, ("/from_metal/density/low", "contradiction")),
        ("/from_metal/density/unit", "kg/m3", ("/from_metal/density/unit", "contradiction")),
        ("/from_metal/density", "10.5 g/cm3", ("/from_metal/density", "contradiction")),
        ("/from_metal/composition/Ag", 926, ("/from_metal/composition", "contradiction")),
        ("/from_metal/composition", {"Ag": 925}, ("/from_metal/composition", "contradiction")),
        ("/from_metal/name", "my silver", ("/from_metal/name", "contradiction")),
        ("/from_metal/id", "silver-800", ("/from_metal/name", "contradiction")),
        ("/from_metal/id", "sterlng-silver", ("/from_metal/id", "unknown-metal")),
        ("/from_metal/id", 925, ("/from_metal/id", "not-a-string")),
        ("/from_metal/densty", {"value": 10, "unit": "g/cm3"}, ("/from_metal/densty", "unknown-field")),
        ("/from_metal/density/valeu", 10, ("/from_metal/density/valeu", "unknown-field")),
        ("/from_metal/density/status", "measurd", ("/from_metal/density/status", "not-an-option")),
        ("/from_metal/density/note", 7, ("/from_metal/density/note", "not-a-string")),
        # Of one without an id, what was estimated is estimated again.
        ("/to_metal/density/value", 13.2, ("/to_metal/density/value", "contradiction")),
        ("/to_metal/density/status", "given", ("/to_metal/density/low", "contradiction")),
        ("/to_metal/density", {"value": 13.2, "unit": "g/cm3"}, ("/to_metal/density/status", "missing")),
        ("/to_metal/composition", {"Au": 750, "Ag": 250}, ("/to_metal/density/value", "contradiction")),
        ("/to_metal/compositon", {"Au": 1000}, ("/to_metal/compositon", "unknown-field")),
        ("/to_metal/density/hihg", 14, ("/to_metal/density/hihg", "unknown-field")),
        ("/to_metal/composition", None, ("/to_metal/composition", "null")),
        ("/readabilty", None, ("/readabilty", "unknown-field")),
        ("/mass", None, ("/mass", "null")),
        ("/mass/value", None, ("/mass/value", "not-a-number")),
    ],
)
def test_what_cannot_be_meant_is_refused(
    web: Web, problem_of: Problem, where: str, value: Any, refusal: tuple[str, str]
) -> None:
    inputs = answered(web, "transfer", TRANSFER)["inputs"]
    place, (*way, last) = inputs, where.split("/")[1:]
    for step in way:
        place = place[step]
    place[last] = value
    issues = problem_of(web("POST", "/v1/transfer", json=inputs), 422)["errors"]
    assert refusal in {(one["pointer"], one["code"]) for one in issues}, issues


def test_a_misspelt_member_is_told_the_near_one(web: Web, problem_of: Problem) -> None:
    inputs = answered(web, "transfer", TRANSFER)["inputs"]
    for metal, known in (("from_metal", "density"), ("to_metal", "density")):
        sent = copy.deepcopy(inputs)
        sent[metal]["densty"] = sent[metal].pop("density")
        (issue,) = problem_of(web("POST", "/v1/transfer", json=sent), 422)["errors"]
        assert issue["suggestions"][0] == known


def test_a_stone_that_was_changed_is_refused(web: Web, problem_of: Problem) -> None:
    stones = [{"mass": "0.02 ct", "kind": "diamond"}]
    order = {"final_metal": "gold-585-yellow", "volume": "1 cm3", "stones": stones}
    inputs = answered(web, "order", order)["inputs"]
    inputs["stones"][0]["kind"]["density"]["value"] = 3
    (issue,) = problem_of(web("POST", "/v1/order", json=inputs), 422)["errors"]
    assert (issue["pointer"], issue["code"]) == ("/stones/0/kind/density/value", "contradiction")
    inputs["stones"][0]["kind"] = {"id": "dimond"}
    (issue,) = problem_of(web("POST", "/v1/order", json=inputs), 422)["errors"]
    assert (issue["pointer"], issue["suggestions"]) == ("/stones/0/kind/id", ["diamond"])


@pytest.mark.parametrize("unit", ["oz", "fathom", "mm"])
def test_a_wrong_unit_is_told_of_once_where_it_was_given(web: Web, unit: str) -> None:
    """The answer would come in it, too, but nobody asked for that; who does ask is told."""
    asked = {"mass": "4.82", "unit": unit, "from_metal": "Ag", "to_metal": "Au"}
    (issue,) = web("GET", "/v1/transfer", params=asked).json()["errors"]
    assert issue["pointer"].startswith("/mass")
    issues = web("GET", "/v1/transfer", params={**asked, "unit": "g", "to_unit": unit}).json()["errors"]
    assert [one["pointer"] for one in issues] == ["/to_unit"]


def test_a_mass_is_shown_as_it_was_typed_and_changed_by_its_value(web: Web, problem_of: Problem) -> None:
    first = answered(web, "contents", {"mass": "3.8 DWT", "metal": "fine-gold"})
    assert first["inputs"]["mass"] == {
        "value": 5.909660592,
        "unit": "g",
        "in_unit": {"value": 3.8, "unit": "dwt"},
    }
    assert first["result"]["gold"]["in_unit"] == {"value": 3.8, "unit": "dwt"}
    assert answered(web, "contents", first["inputs"]) == first
    changed = copy.deepcopy(first["inputs"])
    changed["mass"]["value"] = 8
    assert answered(web, "contents", changed) == answered(web, "contents", {**changed, "mass": "8 g"})
    stale = copy.deepcopy(first["inputs"])
    stale["mass"]["in_unit"]["value"] = 4
    (issue,) = problem_of(web("POST", "/v1/contents", json=stale), 422)["errors"]
    assert (issue["pointer"], issue["code"]) == ("/mass/in_unit/value", "contradiction")


def test_a_cell_that_writes_its_unit_close_up_reads_that_unit(web: Web) -> None:
    asked = {"from_metal": "Ag", "to_metal": "Au", "mass": "4.82dwt"}
    apart = {**asked, "mass": "4.82", "unit": "dwt"}
    assert web("GET", "/v1/transfer", params=asked).json() == web("GET", "/v1/transfer", params=apart).json()
