"""Finenesses in law against the statutes as read: each fact with its article, tolerance and standing.

UK: Hallmarking Act 1973 as amended. US: 15 U.S.C. 295 to 297 and 16 CFR Part 23. Canada: the regulator's guidance.
Convention on the Control and Marking of Articles of Precious Metals (Vienna 1972), Annex I. Finland: the
regulator's guidance. Switzerland: Ordinance SR 941.311. EU: REACH Annex XVII.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from alloyref.domain.metal import FinenessMark
from alloyref.domain.provenance import Status
from alloyref.domain.reference import Reference

# Where, part of the article, metal, fineness, tolerance below it in permille.
TOLERANCES = [
    ("UK", "s. 4(1)", "gold", "750", "0"),
    ("UK", "s. 4(1)", "gold", "585", "0"),
    ("UK", "Sch. 2 Pt I", "silver", "925", "0"),
    ("UK", "Sch. 2 Pt I", "platinum", "950", "0"),
    ("UK", "Sch. 2 Pt I", "palladium", "500", "0"),
    ("US", "295, part free of solder", "gold", None, "3"),
    ("US", "295, whole article", "gold", None, "7"),
    ("US", "296, part free of solder", "silver", "925", "4"),
    ("US", "296, whole article", "silver", "925", "10"),
    ("US", "296, part free of solder", "silver", "900", "4"),
    ("US", "296, whole article", "silver", "900", "10"),
    ("Canada", "without solder", "gold", "583", "3"),
    ("Canada", "with solder", "gold", "583", "7"),
    ("Canada", "white gold with solder", "gold", None, "15"),
    ("Canada", "without solder", "silver", "925", "2"),
    ("Canada", "with solder", "silver", "925", "6"),
    ("Canada", "guidance", "platinum", "950", "0"),
    ("Hallmarking Convention", "Annex I (", "platinum", "850", "0"),
    ("Hallmarking Convention", "Annex I (", "gold", "375", "0"),
    ("Hallmarking Convention", "Annex I (", "palladium", "500", "0"),
    ("Hallmarking Convention", "Annex I (", "silver", "800", "0"),
    ("Finland", "fineness requirements", "gold", "375", "0"),
    ("Finland", "fineness requirements", "silver", "800", "0"),
    ("US state: North Carolina", "all others", "gold", None, "20.83"),
    ("US state: Massachusetts", "78", "gold", None, "41.66"),
]
# Where, part of the article, metal, words of the rule.
RULES = [
    ("UK", "4(3)(b)(i)", "gold", ["750", "740", "500"]),
    ("UK", "4(3)(b)(ii)", "silver", ["650"]),
    ("UK", "4(3)(b)(iii)", "platinum", ["950"]),
    ("UK", "4(3)(b)(iv)", "palladium", ["700"]),
    ("UK", "Pt II paras 12", "gold", ["exemption weight 1 g"]),
    ("UK", "Pt II paras 12", "silver", ["exemption weight 7.78 g"]),
    ("UK", "Pt II paras 12", "platinum", ["exemption weight 0.5 g"]),
    ("UK", "Pt II paras 12", "palladium", ["exemption weight 1 g"]),
    ("UK", "16(4)(d)", "all", ["100 micrometres"]),
    ("US", "297", "plated", ["sterling", "coin"]),
    ("US", "23.3", "gold", ["24 karat"]),
    ("Switzerland", "178(2)", "gold", ["995"]),
    ("Switzerland", "178(2)", "silver", ["999"]),
    ("Switzerland", "178(2)", "platinum", ["999.5"]),
    ("EU", "23 para. 8", "cadmium", ["0.01 %"]),
    ("EU", "23 para. 10", "cadmium", ["0.01 %"]),
    ("EU", "27 para. 1(a)", "nickel", ["0.2 microgram"]),
    ("EU", "27 para. 1(b)", "nickel", ["0.5 microgram"]),
    ("EU", "63 para. 1", "lead", ["0.05 %"]),
]


def found(reference: Reference, where: str, article: str, metal: str) -> list[FinenessMark]:
    """The rows of one place, article and metal."""
    return [
        mark
        for mark in reference.marks
        if (mark.jurisdiction, mark.metal) == (where, metal) and article in mark.article
    ]


@pytest.mark.parametrize("fact", TOLERANCES, ids=lambda one: "-".join(filter(None, one)))
def test_a_tolerance_is_as_its_article_gives_it(
    reference: Reference, fact: tuple[str, str, str, str | None, str]
) -> None:
    where, article, metal, fineness, tolerance = fact
    wanted = None if fineness is None else Decimal(fineness)
    rows = [mark for mark in found(reference, where, article, metal) if mark.fineness == wanted]
    assert rows
    assert {mark.minus_tolerance for mark in rows} == {Decimal(tolerance)}
    assert all(mark.status in (Status.STANDARD, Status.HANDBOOK) for mark in rows)


@pytest.mark.parametrize("fact", RULES, ids=lambda one: f"{one[0]}-{one[1]}-{one[2]}")
def test_a_rule_says_what_its_article_says(reference: Reference, fact: tuple[str, str, str, list[str]]) -> None:
    where, article, metal, words = fact
    rules = " ".join(mark.rule for mark in found(reference, where, article, metal))
    assert [word for word in words if word not in rules] == []


def test_what_was_only_remembered_says_so(reference: Reference) -> None:
    """ISO 9202, the technical decisions of the Convention, SR 941.31 and GB 11887-2012 were not read."""
    for mark in reference.marks:
        remembered = reference.sources[mark.source].kind == "memory"
        assert remembered == (mark.status is Status.FROM_MEMORY), mark
    assert all(mark.status is Status.FROM_MEMORY for mark in reference.marks if mark.instrument == "ISO 9202")


def test_no_law_here_allows_more_than_a_carat(reference: Reference) -> None:
    """The widest tolerance read is one carat in 24, 41.67 permille, cut to 41.66."""
    assert max(mark.minus_tolerance for mark in reference.marks if mark.minus_tolerance) == Decimal("41.66")
