"""One number of a shop's own alloy for a cell, and the melting range that its composition lets one expect."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import requests

Problem = Callable[[requests.Response, int], dict[str, Any]]
YELLOW = {"Au": 585, "Ag": 205, "Cu": 210}
WHITE = {"Au": 585, "Cu": 215, "Ni": 120, "Zn": 80}


def test_a_cell_reads_an_alloy_of_the_shop(shop: Any, problem_of: Problem) -> None:
    name = shop.made(density="13.1 g/cm3").json()["id"]
    path = f"/v1/alloys/{name}/density"
    text = shop.ask("GET", f"{path}?format=text", "read")
    assert (text.status_code, text.text) == (200, "13.1")
    assert text.headers["Content-Type"].startswith("text/plain")
    document = shop.ask("GET", path, "read").json()
    assert (document["alloy"], document["value"], document["unit"]) == (name, 13.1, "g/cm3")
    assert (document["status"], document["source"]) == ("given", "shop")
    (row,) = csv.DictReader(io.StringIO(shop.ask("GET", f"{path}?format=csv&unit=kg/m3", "read").text))
    assert (row["alloy"], float(row["value"]), row["unit"]) == (name, 13100, "kg/m3")
    cell = shop.ask("GET", f"{path}?format=text&decimal=,&key={shop.keys['cell']}", None)
    assert cell.text == "13,1"
    assert shop.ask("GET", f"/v1/alloys/{name}/fineness?format=text", "read").text == "585"
    assert shop.ask("GET", f"/v1/alloys/{name}/karat?format=text", "read").text == "14.04"
    problem_of(shop.ask("GET", f"{path}?unit=dwt", "read"), 422)


def test_only_a_holder_of_a_key_is_told(shop: Any, problem_of: Problem) -> None:
    name = shop.made(density="13.1 g/cm3").json()["id"]
    path = f"/v1/alloys/{name}/density"
    for _ in range(3):
        told = shop.ask("GET", path, "read")
        assert told.status_code == 200
        assert told.headers["Cache-Control"] == "private, no-cache"
        assert "Authorization" in told.headers["Vary"]
        again = shop.ask("GET", path, "read", headers={"If-None-Match": told.headers["ETag"]})
        assert (again.status_code, again.headers["Cache-Control"]) == (304, "private, no-cache")
        for key in (None, "revoked", "noise"):
            problem_of(shop.ask("GET", path, key), 401)
            problem_of(shop.ask("GET", path, key, headers={"If-None-Match": told.headers["ETag"]}), 401)
    problem_of(shop.ask("GET", "/v1/alloys/shop:not-there/density", "read"), 404)
    problem_of(shop.ask("GET", "/v1/alloys/shop:Not/density", "read"), 404)


def test_a_changed_alloy_is_read_anew(shop: Any) -> None:
    made = shop.made(density="13.1 g/cm3")
    name = made.json()["id"]
    path = f"/v1/alloys/{name}/density?format=text"
    assert shop.ask("GET", path, "read").text == "13.1"
    changed = {"name": "x", "composition": YELLOW, "density": "13.4 g/cm3"}
    put = shop.ask("PUT", f"/v1/shop/alloys/{name}", json=changed, headers={"If-Match": made.headers["ETag"]})
    assert put.status_code == 200
    assert shop.ask("GET", path, "read").text == "13.4"


def test_a_missing_melting_range_is_the_model_s(shop: Any) -> None:
    """As a composition in the request has it, too."""
    name = shop.made(density="13.1 g/cm3").json()["id"]
    order = {"trial": {"metal": "sterling-silver", "mass": "6.31 g"}, "final_metal": name}
    slip = shop.ask("POST", "/v1/order", json=order).json()["result"]["casting_slip"]
    for end in ("solidus", "liquidus"):
        assert (slip[end]["status"], slip[end]["source"]) == ("calculated", "melting-model")
        assert slip[end]["low"] < slip[end]["value"] < slip[end]["high"]
        assert shop.ask("GET", f"/v1/alloys/{name}/{end}").json()["value"] == slip[end]["value"]
    # The model's doubt of such an alloy leaves no temperature that has the superheat whatever the liquidus is.
    assert slip["pouring_window"] is None
    assert any("too uncertain" in blank for blank in slip["not_available"])
    same = {**order, "final_metal": {"composition": YELLOW, "density": "13.1 g/cm3"}}
    given = shop.ask("POST", "/v1/order", json=same).json()["result"]["casting_slip"]
    assert [given[end] for end in ("solidus", "liquidus")] == [slip[end] for end in ("solidus", "liquidus")]


def test_a_range_that_the_shop_knows_goes_first(shop: Any) -> None:
    name = shop.made(solidus="830 C", liquidus="875 C").json()["id"]
    order = {"trial": {"metal": "sterling-silver", "mass": "6.31 g"}, "final_metal": name}
    slip = shop.ask("POST", "/v1/order", json=order).json()["result"]["casting_slip"]
    assert [(slip[end]["value"], slip[end]["status"]) for end in ("solidus", "liquidus")] == [
        (830, "given"),
        (875, "given"),
    ]


def test_where_the_model_knows_nothing_the_slip_says_why(shop: Any, problem_of: Problem) -> None:
    name = shop.made(composition=WHITE, density="12.7 g/cm3").json()["id"]
    order = {"trial": {"metal": "sterling-silver", "mass": "6.31 g"}, "final_metal": name}
    slip = shop.ask("POST", "/v1/order", json=order).json()["result"]["casting_slip"]
    assert (slip["solidus"], slip["liquidus"], slip["pouring_window"]) == (None, None, None)
    assert any("Ni and Zn" in blank for blank in slip["not_available"])
    problem = problem_of(shop.ask("GET", f"/v1/alloys/{name}/liquidus"), 404)
    assert "Ni and Zn" in problem["detail"]
