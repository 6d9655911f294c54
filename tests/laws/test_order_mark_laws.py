"""Laws of an order's mark: judged as a check of it is, said first where it is missed, and it moves nothing else."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.marks import MARK_CHECK
from alloyref.domain.numbers import plain
from alloyref.domain.order import ORDER

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
LAW = settings(max_examples=60, derandomize=True, deadline=None)
TRIAL = {"trial": {"metal": "sterling-silver", "mass": "6.31 g"}}
METALS = [
    "gold-375-yellow",
    "gold-583-white-pd9-5",
    "gold-585-yellow",
    "gold-917-yellow",
    "sterling-silver",
    "platinum-585-cu-co",
    "platinum-900-ir",
    "platinum-950-ru",
]
MARKS = ["375", "585", "14K", "14 ct", "22ct", "8K", "sterling", "925", "Pt950", "950 platinum", "Pt 585"]
PLACES = [None, "UK", "US", "US state: Massachusetts", "Canada", "Finland", "ISO", "India", "EU"]
metals, marks, places = st.sampled_from(METALS), st.sampled_from(MARKS), st.sampled_from(PLACES)


def given_only(**asked: Any) -> dict[str, Any]:
    return {name: value for name, value in asked.items() if value is not None}


@LAW
@given(metal=metals, mark=marks, place=places)
def test_an_order_and_a_check_of_the_mark_say_the_same(ask: Ask, metal: str, mark: str, place: str | None) -> None:
    asked = given_only(mark=mark, jurisdiction=place)
    ordered = ask(ORDER, {**TRIAL, "final_metal": metal, **asked})
    checked = ask(MARK_CHECK, {"metal": metal, **asked}).result.jurisdictions
    assert [(one.jurisdiction, one.verdict, one.says, one.mark) for one in ordered.result.mark] == [
        (one.jurisdiction, one.verdict, one.says, mark) for one in checked
    ]
    short = {one.jurisdiction: one.misses_by for one in ordered.result.mark if one.misses_by is not None}
    assert set(short) == {one.jurisdiction for one in checked if one.verdict == "falls-short"}
    for one in checked:
        margins = [rule.margin.value for rule in one.rules if rule.verdict == "falls-short"]
        assert not margins or short[one.jurisdiction].value == -min(margins) > 0


@LAW
@given(metal=metals, mark=marks, place=places)
def test_a_mark_that_is_missed_is_said_before_all_else(ask: Ask, metal: str, mark: str, place: str | None) -> None:
    ordered = ask(ORDER, {**TRIAL, "final_metal": metal, **given_only(mark=mark, jurisdiction=place)})
    verdicts = {one.verdict for one in ordered.result.mark}
    by_tolerance = any(one.within_tolerance for one in ordered.result.mark)
    said = [one.id for one in ordered.assumptions]
    if "falls-short" in verdicts or by_tolerance or (place and verdicts != {"meets"}):
        assert said[0] == "mark-not-reached"
        assert mark in ordered.assumptions[0].text
    if verdicts == {"meets"} and not by_tolerance:
        assert "mark-not-reached" not in said
    assert ("mark-short" in {one.id for one in ordered.cautions}) == ("falls-short" in verdicts)
    assert "marks-without-solder" in said


@LAW
@given(metal=metals, mark=st.none() | marks, place=places)
def test_a_mark_moves_nothing_else_in_the_order(ask: Ask, metal: str, mark: str | None, place: str | None) -> None:
    unmarked = ask(ORDER, {**TRIAL, "final_metal": metal}).result
    marked = ask(ORDER, {**TRIAL, "final_metal": metal, **given_only(mark=mark, jurisdiction=place)}).result
    for one in fields(unmarked):
        assert one.name == "mark" or getattr(unmarked, one.name) == getattr(marked, one.name)


@pytest.mark.parametrize("metal", METALS)
def test_without_a_mark_each_place_tells_its_highest_or_its_least(ask: Ask, metal: str) -> None:
    ordered = ask(ORDER, {**TRIAL, "final_metal": metal})
    checked = ask(MARK_CHECK, {"metal": metal}).result.jurisdictions
    assert ordered.assumptions[0].id == "marks-without-solder"
    assert "mark-short" not in {one.id for one in ordered.cautions}
    for told, judged in zip(ordered.result.mark, checked, strict=True):
        highest = judged.highest[0]
        assert told.jurisdiction == judged.jurisdiction
        if highest.plan_for:
            assert (told.mark, told.verdict) == (highest.plan_for.partition(" (")[0], "meets")
            assert not told.within_tolerance
        else:
            assert told.mark == plain(highest.least)
            assert told.verdict == "falls-short"
            assert told.misses_by.value > 0
