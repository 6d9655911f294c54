"""What a check of a mark answers with."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from alloyref.domain.calculation import Flag, ListOf, Measured, Number, Record, Text, TextList, item
from alloyref.domain.provenance import Property
from alloyref.domain.units import Dimension

FINENESS = Measured(Dimension.PURITY, decimals=3)


class Verdict(StrEnum):
    """What a rule says of an assay, gravest first."""

    FALLS_SHORT = "falls-short"
    NOT_A_MARK = "not-a-mark"
    NOT_CERTAIN = "not-certain"
    NO_RULE = "no-rule"
    NOT_ASKED = "not-asked"
    MEETS = "meets"


@dataclass(frozen=True, slots=True)
class RuleVerdict:
    """One rule and what it says of the article."""

    article: str = item(Text(), "Article of the law.")
    instrument: str = item(Text(), "Which law or standard.")
    tests: str = item(
        Text(),
        "What is tested: solder-free (a part without solder), whole (with it), the solder, or the composition.",
    )
    verdict: str = item(Text(), "meets, falls-short or not-certain.")
    mark: Decimal = item(Number(), "What the mark promises, in permille.")
    minus_tolerance: Decimal | None = item(
        Number(), "How far an assay may fall below it, in permille; null: not stated."
    )
    least: Decimal = item(Number(), "The least assay that passes, in permille.")
    margin: Property | None = item(
        FINENESS, "Assay less the least that passes; negative: it misses by so much. Null: not assayed."
    )
    says: str = item(Text(), "The verdict in words.")
    rule: str = item(Text(), "What the rule says.")
    status: str = item(Text(), "Standing of the rule.")
    source: str = item(Text(), "Id of its source.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class HighestMark:
    """The highest mark that the assay may carry there."""

    soldered: bool = item(Flag(), "Whether for an article with solder.")
    mark: str = item(Text(), "The mark; empty if there is none.")
    fineness: Decimal | None = item(Number(), "What it promises, in permille.")
    plan_for: str = item(Text(), "The highest mark without using any tolerance: what work is planned for.")
    provided: str = item(Text(), "On what condition; empty if on none.")
    least: Decimal | None = item(Number(), "Where there is none: the least standard known there, in permille.")
    why_none: str = item(Text(), "Where there is none: what that standard asks for, and by how much it is missed.")


@dataclass(frozen=True, slots=True)
class JurisdictionVerdict:
    """What the rules of one place say."""

    jurisdiction: str = item(Text(), "Where.")
    verdict: str = item(
        Text(), "meets, falls-short, not-certain, not-a-mark (unknown there), no-rule (none known here) or not-asked."
    )
    within_tolerance: bool = item(Flag(), "Whether it meets the mark only by a tolerance.")
    says: str = item(Text(), "The verdict in words.")
    rules: tuple[RuleVerdict, ...] = item(ListOf(Record(RuleVerdict)), "Rule by rule; all apply together.")
    highest: tuple[HighestMark, ...] = item(ListOf(Record(HighestMark)), "Without solder, and with.")
    exemption: str = item(Text(), "The weight below which no hallmark is needed, if the law has one.")
    also: tuple[str, ...] = item(TextList(), "What else its rules say, and what was not judged.")


@dataclass(frozen=True, slots=True)
class ElementLimit:
    """A limit on what else is in the article."""

    jurisdiction: str = item(Text(), "Where.")
    element: str = item(Text(), "Which element.")
    instrument: str = item(Text(), "Which law or standard.")
    article: str = item(Text(), "Article.")
    limit: Decimal = item(Number(), "The limit, in the unit beside it.")
    unit: str = item(Text(), "permille by mass, or microgram per cm2 and week of release.")
    content: Decimal | None = item(Number(), "Permille in the nominal composition; null if that is not known.")
    verdict: str = item(Text(), "within, over, or not-certain.")
    says: str = item(Text(), "The verdict in words.")
    rule: str = item(Text(), "What the rule says.")
    status: str = item(Text(), "Standing of the rule.")
    source: str = item(Text(), "Id of its source.")


@dataclass(frozen=True, slots=True)
class MarkCheckResult:
    """Verdicts, rule by rule."""

    of: str = item(Text(), "The precious metal that was judged.")
    verdict: str = item(Text(), "The verdict, if all places asked about agree; else `differs`.")
    assay: Property | None = item(FINENESS, "The article as one piece, with its solder.")
    part_assay: Property | None = item(FINENESS, "The part free of solder.")
    jurisdictions: tuple[JurisdictionVerdict, ...] = item(ListOf(Record(JurisdictionVerdict)), "Place by place.")
    limits: tuple[ElementLimit, ...] = item(ListOf(Record(ElementLimit)), "Nickel, cadmium, lead and the like.")
    notes: tuple[str, ...] = item(TextList(), "What holds of every verdict.")
