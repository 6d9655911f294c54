"""Laws of marking: a finer metal never loses a mark, a wider doubt never grants one, solder never helps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.marks import MARK_CHECK
from alloyref.domain.marks.results import JurisdictionVerdict
from alloyref.domain.purity import METALS
from alloyref.domain.reference import Reference

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
LAW = settings(max_examples=80, derandomize=True, deadline=None)
PLACES = ["UK", "US", "US state: North Carolina", "US state: Massachusetts", "Canada", "Hallmarking Convention"]
PLACES += ["ISO", "Finland", "Switzerland", "India", "China"]
MARKS = ["375", "585", ".583", "14K", "18K", "750", "22K", "916", "990", "999", "333"]
ORDER = ["falls-short", "not-certain", "meets"]

tenths, steps = st.integers(3000, 9900), st.integers(1, 100)
WHOLE_KARATS = {"US", "US state: North Carolina", "US state: Massachusetts", "Canada"}
"""There any mark is lawful that tells the truth; the highest is told in whole karats, and as Canada lists them."""
places, marks = st.sampled_from(PLACES), st.sampled_from(MARKS)


def judged(ask: Ask, place: str, tenths_permille: int, **more: Any) -> JurisdictionVerdict:
    asked = {"assay": str(tenths_permille / 10), "of": "gold", "jurisdiction": place, **more}
    one: JurisdictionVerdict = ask(MARK_CHECK, asked).result.jurisdictions[0]
    return one


@LAW
@given(
    place=places, asked=st.fixed_dictionaries({"mark": marks, "soldered": st.booleans()}), assay=tenths, more=steps
)
def test_a_finer_assay_never_loses_a_mark(ask: Ask, place: str, asked: Any, assay: int, more: int) -> None:
    worse = judged(ask, place, assay, **asked)
    better = judged(ask, place, assay + more, **asked)
    if worse.verdict == "not-a-mark":
        assert better.verdict == "not-a-mark"
        return
    assert ORDER.index(worse.verdict) <= ORDER.index(better.verdict)
    for low, high in zip(worse.highest, better.highest, strict=True):
        assert (low.fineness or 0) <= (high.fineness or 0)


@LAW
@given(place=places, mark=marks, assay=tenths, widths=st.tuples(steps, steps))
def test_a_wider_doubt_never_makes_a_verdict_surer(
    ask: Ask, place: str, mark: str, assay: int, widths: tuple[int, int]
) -> None:
    narrow, wide = (judged(ask, place, assay, mark=mark, uncertainty=str(one / 10)).verdict for one in sorted(widths))
    assert wide in (narrow, "not-certain")


@LAW
@given(place=places, assay=tenths)
def test_the_highest_mark_is_lawful_and_no_higher_listed_one_is(ask: Ask, place: str, assay: int) -> None:
    highest = judged(ask, place, assay).highest[0]
    if highest.mark:
        assert judged(ask, place, assay, mark=highest.mark.split(" ")[0]).verdict in ("meets", "not-certain")
    for mark in MARKS:
        one = judged(ask, place, assay, mark=mark)
        told = place not in WHOLE_KARATS or mark.endswith("K")
        if told and one.verdict == "meets":
            assert highest.fineness is not None
            assert one.rules[0].mark <= highest.fineness


OF_EACH = {
    "gold": [*MARKS, "9K", "22 ct", "590"],
    "silver": ["sterling", "coin", "britannia", "800", "830", "925", "958", "999"],
    "platinum": ["500", "585", "850", "900", "950", "999"],
    "palladium": ["500", "950", "999"],
}


def each_kind(reference: Reference, of: str) -> list[str]:
    """An alloy for each that law could tell apart: by its fineness, by being white, by what counts as platinum."""
    alloys = [alloy for alloy in reference.alloys.values() if alloy.metal.base == METALS[of]]
    group = ("Pt", "Pd", "Ir", "Ru", "Rh") if of == "platinum" else (METALS[of],)
    kinds = {(*map(alloy.metal.composition.fineness, group), alloy.colour == "white"): alloy.id for alloy in alloys}
    return list(kinds.values())


@pytest.mark.parametrize("of", OF_EACH)
def test_the_highest_mark_is_never_below_one_that_passes_and_passes_itself(
    ask: Ask, reference: Reference, of: str
) -> None:
    """Over every alloy, place and mark: the verdict and the highest mark are judged alike."""
    for alloy in each_kind(reference, of):
        for mark in OF_EACH[of]:
            asked = {"metal": alloy, "mark": mark}
            for one in ask(MARK_CHECK, asked).result.jurisdictions:
                highest = one.highest[0]
                if one.verdict == "meets":
                    assert highest.fineness >= one.rules[0].mark, (alloy, mark, one.jurisdiction)
                if highest.mark:
                    again = {**asked, "mark": highest.mark.split(" (")[0], "jurisdiction": one.jurisdiction}
                    verdict = ask(MARK_CHECK, again).result.jurisdictions[0].verdict
                    assert verdict == "meets", (alloy, mark, highest)


@pytest.mark.parametrize("of", OF_EACH)
def test_an_alloy_is_judged_like_an_assay_of_what_it_holds(ask: Ask, reference: Reference, of: str) -> None:
    """By its nominal composition or by an assay of that very fineness: the same verdicts, the same highest marks."""
    for alloy in each_kind(reference, of):
        assay = str(reference.alloys[alloy].metal.composition.fineness(METALS[of]))
        for mark in OF_EACH[of]:
            asked = {"metal": alloy, "mark": mark}
            nominal, assayed = (ask(MARK_CHECK, {**asked, **more}).result for more in ({}, {"assay": assay}))
            assert nominal.jurisdictions == assayed.jurisdictions


@LAW
@given(place=places, mark=marks, assay=tenths)
def test_a_margin_is_the_assay_less_the_least(ask: Ask, place: str, mark: str, assay: int) -> None:
    for rule in judged(ask, place, assay, mark=mark).rules:
        assert rule.margin is not None
        assert float(rule.margin.value) == pytest.approx(assay / 10 - float(rule.least), abs=0.001)
        assert float(rule.least) == pytest.approx(float(rule.mark) - float(rule.minus_tolerance or 0), abs=0.001)
        assert (rule.verdict == "falls-short") == (rule.margin.value < 0)


@LAW
@given(place=places, assay=tenths)
def test_planning_uses_no_tolerance(ask: Ask, place: str, assay: int) -> None:
    """What may be planned for never promises more than the metal holds."""
    highest = judged(ask, place, assay).highest[0]
    planned = highest.plan_for.split(" ")[0]
    if planned:
        rules = judged(ask, place, assay, mark=planned).rules
        assert all(float(rule.mark) <= assay / 10 + 0.001 for rule in rules)
