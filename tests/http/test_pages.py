"""The pages over plain HTTP: what a form sends, what is refused, what a page may load and who may keep it."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
PAGES = (
    "/",
    "/recovery",
    "/density-test",
    "/alloys",
    "/alloys/sterling-silver",
    "/compare?id=fine-gold&id=fine-silver",
    "/sources/karmarsch-1877",
    "/docs",
)
TRIAL = {"/final_metal": "gold-585-yellow", "/trial/metal": "sterling-silver", "/trial/mass": "6.31 g"}


@pytest.mark.parametrize("path", PAGES)
def test_a_page_is_html_that_loads_from_its_own_host_only_and_can_be_kept(web: Web, path: str) -> None:
    page = web("GET", path)
    assert page.status_code == 200
    assert page.headers["Content-Type"] == "text/html; charset=utf-8"
    assert "default-src 'none'" in page.headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in page.headers["Content-Security-Policy"]
    assert web("GET", path, headers={"If-None-Match": page.headers["ETag"]}).status_code == 304
    assert "http://" not in page.text.replace('xmlns="http://www.w3.org', "")


@pytest.mark.parametrize(
    "asset",
    [
        "/assets/pages.css",
        "/assets/pages.js",
        "/assets/icon.svg",
        "/docs/swagger-ui.css",
        "/docs/swagger-ui-bundle.js",
    ],
)
def test_assets_are_served_here(web: Web, asset: str) -> None:
    assert web("GET", asset).status_code == 200


@pytest.mark.parametrize(
    "path", ["/docs/../app.py", "/docs/..%2f__init__.py", "/assets/..%2froutes.py", "/assets/none.css"]
)
def test_nothing_else_is_served_as_an_asset(web: Web, path: str) -> None:
    assert web("GET", path).status_code == 404


def test_the_sheet_is_kept_by_nobody(web: Web) -> None:
    page = web("POST", "/order", data=TRIAL)
    assert page.status_code == 200
    assert page.headers["Cache-Control"] == "no-store"
    assert "Order sheet" in page.text


def test_the_casting_slip_tells_every_temperature_in_both_scales(web: Web) -> None:
    page = web("POST", "/order", data=TRIAL).text
    asked = {"final_metal": "gold-585-yellow", "trial": {"metal": "sterling-silver", "mass": "6.31 g"}}
    slip = web("POST", "/v1/order", json=asked).json()["result"]["casting_slip"]
    for key in ("solidus", "liquidus", "pouring_window", "flask_temperature"):
        one, warm = slip[key], slip[key]["in_fahrenheit"]
        assert one["unit"] == "C"
        assert [warm[end] for end in ("value", "low", "high")] == [
            pytest.approx(one[end] * 1.8 + 32, abs=0.51) for end in ("value", "low", "high")
        ]
        assert f"{one['low']:g} to {one['high']:g}" in page
        assert f"{warm['low']:g} to {warm['high']:g}" in page
        if "window" in key or "flask" in key:
            assert f"{one['high']:g} °C, {warm['low']:g} to {warm['high']:g} °F" in page


def test_words_of_the_caller_are_shown_not_run(web: Web) -> None:
    name = "<script>alert(1)</script>"
    for data in ({**TRIAL, "/name": name}, {"/name": name, "/final_metal": name}):
        page = web("POST", "/order", data=data)
        assert name not in page.text
        assert "&lt;script&gt;" in page.text


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({}, "final_metal"),
        ({**TRIAL, "/trial/mas": "3 g"}, "mas"),
        ({**TRIAL, "/trial": "all of it"}, "in parts"),
        ({**TRIAL, "/a/b/c/d/e/f/g": "x"}, "too deep"),
        ([*TRIAL.items(), ("/trial/mass", "7 g")], "twice"),
        ([(f"/others/{row}/name", "x") for row in range(2100)], "fields"),
    ],
)
def test_a_form_that_breaks_a_rule_comes_back_with_the_reason(web: Web, data: Any, says: str) -> None:
    page = web("POST", "/order", data=data)
    assert page.status_code == 422
    assert says in page.text
    assert "Not worked out yet" in page.text


def test_what_is_no_form_says_nothing(web: Web) -> None:
    assert web("POST", "/order", json=TRIAL).status_code == 422


@pytest.mark.parametrize("path", ["/alloys/Sterling_Silver", "/compare?id=sterling silver&id=sterling-silver"])
def test_a_page_takes_every_name_of_an_alloy(web: Web, path: str) -> None:
    page, by_id = web("GET", path), web("GET", "/alloys/sterling-silver")
    assert (page.status_code, page.content) == (200, by_id.content)


@pytest.mark.parametrize(
    ("path", "says"),
    [
        ("/alloys/gold-585-white-ni12", ("nickel-skin", "zinc-fume")),
        ("/compare?id=sterling-silver&id=gold-750-green-cd4", ("cadmium",)),
        ("/alloys/sterling-silver", ()),
    ],
)
def test_a_page_of_an_alloy_has_the_cautions_about_what_it_holds(web: Web, path: str, says: tuple[str, ...]) -> None:
    texts = {one["id"]: one["text"] for one in web("GET", "/v1/cautions").json()["cautions"]}
    page = html.unescape(web("GET", path).text)
    assert all(texts[one] in page for one in says)
    assert ("<h2>Cautions</h2>" in page) == bool(says)


def test_a_page_says_which_of_its_figures_were_not_read(web: Web) -> None:
    page = web("GET", "/alloys/bronze-cusn10").text
    held = page.partition("<h2>Figures held for Tin bronze 90/10</h2>")[2].partition("</section>")[0]
    rows = [row for row in held.split("<tr>") if "</td>" in row]
    assert len(rows) >= 6
    assert all((", not read" in row) == ("from memory" in row) for row in rows)
    assert any("from memory" in row for row in rows)
    assert "Published for" not in page


def test_a_page_shows_the_picture_of_an_alloy_asked_for_by_name(web: Web) -> None:
    page = web("GET", "/alloys/crown gold")
    assert page.status_code == 200
    assert 'src="/v1/pictures/alloy-triangle' in page.text


@pytest.mark.parametrize(
    ("path", "status", "says"),
    [
        ("/alloys/sterlng-silver", 404, "sterling-silver"),
        ("/sources/karmarsh-1877", 404, "karmarsch-1877"),
        ("/compare", 422, "0 were ticked"),
        ("/compare?id=a&id=b&id=c&id=d&id=e", 422, "5 were ticked"),
        ("/alloys?colr=red", 422, "colour"),
    ],
)
def test_a_page_that_cannot_be_shown_says_why(web: Web, path: str, status: int, says: str) -> None:
    page = web("GET", path)
    assert page.status_code == status
    assert page.headers["Content-Type"] == "text/html; charset=utf-8"
    assert says in page.text


def test_the_recovery_sheet_says_what_has_no_price(web: Web) -> None:
    lot = {"/lots/0/mass": "3 g", "/lots/0/metal": "gold-585-yellow"}
    price = {"/prices/0/metal": "Au", "/prices/0/price": "104.50", "/prices/0/currency": "EUR"}
    page = web("POST", "/recovery", data={**lot, **price})
    assert page.status_code == 200
    assert "Not priced, so not counted: Ag" in page.text


GOLD_ALONE = {"/prices/0/metal": "Au", "/prices/0/price": "100", "/prices/0/currency": "EUR"}


def test_an_order_with_unpriced_metal_reads_at_least(web: Web) -> None:
    page = web("POST", "/order", data={**TRIAL, **GOLD_ALONE})
    assert page.status_code == 200
    money = page.text.partition("<h2>Money</h2>")[2].partition("</section>")[0]
    amounts = re.findall(r'<td class="n">([^<]*)</td>', money)
    assert len(amounts) == 6
    assert all(one.startswith("at least ") for one in amounts if not one.startswith("0.00 "))
    priced = {
        f"/prices/{place}/{name}": value
        for place, symbol in enumerate(("Au", "Ag", "Cu", "Zn", "Si", "Pd"))
        for name, value in (("metal", symbol), ("price", "1"), ("currency", "EUR"))
    }
    whole = web("POST", "/order", data={**TRIAL, **priced}).text.partition("<h2>Money</h2>")[2]
    assert "at least" not in whole.partition("</section>")[0]


def test_a_settlement_with_unpriced_metal_reads_at_least(web: Web) -> None:
    lot = {"/lots/0/mass": "30 g", "/lots/0/metal": "gold-585-yellow", "/lots/0/recovery": "1"}
    terms = {"/terms/0/name": "both", "/terms/0/silver_in_karat_scrap": "true"}
    for place, metal in enumerate(("Au", "Ag")):
        terms |= {f"/terms/0/pays/{place}/metal": metal, f"/terms/0/pays/{place}/paid": "1"}
    page = web("POST", "/recovery", data={**lot, **terms, **GOLD_ALONE})
    assert page.status_code == 200
    assert '<span class="u-g">at least ' in page.text


def test_an_order_of_fine_and_master_is_told_what_to_weigh_in(web: Web) -> None:
    page = web("POST", "/order", data={**TRIAL, "/purchase/form": "fine-and-master", "/purchase/increment": "0,1 g"})
    assert page.status_code == 200
    assert "of fine Au" in page.text.partition("<p>Weigh in ")[2].partition("</p>")[0]
    assert "<p>Weigh in" not in web("POST", "/order", data=TRIAL).text


def test_the_sheet_says_what_to_look_at_again_and_what_to_buy_to_be_sure(web: Web) -> None:
    order = {"/trial/metal": "sterling-silver", "/trial/mass": "6.31 g", "/final_metal": "gold-585-yellow"}
    order |= {"/volume": "900 mm3", "/allowances/button_mass": "2 dwt", "/stones_to_set/0/mass": "0.1 ct"}
    order |= {"/casting/method": "centrifugal", "/casting/arm_radius": "21 cm"}
    page = web("POST", "/order", data=order)
    assert page.status_code == 200
    for told in (
        "Look again: ",
        "the volume says",
        "To be sure of enough, buy ",
        "as far from the axle as the flask",
    ):
        assert told in page.text


def test_a_sheet_names_each_alloy_with_its_id(web: Web) -> None:
    """What a supplier is asked for, and what can be typed in again."""
    lot = {"/on_hand/0/metal": "gold-750-yellow", "/on_hand/0/mass": "2 g", "/purchase/form": "fine-and-master"}
    said = web("POST", "/order", data={**TRIAL, **lot}).text
    assert "on hand, used: 18 ct yellow 12.5/12.5 (gold-750-yellow)" in said
    assert "<dd>14 ct yellow 20.5/21 (gold-585-yellow)</dd>" in said


def test_the_page_is_in_the_unit_that_was_asked_in(web: Web) -> None:
    sent = {**TRIAL, "/trial/mass": "1.2 tola", "/purchase/increment": "0.1 dwt"}
    page = html.unescape(web("POST", "/order", data=sent).text)
    assert "Weighed: 1.2 tola of" in page
    assert "in steps of 0.1 dwt" in page
    assert "range in tola" in page
    asked = {"final_metal": "gold-585-yellow", "trial": {"metal": "sterling-silver", "mass": "1.2 tola"}}
    charge = web("POST", "/v1/order", json=asked).json()["result"]["charge"]["in_unit"]
    assert f"{charge['value']:.4f} tola" in page
    lots = {"/lots/0/mass": "3 dwt", "/lots/0/metal": "gold-585-yellow"}
    assert "Gross, dwt" in web("POST", "/recovery", data=lots).text
