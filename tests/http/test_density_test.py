"""`/v1/density-test` over a real socket: what it says in words, what it assumes, and what it refuses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
PATH = "/v1/density-test"


def asked(air: str = "10.0000", hung: str = "9.4834", /, **more: Any) -> dict[str, Any]:
    """One pair in g on a balance of 0.1 mg, some fields changed or (...) left out."""
    pair = {"in_air": f"{air} g", "in_liquid": f"{hung} g"}
    whole = {"weighings": [pair], "temperature": "20 C", "readability": "0.0001 g", **more}
    return {name: value for name, value in whole.items() if value is not ...}


@pytest.fixture
def answer(web: Web) -> Callable[..., dict[str, Any]]:
    """The answer to a test that has one."""

    def found(*readings: str, **more: Any) -> dict[str, Any]:
        response = web("POST", PATH, json=asked(*readings, **more))
        assert response.status_code == 200, response.text
        document: dict[str, Any] = response.json()
        return document

    return found


def words(document: dict[str, Any]) -> str:
    return "\n".join(document["result"]["cannot_tell"])


def test_fine_gold_and_the_warning_of_tungsten(answer: Callable[..., dict[str, Any]]) -> None:
    document = answer()
    result = document["result"]
    assert result["density"]["value"] == pytest.approx(19.30, abs=0.002)
    assert result["density"]["status"] == "measured"
    assert {one["id"] for one in result["candidates"][:2]} == {"fine-gold", "tungsten"}
    assert all(one["agrees"] for one in result["candidates"][:2])
    assert "cannot tell gold from gilt tungsten" in words(document)
    assert "19.25" in words(document)
    parts = {one["part"]: one["standard"]["value"] for one in result["uncertainty_parts"]}
    assert set(parts) == {"readability", "repeats", "temperature", "liquid", "buoyancy"}
    assert sum(one["likelihood"] for one in result["candidates"]) + result["other_likelihood"] == pytest.approx(1)


def test_a_small_ring_on_a_coarse_balance_cannot_tell_14_from_18_karat_white(
    answer: Callable[..., dict[str, Any]],
) -> None:
    small = words(answer("1.00", "0.93", readability="0.01 g"))
    assert "A piece of 1 g on a balance of 0.01 g cannot tell 14 karat palladium white gold" in small
    assert "from 18" in small
    assert "Most of the doubt is the balance's" in small
    # Ten times the piece, or a finer balance, and the sentence is gone.
    for better in (answer("10.00", "9.30", readability="0.01 g"), answer("1.0000", "0.9300")):
        assert "white gold (about" not in words(better)


def test_what_was_not_said_is_assumed_aloud_and_widens(answer: Callable[..., dict[str, Any]]) -> None:
    told = answer(air_density="1.2 kg/m3")
    silent = answer(temperature=..., readability=...)
    ids = {one["id"] for one in silent["assumptions"]}
    assert {"temperature", "readability", "air-density", "clean-water", "even-odds"} <= ids
    assert {"temperature", "readability", "air-density"}.isdisjoint(one["id"] for one in told["assumptions"])
    assert silent["result"]["standard_uncertainty"]["value"] > 3 * told["result"]["standard_uncertainty"]["value"]
    temperature = next(one for one in silent["assumptions"] if one["id"] == "temperature")
    assert (temperature["value"], temperature["unit"], temperature["low"], temperature["high"]) == (20, "C", 15, 25)


def test_another_liquid_is_taken_with_its_density(answer: Callable[..., dict[str, Any]]) -> None:
    # 10 g of 19.3 g/cm3 in a liquid of 0.789 g/cm3 loses 10/19.3 x 0.789 g, less the air.
    liquid = {"name": "ethanol", "density": "0.789 g/cm3"}
    document = answer("10.0000", "9.5918", liquid=liquid)
    assert document["result"]["density"]["value"] == pytest.approx(19.30, abs=0.01)
    assert [one["id"] for one in document["cautions"]] == ["solvent-weighing"]
    assert document["result"]["liquid_density"]["status"] == "given"
    assert answer("10.0000", "9.5918", liquid={"density": "789 kg/m3"})["result"] == document["result"]
    assert answer(liquid="water")["result"] == answer()["result"]
    assert answer()["cautions"] == []


def test_a_density_that_no_alloy_has_is_said_so(answer: Callable[..., dict[str, Any]]) -> None:
    document = answer("10.0000", "5.0000")
    assert document["result"]["agreeing"] == 0
    assert document["result"]["gold"] is None
    assert "No alloy of the catalogue agrees" in words(document)


def test_units_may_differ(answer: Callable[..., dict[str, Any]]) -> None:
    in_grams = answer("7.7758692", "7.1000000")
    pair = {"in_air": "5 dwt", "in_liquid": {"value": "7.1", "unit": "g"}}
    mixed = answer(weighings=[pair], temperature="68 F")
    assert mixed["result"] == in_grams["result"]


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"weighings": [{"in_air": "9.4 g", "in_liquid": "10 g"}]}, "/weighings/0/in_liquid", "contradiction"),
        ({"weighings": [{"in_air": "9.4 g", "in_liquid": "9.4 g"}]}, "/weighings/0/in_liquid", "contradiction"),
        ({"suspension": "9.5 g"}, "/weighings/0/in_liquid", "contradiction"),
        ({"weighings": []}, "/weighings", "missing"),
        ({"weighings": ...}, "/weighings", "missing"),
        ({"weighings": [{"in_air": "10 g"}]}, "/weighings/0/in_liquid", "missing"),
        ({"weighings": [{"in_air": "10 g", "in_liquid": "9.9 g"}]}, "/weighings", "impossible-density"),
        ({"temperature": "40.1 C"}, "/temperature", "out-of-range"),
        ({"temperature": "-0.5 C"}, "/temperature", "out-of-range"),
        ({"temperature": "120 F"}, "/temperature", "out-of-range"),
        ({"liquid": "ethanol"}, "/liquid/density", "missing"),
        ({"liquid": {"density": "0 g/cm3"}}, "/liquid/density", "out-of-range"),
        ({"air_density": "1.2 g/cm3"}, "/air_density", "out-of-range"),
        ({"readability": "0 g"}, "/readability", "out-of-range"),
        ({"readabilty": "0.01 g"}, "/readabilty", "unknown-field"),
    ],
)
def test_what_cannot_be_is_refused(
    web: Web, problem_of: Problem, change: dict[str, Any], pointer: str, code: str
) -> None:
    issues = problem_of(web("POST", PATH, json=asked(**change)), 422)["errors"]
    assert (pointer, code) in [(one["pointer"], one["code"]) for one in issues]


def test_too_small_for_the_balance_has_no_answer(web: Web, problem_of: Problem) -> None:
    problem = problem_of(web("POST", PATH, json=asked("0.10", "0.09", readability="0.01 g")), 422)
    assert problem["type"] == "/v1/problems/no-answer"
    assert problem["errors"][0]["code"] == "too-small"


def test_numbers_of_absurd_size_are_no_fault(web: Web, problem_of: Problem) -> None:
    tiny = asked("1e-300", "9e-301", readability="0.01 g")
    problem = problem_of(web("POST", PATH, json=tiny), 422)
    assert len(problem["detail"]) < 200
    near = asked("1000000", "999999." + "9" * 20)
    assert problem_of(web("POST", PATH, json=near), 422)["errors"][0]["code"] == "impossible-density"


def test_there_is_no_get(web: Web, problem_of: Problem) -> None:
    assert web("GET", PATH).headers["Allow"] == "OPTIONS, POST"


def test_the_least_bad_alloy_is_no_likely_one(answer: Callable[..., dict[str, Any]]) -> None:
    result = answer("5.23", "0.001")["result"]
    assert result["agreeing"] == 0
    assert {one["likelihood"] for one in result["candidates"]} == {0}
    assert result["other_likelihood"] == 1
    assert "agrees with 1 g/cm3" in result["cannot_tell"][0]
    assert result["cannot_tell"][-1].endswith("less than 0.001.")


def test_pairs_of_different_pieces_are_not_blamed_on_the_balance(web: Web, problem_of: Problem) -> None:
    pairs = [{"in_air": "5.23 g", "in_liquid": "4.9 g"}, {"in_air": "52.3 g", "in_liquid": "2 g"}]
    problem = problem_of(web("POST", PATH, json=asked(weighings=pairs)), 422)
    assert [(one["pointer"], one["code"]) for one in problem["errors"]] == [("/weighings", "repeats-disagree")]


def test_no_likelihood_is_negative(answer: Callable[..., dict[str, Any]]) -> None:
    result = answer(readability="1e-300 g")["result"]
    shares = [one["likelihood"] for one in result["candidates"]]
    assert min(*shares, result["other_likelihood"]) >= 0
    assert sum(shares) + result["other_likelihood"] == pytest.approx(1)
