"""The check of a mark against what laws and regulators print; the source stands beside each figure."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.marks import MARK_CHECK

Ask = Callable[[Calculation, dict[str, Any]], Outcome]


@pytest.fixture
def place(ask: Ask) -> Callable[..., Any]:
    """What one jurisdiction says."""

    def asked(jurisdiction: str, of: str, **more: Any) -> Any:
        (one,) = ask(MARK_CHECK, {"jurisdiction": jurisdiction, "of": of, **more}).result.jurisdictions
        return one

    return asked


@pytest.mark.parametrize(("assay", "mark"), [(588, "585"), (584, "375")])
def test_the_finnish_examples(place: Callable[..., Any], assay: int, mark: str) -> None:
    """Finnish Safety and Chemicals Agency, fineness requirements: 588 is marked 585, 584 only 375."""
    one = place("Finland", "gold", assay=assay)
    assert [highest.mark for highest in one.highest] == [mark, mark]
    assert place("Finland", "gold", assay=assay, mark=mark).verdict == "meets"
    assert place("Finland", "gold", assay=assay, mark="585").verdict == ("meets" if assay > 585 else "falls-short")


# 15 U.S.C. 295 (gold) and 296 (silver): how far below the mark the part free of solder and the whole may fall.
FEDERAL = [
    ("gold", "14K", Decimal(14000) / 24, 3, 7),
    ("gold", "585", Decimal(585), 3, 7),
    ("gold", "18K", Decimal(750), 3, 7),
    ("silver", "sterling", Decimal(925), 4, 10),
    ("silver", "coin", Decimal(900), 4, 10),
    ("silver", "800", Decimal(800), 4, 10),
]


@pytest.mark.parametrize("case", FEDERAL, ids=lambda case: f"{case[0]}-{case[1]}")
def test_both_federal_tests_apply(place: Callable[..., Any], case: tuple[str, str, Decimal, int, int]) -> None:
    """The two tests are concurrent and not alternative: passing one does not save an article from the other."""
    of, mark, permille, part, whole = case
    hair = Decimal("0.001")
    part_least, whole_least = permille - part + hair, permille - whole + hair

    def verdict(part_assay: Decimal, assay: Decimal) -> str:
        asked = {"soldered": True, "part_assay": str(part_assay)[:12], "assay": str(assay)[:12]}
        found: str = place("US", of, mark=mark, **asked).verdict
        return found

    assert verdict(part_least, whole_least) == "meets"
    assert verdict(part_least - 2 * hair, whole_least) == "falls-short"
    assert verdict(part_least, whole_least - 2 * hair) == "falls-short"
    # Without solder the whole is the part: the narrow tolerance holds.
    assert place("US", of, mark=mark, assay=str(part_least)[:12]).verdict == "meets"
    assert place("US", of, mark=mark, assay=str(whole_least)[:12]).verdict == "falls-short"
    rules = place("US", of, mark=mark, assay="950").rules
    assert {rule.tests: rule.minus_tolerance for rule in rules} == {"solder-free": part, "whole": whole}


def test_a_state_that_allows_more_is_answered_with_what_the_nation_allows(ask: Ask) -> None:
    """General Laws, section 78: one carat below the mark; 15 U.S.C. 295: 3/1000, where there is no solder."""
    asked = {"jurisdiction": "US state: Massachusetts", "of": "gold", "mark": "14K", "assay": "560"}
    result = ask(MARK_CHECK, asked).result
    found = {one.jurisdiction: (one.verdict, one.highest[0].mark) for one in result.jurisdictions}
    assert found == {"US state: Massachusetts": ("meets", "14K"), "US": ("falls-short", "13K")}
    assert next(iter(found)) == asked["jurisdiction"]
    assert result.verdict == "differs"


def test_flatware_and_watchcases_of_gold_have_no_wider_test(place: Callable[..., Any]) -> None:
    """15 U.S.C. 295: watchcases and flatware 3/1000."""
    asked = {"soldered": True, "part_assay": 584, "assay": 578, "mark": "14K"}
    assert place("US", "gold", **asked).verdict == "meets"
    for article in ("flatware", "watchcase"):
        assert place("US", "gold", **asked, article=article).verdict == "falls-short"


# Hallmarking Act 1973 (UK), Sch. 2 Pt I; Hallmarking Convention, technical harmonisation page; ISO 9202 abstract;
# Finnish Safety and Chemicals Agency; GB 11887 expert note: no negative tolerance anywhere.
NO_TOLERANCE = ["UK", "Hallmarking Convention", "ISO", "Finland", "China"]


@pytest.mark.parametrize("jurisdiction", NO_TOLERANCE)
def test_no_minus_tolerance(place: Callable[..., Any], jurisdiction: str) -> None:
    assert place(jurisdiction, "gold", assay="585", mark="585").verdict == "meets"
    short = place(jurisdiction, "gold", assay="584.9", mark="585")
    assert short.verdict == "falls-short"
    assert {rule.margin.value for rule in short.rules} == {Decimal("-0.1")}
    assert {rule.minus_tolerance for rule in short.rules} == {0}


# Competition Bureau Canada, guidance: gold 3 and 7, white gold of 18K or more with solder 15; silver 2 and 6.
CANADA = [
    ("gold", "750", False, False, "747", "746.9"),
    ("gold", "750", False, True, "743", "742.9"),
    ("gold", "750", True, True, "735", "734.9"),
    ("gold", "18K", True, True, "735", "734.9"),
    ("gold", "583", True, True, "576", "575.9"),
    ("gold", "583", False, False, "580", "579.9"),
    ("silver", "925", False, False, "923", "922.9"),
    ("silver", "925", False, True, "919", "918.9"),
]


@pytest.mark.parametrize("case", CANADA, ids=str)
def test_the_canadian_tolerances(place: Callable[..., Any], case: tuple[str, str, bool, bool, str, str]) -> None:
    of, mark, white, soldered, passes, fails = case
    part = {"soldered": True, "part_assay": mark.replace("18K", "750")} if soldered else {}
    for assay, verdict in ((passes, "meets"), (fails, "falls-short")):
        assert place("Canada", of, mark=mark, white=white, assay=assay, **part).verdict == verdict


# Hallmarking Act 1973 (UK), s. 4(3)(b): the least fineness of solder in an article of each mark.
UK_SOLDER = [
    ("gold", "585", {}, 585),
    ("gold", "916", {}, 750),
    ("gold", "750", {"article": "filigree"}, 740),
    ("gold", "750", {"article": "watchcase"}, 740),
    ("gold", "750", {"white": True}, 500),
    ("gold", "585", {"white": True}, 500),
    ("gold", "375", {"white": True}, 375),
    ("silver", "925", {}, 650),
    ("platinum", "950", {}, 950),
    ("palladium", "500", {}, 500),
    ("palladium", "950", {}, 700),
]


@pytest.mark.parametrize(("of", "mark", "more", "least"), UK_SOLDER)
def test_solder_in_the_uk(place: Callable[..., Any], of: str, mark: str, more: dict[str, Any], least: int) -> None:
    symbol = {"gold": "Au", "silver": "Ag", "platinum": "Pt", "palladium": "Pd"}[of]
    for held, verdict in ((least, "meets"), (least - 1, "falls-short")):
        solder = {"composition": {symbol: held, "Cu": 1000 - held}, "density": "10 g/cm3"}
        asked = {"part_assay": 999, "soldered": True, "solder": solder, "mark": mark, **more}
        one = place("UK", of, **asked)
        (rule,) = [rule for rule in one.rules if rule.tests == "solder"]
        assert (rule.verdict, rule.least) == (verdict, least)
        assert one.verdict == verdict
    assert place("UK", of, part_assay=999, soldered=True, mark=mark, **more).verdict == "not-certain"


@pytest.mark.parametrize(
    ("of", "grams"), [("gold", "1"), ("silver", "7.78"), ("platinum", "0.5"), ("palladium", "1")]
)
def test_exemption_weights_of_the_uk(place: Callable[..., Any], of: str, grams: str) -> None:
    """Hallmarking Act 1973 (UK), Sch. 1 Pt II paras 12A to 12D."""
    assert "not below" in place("UK", of, assay=999, mass=f"{grams} g").exemption
    lighter = Decimal(grams) - Decimal("0.01")
    assert "is below it" in place("UK", of, assay=999, mass=f"{lighter} g").exemption


def test_a_carat_word_is_585_in_the_uk_and_arithmetic_in_the_us(place: Callable[..., Any]) -> None:
    """14 carat is presumed 585 (Hallmarking Act 1973, Sch. 1 Pt III, from memory); 583.333 by 14/24 in the US."""
    uk, us = (place(name, "gold", assay="584", mark="14K") for name in ("UK", "US"))
    assert (uk.verdict, us.verdict) == ("falls-short", "meets")
    assert us.rules[0].mark == Decimal("583.333")


def test_between_916_and_the_act_the_uk_is_not_certain(place: Callable[..., Any]) -> None:
    """S. 4(3)(b)(i) of the text in force writes 916.6 for the mark 916, Sch. 1 Pt III para. 3(3) 958.4 for 958."""
    silver = [place("UK", "silver", assay=assay, mark="958").verdict for assay in ("957.9", "958.3", "958.4")]
    assert silver == ["falls-short", "not-certain", "meets"]
    verdicts = [place("UK", "gold", assay=assay, mark="916").verdict for assay in ("915.9", "916.2", "916.6")]
    assert verdicts == ["falls-short", "not-certain", "meets"]


def platinum(**parts: int) -> dict[str, Any]:
    return {"composition": parts, "density": "20 g/cm3"}


# 16 CFR 23.6 (formerly 23.7) in secondary quotations: 500 of platinum, platinum-group metals to 950 in all.
# 75 FR 81443 (FR Doc 2010-32273), summary: alloys with less than 950 of them in all are marked in another way.
@pytest.mark.parametrize(
    ("parts", "mark", "verdict", "misses"),
    [
        ({"Pt": 585, "Cu": 365, "Co": 50}, "585", "falls-short", "-365"),
        ({"Pt": 600, "Pd": 349, "Cu": 51}, "600", "falls-short", "-1"),
        ({"Pt": 600, "Pd": 250, "Ir": 60, "Ru": 20, "Rh": 20, "Cu": 50}, "600", "meets", "0"),
        ({"Pt": 585, "Pd": 415}, "585", "meets", "50"),
    ],
)
def test_platinum_of_500_to_849_asks_for_its_group_in_the_us(
    place: Callable[..., Any], parts: dict[str, int], mark: str, verdict: str, misses: str
) -> None:
    one = place("US", "platinum", metal=platinum(**parts), mark=mark)
    (rule,) = [rule for rule in one.rules if rule.tests == "composition"]
    assert (one.verdict, rule.verdict, rule.margin.value) == (verdict, verdict, Decimal(misses))
    assert bool(one.highest[0].mark) == (verdict == "meets")


def test_without_a_composition_the_group_is_not_certain(place: Callable[..., Any]) -> None:
    one = place("US", "platinum", assay=600, mark="600")
    assert one.verdict == "not-certain"
    assert "give the metal or its composition" in one.says
    assert (one.highest[0].mark, bool(one.highest[0].provided)) == ("600", True)
    assert place("US", "platinum", assay=600, mark="600", metal=platinum(Pt=600, Pd=400)).verdict == "meets"
    assert place("US", "platinum", assay=900, mark="900").verdict == "meets"


# Competition Bureau Canada: at least 95 percent platinum, or platinum and iridium, or platinum and ruthenium.
@pytest.mark.parametrize(
    ("parts", "verdict"),
    [
        ({"Pt": 950, "Cu": 50}, "meets"),
        ({"Pt": 900, "Ir": 100}, "meets"),
        ({"Pt": 850, "Ru": 100, "Cu": 50}, "meets"),
        ({"Pt": 850, "Ir": 99, "Cu": 51}, "falls-short"),
        ({"Pt": 850, "Ir": 75, "Ru": 75}, "falls-short"),
        ({"Pt": 900, "Pd": 100}, "falls-short"),
    ],
)
def test_iridium_or_ruthenium_counts_as_platinum_in_canada(
    place: Callable[..., Any], parts: dict[str, int], verdict: str
) -> None:
    one = place("Canada", "platinum", metal=platinum(**parts), mark="950")
    assert one.verdict == verdict
    # The figure tells the platinum alone (guidance of 1998-03-15).
    assert ("strike no higher figure" in one.says) == (verdict == "meets" and parts["Pt"] < 950)


def test_an_assay_of_platinum_alone_is_not_certain_in_canada(place: Callable[..., Any]) -> None:
    assert place("Canada", "platinum", assay=900, mark="950").verdict == "not-certain"
    assert place("Canada", "platinum", assay=950, mark="950").verdict == "meets"


@pytest.mark.parametrize(("of", "least"), [("gold", 375), ("silver", 800), ("platinum", 850), ("palladium", 500)])
def test_the_minimum_fineness_of_the_uk(place: Callable[..., Any], of: str, least: int) -> None:
    """Hallmarking Act 1973 (UK), s. 22(1)."""
    assert place("UK", of, assay=least, mark=str(least)).verdict == "meets"
    below = place("UK", of, assay=least - 1)
    assert {one.mark for one in below.highest} == {""}
    assert all(f"The least standard known there is {least}" in one.why_none for one in below.highest)
    assert all("misses by 1" in one.why_none for one in below.highest)


# REACH Annex XVII entry 23 (cadmium below 0.01 %), entry 63 (lead below 0.05 %).
@pytest.mark.parametrize(("share", "verdict"), [("0.1", "over"), ("0.099", "within")])
def test_cadmium(ask: Ask, share: str, verdict: str) -> None:
    assert limit_of(ask, "Cd", share, "cadmium") == verdict


@pytest.mark.parametrize(("share", "verdict"), [("0.5", "over"), ("0.499", "within")])
def test_lead(ask: Ask, share: str, verdict: str) -> None:
    assert limit_of(ask, "Pb", share, "lead") == verdict


@pytest.mark.parametrize(("share", "verdict"), [("0", "within"), ("50", "not-certain")])
def test_nickel_release_is_tested_and_not_reckoned(ask: Ask, share: str, verdict: str) -> None:
    """REACH Annex XVII entry 27: a release, which no composition tells."""
    assert limit_of(ask, "Ni", share, "nickel") == verdict


def limit_of(ask: Ask, symbol: str, share: str, element: str) -> str:
    """The EU's verdict on a gold alloy with so much of an element."""
    rest = str(Decimal(415) - Decimal(share))
    metal = {"composition": {"Au": 585, symbol: share, "Cu": rest}, "density": "13 g/cm3"}
    result = ask(MARK_CHECK, {"metal": metal, "jurisdiction": "UK"}).result
    found = {one.verdict for one in result.limits if one.element == element and one.jurisdiction == "EU"}
    assert len(found) == 1
    return str(found.pop())
