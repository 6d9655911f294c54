"""Every page: nothing serious for a reader with other senses, no sideways scrolling on a phone, no fault."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Grave = Callable[[Any], list[str]]

PATHS = (
    "/",
    "/recovery",
    "/density-test",
    "/alloys?base=Au",
    "/alloys/sterling-silver",
    "/compare?id=sterling-silver&id=gold-585-yellow&id=gold-750-yellow",
    "/sources/karmarsch-1877",
)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PATHS)
def test_axe_finds_nothing_serious(visit: Callable[..., Any], path: str, scheme: str, grave: Grave) -> None:
    assert grave(visit(color_scheme=scheme).go(path)) == []


def test_axe_finds_nothing_serious_in_the_order_sheet_and_in_a_refused_form(
    visit: Callable[..., Any], grave: Grave
) -> None:
    page = visit(width=390).go("/")
    page.get_by_role("button", name="Work out the order").click()
    assert page.get_by_role("alert").is_visible()
    assert grave(page) == []
    page.get_by_label("To be cast in").fill("gold-585-yellow")
    page.get_by_label("Metal of the trial").first.fill("sterling-silver")
    page.get_by_label("On the balance").fill("6.31 g")
    page.get_by_role("button", name="Work out the order").click()
    assert page.locator(".sheet").is_visible()
    assert grave(page) == []


def test_axe_finds_nothing_serious_in_the_api_reference(visit: Callable[..., Any], grave: Grave) -> None:
    page = visit().go("/docs")
    page.locator(".opblock").first.wait_for()
    page.locator("#servers[aria-label]").wait_for()
    assert grave(page) == []


@pytest.mark.parametrize("path", PATHS)
def test_a_phone_shows_every_page_without_sideways_scrolling(visit: Callable[..., Any], path: str) -> None:
    page = visit(width=390).go(path)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_alloys_are_found_sorted_and_set_side_by_side_and_a_source_is_a_click_away(visit: Callable[..., Any]) -> None:
    page = visit().go("/alloys")
    page.get_by_label("Base metal").select_option("Au")
    page.get_by_label("Karat", exact=True).fill("14")
    page.get_by_label("Sort by").select_option("-density")
    page.get_by_role("button", name="Find").click()
    rows = page.locator(".found tbody tr")
    densities = [float(text.split()[0]) for text in rows.locator("td:nth-child(6) .value").all_inner_texts()]
    assert len(densities) > 3
    assert densities == sorted(densities, reverse=True)
    for row in range(2):
        rows.nth(row).get_by_role("checkbox").check()
    page.get_by_role("button", name="Compare the ticked").click()
    assert page.locator(".compare thead th").count() == 3
    page.locator(".compare .standing").first.click()
    assert "/sources/" in page.url
    assert page.get_by_text("Its id").is_visible()


def test_a_question_that_breaks_a_rule_says_so_in_place(visit: Callable[..., Any]) -> None:
    page = visit().go("/alloys?karat=fourteen")
    assert "karat" in page.get_by_role("alert").inner_text().casefold()
