"""One request misspells many names: only so many are searched for, however it brings them, and a refusal is cheap."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import pytest
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from alloyref.domain.density_test import DENSITY_TEST
from alloyref.domain.order import ORDER
from alloyref.domain.searches import MOST_AT_ONCE
from alloyref.web.representation import MOST_ACCEPT

METALS = [f"gold-585-yelow{number}" for number in range(80)]
STONES = [{"mass": f"1 grm{number}"} for number in range(100)]
VOLUMES = [{"volume": f"1 cmm{number}", "stones": []} for number in range(50)]
MISSPELT = {
    "metals": {"on_hand": [{"metal": metal, "mass": "1 g"} for metal in METALS]},
    "units": {"others": [{"volume": "1 cm3", "stones": STONES}, *VOLUMES]},
    "fields": {"on_hand": [{f"mettal{number}": "Au"} for number in range(80)]},
}
PROFILED_EVENTS = ("call", "c_call")


def calls(ask: Callable[[], TestResponse], status: int) -> int:
    """How many functions are called for an answer: a measure of its cost that no load on the machine changes."""
    counted = 0

    def profile(_frame: Any, event: str, _given: Any) -> None:
        nonlocal counted
        counted += event in PROFILED_EVENTS

    before = sys.getprofile()
    sys.setprofile(profile)
    try:
        answer = ask()
    finally:
        sys.setprofile(before)
    assert answer.status_code == status
    return counted


@pytest.mark.parametrize("misspelt", MISSPELT.values(), ids=MISSPELT)
def test_of_many_misspelt_names_only_the_first_are_searched_for(
    client: FlaskClient, misspelt: dict[str, Any]
) -> None:
    for _ in range(2):
        answer = client.post("/v1/order", json={**ORDER.example, **misspelt})
        assert answer.status_code == 422
        assert answer.json is not None
        errors = answer.json["errors"]
        told = [place for place, one in enumerate(errors) if "Did you mean" in one["detail"]]
        assert len(told) == MOST_AT_ONCE
        assert all(errors[place]["suggestions"] for place in told)


def test_of_many_misspelt_parameters_only_the_first_are_searched_for(client: FlaskClient) -> None:
    query = "&".join(f"kaart{number}=14" for number in range(300))
    answer = client.get(f"/v1/alloys?{query}")
    assert answer.status_code == 422
    assert answer.json is not None
    assert sum("Did you mean" in one["detail"] for one in answer.json["errors"]) == MOST_AT_ONCE


@pytest.mark.parametrize("misspelt", MISSPELT.values(), ids=MISSPELT)
def test_a_refusal_costs_about_as_much_as_an_answer(client: FlaskClient, misspelt: dict[str, Any]) -> None:
    def order(more: dict[str, Any]) -> Callable[[], TestResponse]:
        return lambda: client.post("/v1/order", json={**ORDER.example, **more})

    calls(order({}), 200)
    assert calls(order(misspelt), 422) < 5 * calls(order({}), 200)


def test_one_misspelt_name_costs_less_than_an_answer(client: FlaskClient) -> None:
    refused = calls(lambda: client.get("/v1/alloys/sterlng-silvr"), 404)
    assert refused < calls(lambda: client.post("/v1/order", json=ORDER.example), 200)


@pytest.mark.parametrize("repeated", ["a,", "a/b;q=0.1,", 'a/b;a="b",', "text/csv;", "a/"])
@pytest.mark.parametrize("path", ["/v1/alloys/sterling-silver/density", "/v1/nothing", "/healthz"])
def test_an_accept_of_eleven_kilobytes_is_refused_unread(client: FlaskClient, path: str, repeated: str) -> None:
    accept = (repeated * 11_000)[:11_000]
    usual = calls(lambda: client.get("/v1/alloys/sterling-silver/density"), 200)
    assert calls(lambda: client.get(path, headers={"Accept": accept}), 431) < 3 * usual
    answer = client.get(path, headers={"Accept": accept})
    assert answer.json is not None
    assert answer.json["type"] == "/v1/problems/headers-too-large"
    assert str(MOST_ACCEPT) in answer.json["detail"]


def test_an_accept_as_long_as_may_be_is_read(client: FlaskClient) -> None:
    wanted = "text/csv"
    accept = "text/x," * ((MOST_ACCEPT - len(wanted)) // len("text/x,")) + wanted
    answer = client.get("/v1/alloys", headers={"Accept": accept})
    assert answer.status_code == 200
    assert answer.mimetype == wanted


def test_density_tests_of_like_readings_share_what_they_search(client: FlaskClient) -> None:
    def weighed(in_air: str) -> Callable[[], TestResponse]:
        weighing = {"in_air": in_air, "in_liquid": "9.4834 g"}
        return lambda: client.post(f"/v1/{DENSITY_TEST.name}", json={"weighings": [weighing]})

    calls(weighed("10.0000 g"), 200)
    assert calls(weighed("10.0003 g"), 200) < 20_000
