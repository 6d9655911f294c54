"""The main job by form, as a person at the bench does it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import requests
from playwright.sync_api import expect


def fill_the_trial(page: Any, mass: str = "6.31 g") -> None:
    """The reed-pattern band, proved in sterling, wanted twice in 14 k yellow."""
    page.get_by_label("The piece", exact=True).first.fill("reed-pattern band")
    page.get_by_label("To be cast in").fill("gold-585-yellow")
    page.get_by_label("Good pieces wanted").fill("2")
    page.get_by_label("Metal of the trial").first.fill("sterling-silver")
    page.get_by_label("On the balance").fill(mass)


@pytest.mark.parametrize("script", [True, False], ids=["with-script", "without-script"])
def test_a_trial_becomes_an_order_sheet_with_the_figures_of_the_api(
    visit: Callable[..., Any], web: Callable[..., requests.Response], script: bool
) -> None:
    page = visit(java_script_enabled=script).go("/")
    fill_the_trial(page)
    page.get_by_role("button", name="Work out the order").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Order sheet: 2 × reed-pattern band")
    order = {
        "name": "reed-pattern band",
        "final_metal": "gold-585-yellow",
        "pieces": 2,
        "trial": {"metal": "sterling-silver", "mass": "6.31 g"},
    }
    charge = web("POST", "/v1/order", json=order).json()["result"]["charge"]
    shown = page.locator(".big", has_text="Weigh into the crucible").inner_text()
    assert f"{charge['display']['g']:.2f} g" in shown
    assert f"{charge['display']['dwt']:.2f} dwt" in shown
    assert f"{charge['display']['ozt']:.4f} ozt" in shown
    assert "Moisture and molten metal" in page.locator(".cautions").inner_text()


def test_a_fault_stands_beside_its_field_and_nothing_filled_in_is_lost(visit: Callable[..., Any]) -> None:
    page = visit().go("/")
    fill_the_trial(page, mass="6.31 oz")
    page.get_by_role("button", name="Work out the order").click()
    field = page.locator('[name="/trial/mass"]')
    expect(field).to_have_attribute("aria-invalid", "true")
    about = page.locator(f"#{field.get_attribute('aria-describedby')}").inner_text()
    assert "ozt" in about
    assert "oz_av" in about
    assert field.input_value() == "6.31 oz"
    assert page.get_by_label("Good pieces wanted").input_value() == "2"
    page.get_by_role("alert").get_by_role("link").click()
    assert page.url.endswith("#f-trial-mass")


@pytest.mark.parametrize("script", [True, False], ids=["with-script", "without-script"])
def test_more_rows_can_be_had_and_each_counts(visit: Callable[..., Any], script: bool) -> None:
    page = visit(java_script_enabled=script).go("/")
    fill_the_trial(page)
    page.get_by_text("Prices quoted to you", exact=True).click()
    page.locator('[name="more"][value="/prices"]').click()
    for row, (metal, price) in enumerate((("Au", "104.50"), ("Ag", "1.32"))):
        page.locator(f'[name="/prices/{row}/metal"]').fill(metal)
        page.locator(f'[name="/prices/{row}/price"]').fill(price)
        page.locator(f'[name="/prices/{row}/currency"]').fill("EUR")
    assert page.get_by_label("Good pieces wanted").input_value() == "2"
    page.get_by_role("button", name="Work out the order").click()
    money = page.locator("section", has=page.get_by_role("heading", name="Money")).inner_text()
    assert "Au: 104.5 EUR per g" in money
    assert "Ag: 1.32 EUR per g" in money


def test_the_unit_switch_hides_the_others_and_is_remembered(visit: Callable[..., Any]) -> None:
    page = visit().go("/")
    fill_the_trial(page)
    page.get_by_role("button", name="Work out the order").click()
    page.get_by_label("dwt", exact=True).check()
    shown = page.locator(".big", has_text="Weigh into the crucible")
    assert re.search(r"[\d.]+ dwt", shown.inner_text())
    assert "ozt" not in shown.inner_text()
    page.get_by_role("button", name="Work it out again").click()
    expect(page.get_by_label("dwt", exact=True)).to_be_checked()


def test_the_sheet_prints(visit: Callable[..., Any], tmp_path: Path) -> None:
    page = visit().go("/")
    fill_the_trial(page)
    page.get_by_role("button", name="Work out the order").click()
    page.emulate_media(media="print")
    assert not page.locator(".again").is_visible()
    assert not page.locator(".top").is_visible()
    target = tmp_path / "sheet.pdf"
    page.pdf(path=str(target))
    assert target.read_bytes().startswith(b"%PDF-")


def test_the_form_is_filled_by_the_keyboard_alone(visit: Callable[..., Any]) -> None:
    page = visit().go("/")
    page.get_by_label("The piece", exact=True).first.focus()
    for text in ("band", "gold-585-yellow", "2", "sterling-silver", "6.31 g"):
        page.keyboard.type(text)
        page.keyboard.press("Escape")  # closes the list of metals, should it be open
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.wait_for_url("**/order")
    assert "2 × band" in page.get_by_role("heading", level=1).inner_text()
