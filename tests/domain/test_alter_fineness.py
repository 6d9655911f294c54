"""Raising and lowering: what is refused and in which words, marks, metals, and what is said of karat."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.alter_fineness import ALTER_FINENESS
from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.errors import InvalidInput, NotAvailable

Ask = Callable[[Calculation, dict[str, Any]], Outcome]


def given(lot: str, target: str, added: str) -> dict[str, Any]:
    """A question about ten grams."""
    return {"mass": "10 g", "fineness": lot, "target": target, "with_fineness": added}


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (given("10 karat", "18 karat", "14 karat"), "lies below the 750 permille wanted, so the whole stays below"),
        (given("14 karat", "18 karat", "10 karat"), "cannot raise.*it lowers the lot"),
        (given("18 karat", "10 karat", "14 karat"), "lies above the 416.667 permille wanted"),
        (given("14 karat", "10 karat", "18 karat"), "cannot lower.*it raises the lot"),
        (given("14 karat", "18 karat", "18 karat"), "is its own fineness, but no amount reaches it"),
        (given("14 karat", "18 karat", "14 karat"), "it is no different"),
        (given("14 karat", "24 karat", "24 karat"), "Only refining makes metal fine"),
        (given("14 karat", "0 karat", "0 karat"), "no amount reaches it"),
    ],
)
def test_what_cannot_be_reached_is_refused_in_words(ask: Ask, asked: dict[str, Any], words: str) -> None:
    with pytest.raises(NotAvailable, match=words):
        ask(ALTER_FINENESS, asked)


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"metal": "gold-585-yellow"}, "/metal", "one-of"),
        ({"fineness": None}, "/metal", "one-of"),
        ({"mark": 585}, "/target", "one-of"),
        ({"target": None}, "/target", "one-of"),
        ({"target": None, "mark": 584}, "/mark", "unknown-mark"),
        ({"target": None, "mark": 585, "jurisdiction": "Filand"}, "/jurisdiction", "not-an-option"),
        ({"target": None, "mark": 917, "jurisdiction": "UK"}, "/mark", "unknown-mark"),
        ({"jurisdiction": "UK"}, "/mark", "missing"),
        ({"target": None, "mark": "14K"}, "/jurisdiction", "missing"),
        ({"target": None, "mark": "sterling", "base": "Au"}, "/mark", "contradiction"),
        ({"with_metal": "Au", "with_fineness": "0 permille"}, "/with_fineness", "one-of"),
        ({"base": "Ag"}, "/fineness", "karat-of-gold"),
        ({"fineness": None, "metal": "brass-c26000"}, "/base", "missing"),
        ({"fineness": "25 karat"}, "/fineness", "out-of-range"),
        ({"fineness": "-1 karat"}, "/fineness", "out-of-range"),
        ({"fineness": "14 ct"}, "/fineness", "unit-ambiguous"),
        ({"fineness": "14"}, "/fineness", "unit-missing"),
        ({"fineness": 14}, "/fineness", "unit-missing"),
        ({"fineness": {"value": 14, "unit": "karrat"}}, "/fineness/unit", "unit-unknown"),
        ({"fineness": {"value": 14}}, "/fineness/unit", "missing"),
        ({"target": "999.9999999 permille", "mass": "900 kg"}, "/mass", "out-of-range"),
        ({"mass": "0 g"}, "/mass", "out-of-range"),
        ({"step": "0 g"}, "/step", "out-of-range"),
    ],
)
def test_a_wrong_question_is_refused_in_its_place(ask: Ask, change: dict[str, Any], pointer: str, code: str) -> None:
    asked = {"mass": "10 g", "fineness": "10 karat", "target": "14 karat", **change}
    with pytest.raises(InvalidInput) as refused:
        ask(ALTER_FINENESS, {name: value for name, value in asked.items() if value is not None})
    assert (refused.value.issues[0].pointer, refused.value.issues[0].code) == (pointer, code)


def test_karat_is_said_to_be_arithmetic_only_where_it_was_used(ask: Ask) -> None:
    def ids(**asked: Any) -> list[str]:
        return [one.id for one in ask(ALTER_FINENESS, {"mass": "10 g", **asked}).assumptions]

    assert "karat-by-arithmetic" in ids(fineness="10 karat", target="14 karat")
    assert "karat-by-arithmetic" not in ids(fineness="500 permille", target="585 permille")
    assert ids(fineness="500 permille", mark=585, jurisdiction="UK")[0] == "mark-by-law"


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"fineness": "800 permille", "target": "92.5 percent"}, True),
        ({"fineness": "500 permille", "mark": 585, "jurisdiction": "UK"}, True),
        ({"fineness": "800 permille", "target": "92.5 percent", "base": "Ag"}, False),
        ({"fineness": "800 permille", "mark": "sterling", "jurisdiction": "US"}, False),
        ({"fineness": "500 permille", "mark": "14K", "jurisdiction": "UK"}, False),
        ({"fineness": "500 permille", "target": "14 karat"}, False),
        ({"metal": "gold-585-yellow", "target": "75 percent"}, False),
    ],
)
def test_gold_is_never_counted_in_silence(ask: Ask, asked: dict[str, Any], said: bool) -> None:
    """A fineness in permille or percent may be that of silver: where nothing tells, the answer says gold."""
    outcome = ask(ALTER_FINENESS, {"mass": "10 g", **asked})
    assert ("gold-counted" in [assumption.id for assumption in outcome.assumptions]) == said
    assert not said or outcome.result.base == "Au"


def test_a_tolerance_is_named_and_never_planned_with(ask: Ask) -> None:
    outcome = ask(ALTER_FINENESS, {"mass": "10 g", "metal": "Ag", "mark": 925, "jurisdiction": "US"})
    assert outcome.result.fineness[0] == 925
    text = outcome.assumptions[0].text
    assert "is not planned with" in text
    assert "US" in text


def test_a_law_that_takes_any_mark_takes_it(ask: Ask) -> None:
    """The US statute of 1906 lets gold be marked with what it holds: any figure is a mark there."""
    asked = {"mass": "10 g", "fineness": "500 permille", "mark": 600, "jurisdiction": "US"}
    assert ask(ALTER_FINENESS, asked).result.fineness[0] == 600


def test_a_karat_as_a_mark_means_what_the_place_says(ask: Ask) -> None:
    """Hallmarking Act 1973 (UK), Schedule 1: 14 carats are presumed 585; the US statute takes the karat as it is."""
    asked = {"mass": "10 g", "fineness": "500 permille", "mark": "14K"}
    assert ask(ALTER_FINENESS, {**asked, "jurisdiction": "UK"}).result.fineness[0] == 585
    assert ask(ALTER_FINENESS, {**asked, "jurisdiction": "US"}).result.karat[0] == 14


def test_the_law_s_own_higher_figure_is_planned(ask: Ask) -> None:
    """Hallmarking Act 1973 (UK): the mark 916 stands for 916.6 in the text of the law."""
    asked = {"mass": "10 g", "fineness": "750 permille", "mark": 916, "jurisdiction": "UK"}
    assert ask(ALTER_FINENESS, asked).result.fineness[0] == Decimal("916.6")


def test_a_word_tells_the_metal(ask: Ask) -> None:
    asked = {"mass": "10 g", "fineness": "800 permille", "mark": "sterling", "jurisdiction": "US"}
    result = ask(ALTER_FINENESS, asked).result
    assert (result.base, result.fineness[0]) == ("Ag", 925)


def test_a_lot_that_is_right_needs_nothing(ask: Ask) -> None:
    got = ask(ALTER_FINENESS, {"mass": "10 g", "metal": "gold-750-yellow", "target": "18 karat"}).result
    assert (got.action, got.add, got.total) == ("none", 0, 10)
    assert got.composition == {"Au": 750, "Ag": 125, "Cu": 125}


def test_silver_lowered_with_copper(ask: Ask) -> None:
    """92.5 g of fine silver and 7.5 g of copper are sterling, by definition."""
    asked = {"mass": "92.5 g", "metal": "Ag", "target": "925 permille", "with_metal": "Cu"}
    got = ask(ALTER_FINENESS, asked).result
    assert got.add == Decimal("7.5")
    assert got.composition == {"Ag": 925, "Cu": 75}
    assert got.karat is None
    assert got.nearest_marks[0].fineness == 925


def test_without_compositions_none_is_made_up(ask: Ask) -> None:
    assert ask(ALTER_FINENESS, given("10 karat", "14 karat", "24 karat")).result.composition is None
    lowered = ask(ALTER_FINENESS, {"mass": "10 g", "metal": "gold-750-yellow", "target": "14 karat"}).result
    assert lowered.composition is None
    assert lowered.action == "lower"


def test_cautions_follow_what_the_metals_hold(ask: Ask) -> None:
    def ids(with_metal: str) -> set[str]:
        asked = {"mass": "10 g", "metal": "Au", "target": "750 permille", "with_metal": with_metal}
        return {one.id for one in ask(ALTER_FINENESS, asked).cautions}

    assert "nickel-skin" in ids("Ni")
    assert "nickel-skin" not in ids("Cu")
    assert "moisture" in ids("Cu")


def test_a_step_rounds_a_total_without_losing_the_lot(ask: Ask) -> None:
    asked = {"mass": "0.011 g", "mass_of": "total", "fineness": "1 permille", "target": "999 permille"}
    got = ask(ALTER_FINENESS, {**asked, "step": "0.01 g"}).result
    assert got.lot == Decimal("0.01")
    assert got.total == got.lot + got.add


def test_the_whole_s_composition_says_its_fineness(ask: Ask) -> None:
    result = ask(
        ALTER_FINENESS, {"mass": "20 g", "metal": "gold-585-yellow", "target": "9 karat", "with_metal": "Zn"}
    ).result
    assert result.composition["Au"] == result.fineness[0] == 375
    assert sum(result.composition.values()) == 1000


@pytest.mark.parametrize(
    ("added", "pointer"),
    [({"with_metal": "Ag"}, "/with_metal"), ({"with_fineness": "0 permille"}, "/with_fineness"), ({}, "/target")],
)
def test_what_cannot_be_reached_points_at_what_was_given(ask: Ask, added: dict[str, Any], pointer: str) -> None:
    target = "24 karat" if not added else "18 karat"
    with pytest.raises(NotAvailable) as refused:
        ask(ALTER_FINENESS, {"mass": "20 g", "fineness": "14 karat", "target": target, **added})
    assert refused.value.issues[0].pointer == pointer


def test_a_step_beyond_the_whole_is_refused(ask: Ask) -> None:
    asked = {"mass": "0.4 g", "mass_of": "total", "step": "1 g", "fineness": "18 karat", "target": "9 karat"}
    with pytest.raises(InvalidInput) as refused:
        ask(ALTER_FINENESS, asked)
    assert refused.value.issues[0].pointer == "/step"


def test_an_addition_below_the_step_is_none(ask: Ask) -> None:
    asked = {"mass": "20 g", "fineness": "18 karat", "target": "17.999 karat", "step": "0.01 g"}
    result = ask(ALTER_FINENESS, asked).result
    assert (result.add, result.action) == (0, "none")
    right = ask(ALTER_FINENESS, {"mass": "20 g", "fineness": "18 karat", "target": "18 karat"})
    assert "alloying-metal" not in [one.id for one in right.assumptions]


@pytest.mark.parametrize("element", ["Cd", "Be"])
def test_no_recipe_is_given_for_metal_of_deadly_fume(ask: Ask, element: str) -> None:
    held = {"composition": {"Au": 500, element: 500}, "density": "12 g/cm3"}
    for field in ("metal", "with_metal"):
        asked = {"mass": "10 g", "metal": "Au", "target": "700 permille", field: held}
        if field == "metal":
            asked["with_metal"] = "Au"
        with pytest.raises(InvalidInput) as refused:
            ask(ALTER_FINENESS, asked)
        assert (refused.value.issues[0].pointer, refused.value.issues[0].code) == (f"/{field}", "not-melted")
