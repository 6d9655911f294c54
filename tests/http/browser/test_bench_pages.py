"""A density test and a recovery by form, with the figures of the API."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import requests

Grave = Callable[[Any], list[str]]


def test_a_ring_is_weighed_in_air_and_in_water(
    visit: Callable[..., Any], web: Callable[..., requests.Response], grave: Grave
) -> None:
    page = visit().go("/density-test")
    page.locator('[name="/weighings/0/in_air"]').fill("4.870 g")
    page.locator('[name="/weighings/0/in_liquid"]').fill("4.511 g")
    page.get_by_label("Step of the balance").fill("0.001 g")
    page.get_by_role("button", name="Work out the density").last.click()
    asked = {"weighings": [{"in_air": "4.870 g", "in_liquid": "4.511 g"}], "readability": "0.001 g"}
    result = web("POST", "/v1/density-test", json=asked).json()["result"]
    assert f"{result['density']['value']:.2f} g/cm³" in page.locator(".big").first.inner_text()
    rows = page.locator("section", has_text="Likeliest alloys").locator("tbody tr th a")
    assert rows.all_inner_texts() == [one["name"] for one in result["candidates"]]
    assert "tungsten" in page.locator(".cautions").first.inner_text().casefold()
    assert f"measured {result['density']['value']:.3f}" in page.locator(".picture img").get_attribute("alt")
    assert grave(page) == []


def test_two_offers_are_compared(
    visit: Callable[..., Any], web: Callable[..., requests.Response], grave: Grave
) -> None:
    offers = [("offer A", "0.97", "25"), ("offer B", "0.985", "60")]
    page = visit(width=390).go("/recovery")
    for pointer, value in (
        ("/lots/0/name", "buttons"),
        ("/lots/0/mass", "18.35 g"),
        ("/lots/0/assay/Au", "583.1"),
        ("/prices/0/metal", "Au"),
        ("/prices/0/price", "104.50"),
        ("/prices/0/currency", "EUR"),
    ):
        page.locator(f'[name="{pointer}"]').fill(value)
    page.locator('[name="more"][value="/terms"]').click()
    for row, (name, paid, charge) in enumerate(offers):
        page.locator(f'[name="/terms/{row}/name"]').fill(name)
        page.locator(f'[name="/terms/{row}/pays/0/metal"]').select_option("Au")
        page.locator(f'[name="/terms/{row}/pays/0/paid"]').fill(paid)
        page.locator(f'[name="/terms/{row}/lot_charge"]').fill(charge)
    page.get_by_role("button", name="Compare the offers").last.click()
    asked = {
        "lots": [{"name": "buttons", "mass": "18.35 g", "assay": {"Au": "583.1"}}],
        "prices": [{"metal": "Au", "price": "104.50", "currency": "EUR"}],
        "terms": [
            {"name": name, "pays": [{"metal": "Au", "paid": paid}], "lot_charge": charge}
            for name, paid, charge in offers
        ],
    }
    result = web("POST", "/v1/recovery", json=asked).json()["result"]
    shown = page.locator(".big").all_inner_texts()
    assert len(shown) == len(offers)
    for one, text in zip(result["settlements"], shown, strict=True):
        assert one["offer"] in text
        assert f"{one['settlement']['low']:.2f}" in text
    assert result["comparison"]["best"] in page.locator(".sheet .lead").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert grave(page) == []


def test_a_density_test_that_cannot_be_says_why_beside_the_field(visit: Callable[..., Any]) -> None:
    page = visit().go("/density-test")
    page.locator('[name="/weighings/0/in_air"]').fill("4.5 g")
    page.locator('[name="/weighings/0/in_liquid"]').fill("4.8 g")
    page.get_by_role("button", name="Work out the density").last.click()
    assert page.get_by_role("alert").is_visible()
    assert page.locator('[name="/weighings/0/in_liquid"]').input_value() == "4.8 g"
