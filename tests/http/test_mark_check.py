"""The check of a mark over a real socket: answers, and refusals with their pointers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
PATH = "/v1/mark-check"


def test_post_and_get_answer_alike(web: Web) -> None:
    asked = {"assay": "584.2", "uncertainty": "0.5", "of": "gold", "mark": "585", "jurisdiction": "UK"}
    posted = web("POST", PATH, json=asked)
    assert posted.status_code == 200
    assert web("GET", PATH, params=asked).json() == posted.json()
    (place,) = posted.json()["result"]["jurisdictions"]
    (rule,) = place["rules"]
    assert (place["verdict"], rule["article"]) == ("falls-short", "Sch. 2 Pt I para. 2; s. 4(1)")
    margin = rule["margin"]
    assert (margin["value"], margin["low"], margin["high"], margin["unit"]) == (-0.8, -1.3, -0.3, "permille")


def test_a_straddling_assay_is_not_certain(web: Web) -> None:
    asked = {"assay": 584.8, "uncertainty": 0.5, "mark": 585, "jurisdiction": "UK"}
    result = web("POST", PATH, json=asked).json()["result"]
    assert (result["of"], result["verdict"]) == ("gold", "not-certain")


@pytest.mark.parametrize(
    "assay", ["585 permille", "58.5 percent", "0.585 fraction", {"value": "585", "unit": "permille"}]
)
def test_an_assay_comes_in_any_scale(web: Web, assay: Any) -> None:
    answer = web("POST", PATH, json={"assay": assay, "of": "gold", "jurisdiction": "ISO"}).json()
    assert answer["inputs"]["assay"] == {"value": 585, "unit": "permille"}


def test_every_place_is_judged_when_none_is_named(web: Web) -> None:
    result = web("POST", PATH, json={"metal": "gold-585-yellow", "mark": "585"}).json()["result"]
    places = {one["jurisdiction"]: one for one in result["jurisdictions"]}
    assert {"UK", "US", "Canada", "Finland", "Hallmarking Convention", "ISO", "China"} <= set(places)
    assert "EU" not in places
    assert all(rule["source"] for one in places.values() for rule in one["rules"])
    assert any("not legal advice" in note.lower() for note in result["notes"])
    assert any("plan" in note for note in result["notes"])


def test_a_place_without_a_rule_says_so(web: Web) -> None:
    answer = web("POST", PATH, json={"assay": 950, "of": "palladium", "mark": "950", "jurisdiction": "US"}).json()
    assert answer["result"]["verdict"] == "no-rule"


@pytest.mark.parametrize(
    ("place", "unjudged"),
    [("India", True), ("Switzerland", False), ("Hallmarking Convention", True), ("UK", False), ("US", False)],
)
def test_where_no_rule_for_solder_is_known_a_soldered_article_is_told_so(
    web: Web, place: str, unjudged: bool
) -> None:
    asked = {"metal": "gold-750-yellow", "mark": "750", "jurisdiction": place}
    soldered = web("POST", PATH, json={**asked, "soldered": True}).json()["result"]["jurisdictions"][0]
    plain = web("POST", PATH, json=asked).json()["result"]["jurisdictions"][0]
    said = [one for one in soldered["also"] if "the solder was not judged" in one]
    assert len(said) == unjudged
    assert plain["also"] == [one for one in soldered["also"] if one not in said]
    provided = {one["soldered"]: one["provided"] for one in plain["highest"]}
    assert ("no rule for solder is known" in provided[True]) == unjudged
    assert "solder" not in provided[False]


def test_what_lies_between_the_marks_that_were_read_is_not_certain_in_finland(web: Web) -> None:
    """The Finnish Safety and Chemicals Agency lists 999, 916, 750, 585 and 375 for gold with the solder of each."""
    asked = {"of": "gold", "mark": "800", "jurisdiction": "Finland"}
    assert web("POST", PATH, json={**asked, "assay": 810}).json()["result"]["verdict"] == "not-certain"
    assert web("POST", PATH, json={**asked, "assay": 740}).json()["result"]["verdict"] == "falls-short"
    for assay, highest in ((920, "916"), (760, "750"), (588, "585")):
        answer = web("POST", PATH, json={"of": "gold", "assay": assay, "jurisdiction": "Finland"}).json()["result"]
        assert answer["jurisdictions"][0]["highest"][0]["mark"] == highest


@pytest.mark.parametrize("place", ["India", "Hallmarking Convention"])
def test_a_soldered_article_is_not_sure_to_meet_where_no_law_on_solder_is_known(web: Web, place: str) -> None:
    asked = {"assay": 300, "part_assay": 585, "of": "gold", "soldered": True, "mark": "585", "jurisdiction": place}
    answer = web("POST", PATH, json=asked).json()["result"]
    assert answer["verdict"] == "not-certain"
    soldered = next(one for one in answer["jurisdictions"][0]["highest"] if one["soldered"])
    assert soldered["least"] is None or soldered["least"] <= 375


def test_swiss_and_finnish_law_on_solder(web: Web) -> None:
    """SR 941.311 Art. 36: solder of the article's own fineness. Finland: 585 asks for 585, silver for 550."""
    for place, metal, solder, verdict in (
        ("Switzerland", "gold-750-yellow", "solder-gold-667-4-1-1", "falls-short"),
        ("Switzerland", "gold-750-yellow", "solder-gold-750-hard", "meets"),
        ("Finland", "sterling-silver", "solder-silver-65-20-15", "meets"),
        ("Finland", "gold-585-yellow", "solder-gold-545", "falls-short"),
    ):
        mark = {"gold-750-yellow": "750", "gold-585-yellow": "585"}.get(metal, "925")
        asked = {"metal": metal, "soldered": True, "solder": solder, "mark": mark, "jurisdiction": place}
        assert web("POST", PATH, json=asked).json()["result"]["verdict"] == verdict, (place, metal, solder)


def test_the_whole_is_reckoned_from_solder_and_its_share(web: Web) -> None:
    asked = {
        "metal": {"composition": {"Au": 585, "Ag": 215, "Cu": 200}},
        "mark": "14K",
        "jurisdiction": "US",
        "soldered": True,
        "solder": {"composition": {"Au": 417, "Ag": 383, "Cu": 200}},
    }
    for share, verdict in (("0.05", "meets"), ("0.06", "falls-short")):
        result = web("POST", PATH, json={**asked, "solder_share": share}).json()["result"]
        whole = float(share) * 417 + (1 - float(share)) * 585
        assert result["assay"]["value"] == pytest.approx(whole)
        assert result["verdict"] == verdict


@pytest.mark.parametrize(
    ("karat_parts", "verdict"),
    [(590, "meets"), (585, "meets"), (577, "meets"), (576, "not-certain"), (417, "not-certain")],
)
def test_solder_of_the_work_s_own_karat_keeps_the_mark_however_much_of_it_there_is(
    web: Web, karat_parts: int, verdict: str
) -> None:
    asked = {
        "metal": {"composition": {"Au": 585, "Ag": 215, "Cu": 200}},
        "mark": "14K",
        "jurisdiction": "US",
        "soldered": True,
        "solder": {"composition": {"Au": karat_parts, "Ag": 800 - karat_parts, "Cu": 200}},
    }
    assert web("POST", PATH, json=asked).json()["result"]["verdict"] == verdict


REFUSED = [
    ({}, "/assay", "missing", None),
    ({"assay": 588}, "/of", "missing", "gold"),
    ({"assay": 950, "mark": 950}, "/of", "missing", "platinum"),
    ({"assay": "14 ct", "mark": "585"}, "/assay", "unit-ambiguous", "karat"),
    ({"assay": 588, "of": "silver", "mark": "14K"}, "/mark", "contradiction", None),
    ({"assay": 0.585, "mark": "585"}, "/assay", "out-of-range", None),
    ({"assay": 1001, "mark": "585"}, "/assay", "out-of-range", None),
    ({"assay": "NaN", "mark": "585"}, "/assay", "not-a-quantity", None),
    ({"assay": {"value": 585}, "mark": "585"}, "/assay/unit", "missing", None),
    ({"assay": [585], "mark": "585"}, "/assay", "not-a-number", None),
    ({"assay": 588, "mark": "585", "jurisdiction": "Finnland"}, "/jurisdiction", "not-an-option", "Finland"),
    ({"assay": 588, "mark": "585", "part_assay": 585}, "/part_assay", "contradiction", None),
    ({"assay": 588, "mark": "585", "solder": "Ag"}, "/solder", "contradiction", None),
    ({"metal": "Au", "soldered": True, "solder_share": 0.1}, "/solder", "missing", None),
    ({"metal": "brass-c26000", "mark": "585"}, "/of", "missing", "gold"),
    ({"asay": 588}, "/asay", "unknown-field", "assay"),
]


@pytest.mark.parametrize("case", REFUSED, ids=str)
@pytest.mark.usefixtures("no_new_fault")
def test_a_refusal_names_the_place(web: Web, problem_of: Any, case: tuple[Any, str, str, str | None]) -> None:
    asked, pointer, code, suggestion = case
    issues = problem_of(web("POST", PATH, json=asked), 422)["errors"]
    found = {(one["pointer"], one["code"]): one for one in issues}
    assert (pointer, code) in found, issues
    assert suggestion is None or suggestion in found[pointer, code]["suggestions"]


@pytest.mark.parametrize(
    ("mark", "assay", "fineness"),
    [("22ct", 917, 916), ("14 ct", 585, 585), ("9 carat", 375, 375), ("18 ct", 750, 750)],
)
def test_a_mark_in_ct_is_a_karat_for_nothing_else_is_struck_so(
    web: Web, mark: str, assay: int, fineness: int
) -> None:
    for written in (mark, mark.replace(" ", ""), f"{mark} gold"):
        answer = web("POST", PATH, json={"assay": assay, "mark": written, "jurisdiction": "UK"}).json()
        (place,) = answer["result"]["jurisdictions"]
        assert (place["verdict"], place["rules"][0]["mark"]) == ("meets", fineness)
        assert place["highest"][0]["fineness"] == fineness


@pytest.mark.parametrize(("mark", "least"), [("8K", "41.667 above"), ("333", "42 above")])
def test_below_every_standard_the_least_is_named(web: Web, mark: str, least: str) -> None:
    asked = {"assay": 340, "of": "gold", "mark": mark, "jurisdiction": "UK"}
    (place,) = web("POST", PATH, json=asked).json()["result"]["jurisdictions"]
    assert place["verdict"] == "not-a-mark"
    assert f"the least is 375, {least}" in place["says"]
    for one in place["highest"]:
        assert (one["mark"], one["provided"]) == ("", "")
        assert "375" in one["why_none"]
        assert "misses by 35" in one["why_none"]


def test_no_article_below_the_least_standard_is_exempt(web: Web) -> None:
    asked = {"of": "gold", "jurisdiction": "UK", "mass": "0.4 g"}
    said = {assay: web("POST", PATH, json={**asked, "assay": assay}).json() for assay in (370, 375)}
    shown = {assay: one["result"]["jurisdictions"][0]["exemption"] for assay, one in said.items()}
    assert shown[370].startswith("Not exempt at any weight, for it holds less than 375")
    assert shown[375].startswith("0.4 g is below it")
    assert "the precious metal alone is weighed" in shown[375]
    assert "all metal only where base metal is part" in shown[375]


def test_a_verdict_does_not_say_the_same_twice(web: Web) -> None:
    asked = {"assay": 900, "of": "gold", "mark": "916", "jurisdiction": "China"}
    judged = web("POST", PATH, json=asked).json()["result"]["jurisdictions"][0]
    assert len({one["says"] for one in judged["rules"]}) < len(judged["rules"])
    assert judged["says"].count("misses by 16") == 1
