"""Pictures over HTTP: their forms, what they say in words, and that what is drawn is what the numbers say."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from typing import Any
from xml.etree import ElementTree as Xml

import pytest
import requests
from PIL import Image

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
TRIANGLE = "/v1/pictures/alloy-triangle"
FAMILIES = "/v1/pictures/density-karat"
FLOW = "/v1/pictures/charge-flow"
MARKED = {"composition": "Au 585, Ag 205, Cu 210"}
SVG = "{http://www.w3.org/2000/svg}"


def read_svg(response: requests.Response) -> Xml.Element:
    """The picture as a tree; what the service under test drew needs no guarding against."""
    return Xml.fromstring(response.content)  # noqa: S314


@pytest.mark.parametrize("path", [TRIANGLE, FAMILIES])
def test_a_picture_comes_as_svg_png_or_words_and_can_be_kept(web: Web, path: str) -> None:
    svg = web("GET", path)
    assert svg.headers["Content-Type"] == "image/svg+xml"
    assert read_svg(svg).tag == f"{SVG}svg"
    png = web("GET", path, headers={"Accept": "image/png"})
    assert png.headers["Content-Type"] == "image/png"
    with Image.open(io.BytesIO(png.content)) as image:
        assert image.size[0] > 1000
        assert image.info["Description"] == web("GET", f"{path}?format=text").text
    assert web("GET", path, headers={"If-None-Match": svg.headers["ETag"]}).status_code == 304
    assert web("GET", path).content == svg.content


@pytest.mark.parametrize("path", [TRIANGLE, FAMILIES])
def test_an_svg_says_in_words_what_it_shows_and_asks_for_nothing_elsewhere(web: Web, path: str) -> None:
    svg = web("GET", path).text
    assert web("GET", f"{path}?format=text").text in svg.replace("&amp;", "&")
    assert not re.search(r"<(script|image|foreignObject)\b", svg)
    assert not re.search(r"url\((?!#)", svg)


@pytest.mark.parametrize("shows", ["liquidus", "solidus", "density", "karat"])
def test_the_marked_alloy_has_the_value_that_is_estimated_for_it(web: Web, shows: str) -> None:
    words = web("GET", TRIANGLE, params={**MARKED, "shows": shows, "format": "text"}).text
    found = re.search(rf"Marked: Au 585, Ag 205, Cu 210 permille; {shows} (\S+)", words)
    assert found is not None
    estimate = web("POST", "/v1/estimate", json={"composition": {"Au": 585, "Ag": 205, "Cu": 210}}).json()["result"]
    if estimate[shows] is None:
        assert found[1] == "not"
    else:
        assert float(found[1].rstrip(".")) == pytest.approx(round(estimate[shows]["value"], 2))


def test_the_mark_stands_where_its_shares_put_it(web: Web) -> None:
    def mark(composition: str) -> tuple[float, float]:
        svg = read_svg(web("GET", TRIANGLE, params={"shows": "karat", "composition": composition}))
        rings = [one for one in svg.iter(f"{SVG}use") if "#9c2a10" in one.get("style", "")]
        (ring,) = rings
        return float(ring.get("x", "")), float(ring.get("y", ""))

    gold, silver, copper = (mark(f"{symbol} 1000") for symbol in ("Au", "Ag", "Cu"))
    middle = mark("Au 500, Ag 250, Cu 250")
    for axis in (0, 1):
        wanted = 0.5 * gold[axis] + 0.25 * silver[axis] + 0.25 * copper[axis]
        assert middle[axis] == pytest.approx(wanted, abs=0.01)


def test_the_measured_ring_is_set_among_the_alloys(web: Web) -> None:
    asked = {"density": "13.6 g/cm3", "uncertainty": "0.2 g/cm3", "karat": "14", "format": "text"}
    words = web("GET", FAMILIES, params=asked).text
    count = re.search(r"ranges of (\d+) of them meet it", words)
    assert count is not None
    golds = web("GET", "/v1/alloys?base=Au&page_size=500").json()["alloys"]
    ranges = [one["density"] for one in golds if one["karat"]["value"] >= 7.5]
    within = [one for one in ranges if one["low"] <= 13.8 and one["high"] >= 13.4]
    assert int(count[1]) == len(within)


def test_the_flow_of_a_charge_closes(web: Web, demo_order: dict[str, Any]) -> None:
    words = web("POST", FLOW, params={"format": "text"}, json=demo_order).text
    charge, *ways = (float(number) for number in re.findall(r"([\d.]+) g", words))
    served = web("POST", "/v1/order", json=demo_order).json()["result"]
    assert charge == pytest.approx(served["charge"]["value"], abs=0.005)
    assert sum(ways) == pytest.approx(charge, abs=0.005 * len(ways))
    drawn = web("POST", FLOW, json=demo_order)
    assert drawn.headers["Content-Type"] == "image/svg+xml"
    assert drawn.headers["Cache-Control"] == "no-store"
    for name in ("finished pieces", "sprue and button", "spare castings", "melt loss"):
        assert name in drawn.text


@pytest.mark.parametrize(
    ("path", "pointer"),
    [
        (f"{TRIANGLE}?composition=Au 750, Pd 250", "/composition"),
        (f"{TRIANGLE}?composition=Au 750", "/composition"),
        (f"{TRIANGLE}?shows=hardness", "/shows"),
        (f"{TRIANGLE}?format=jpeg", "/format"),
        (f"{FAMILIES}?karat=14", "/density"),
        (f"{FAMILIES}?density=13.6", "/density"),
        (f"{FAMILIES}?density=13.6 g/cm3&karat=25", "/karat"),
        (f"{FAMILIES}?densty=13.6 g/cm3", "/densty"),
    ],
)
def test_what_cannot_be_drawn_is_refused(web: Web, problem_of: Problem, path: str, pointer: str) -> None:
    assert pointer in [one["pointer"] for one in problem_of(web("GET", path), 422)["errors"]]


def test_what_the_order_refuses_has_no_flow(web: Web, problem_of: Problem) -> None:
    assert problem_of(web("POST", FLOW, json={"final_metal": "gold-585-yellow"}), 422)["errors"]
    assert problem_of(web("POST", FLOW, json=[1]), 422)["errors"]
