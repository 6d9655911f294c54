"""Limits on what else an article holds: nickel, cadmium, lead and the like; and who needs no hallmark."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from alloyref.domain.estimate import ZERO
from alloyref.domain.marks.assayed import Assayed
from alloyref.domain.marks.inputs import MarkCheckInputs
from alloyref.domain.marks.results import ElementLimit
from alloyref.domain.marks.rules import Place
from alloyref.domain.metal import FinenessMark, Metal
from alloyref.domain.numbers import plain
from alloyref.domain.reference import Reference
from alloyref.domain.typed import as_given

SYMBOLS = {
    "nickel": "Ni",
    "cadmium": "Cd",
    "lead": "Pb",
    "mercury": "Hg",
    "chromium": "Cr",
    "arsenic": "As",
}
EU = "EU"
WITHIN, OVER, NOT_CERTAIN = "within", "over", "not-certain"


def element_limits(inputs: MarkCheckInputs, reference: Reference) -> tuple[ElementLimit, ...]:
    """The limits of the EU and of the place asked about, judged on the nominal composition (permille)."""
    return tuple(
        _limit(row, inputs.solder if row.when == "solder" else inputs.metal)
        for row in reference.marks
        if row.kind in ("content", "release")
        and (inputs.jurisdiction is None or row.jurisdiction in (EU, inputs.jurisdiction))
        and (row.when != "solder" or inputs.soldered)
    )


def _limit(row: FinenessMark, metal: Metal | None) -> ElementLimit:
    known = metal is not None and not metal.is_trade_name
    content = metal.composition.fineness(SYMBOLS[row.metal]) if metal is not None and known else None
    verdict, says = _judged(row, content)
    if metal is not None and metal.is_trade_name:
        holds = "may" if SYMBOLS[row.metal] in metal.may_hold else "is not known to"
        says = f"An alloy of the name {metal.name} {holds} hold {row.metal}: name the alloy, and have it analysed."
    limit = row.limit if row.limit is not None else ZERO
    return ElementLimit(
        row.jurisdiction,
        row.metal,
        row.instrument,
        row.article,
        limit,
        row.unit,
        content,
        verdict,
        says,
        row.rule,
        row.status.value,
        row.source,
    )


def _judged(row: FinenessMark, content: Decimal | None) -> tuple[str, str]:
    if content is None:
        return NOT_CERTAIN, "The composition was not given."
    if not content:
        return WITHIN, f"No {row.metal} in the nominal composition; only an analysis tells of traces."
    if row.kind == "release":
        return NOT_CERTAIN, f"It holds {plain(content)} permille of nickel: have the release of the article tested."
    if row.limit is not None and content >= row.limit:
        return OVER, f"It holds {plain(content)} permille of {row.metal}; the limit is below {plain(row.limit)}."
    return WITHIN, f"It nominally holds {plain(content)} permille of {row.metal}; have it analysed."


def exemption_of(place: Place, mass: Decimal | None, assayed: Assayed) -> str:
    """The weight below which no hallmark is needed, and how the article's own mass (g) stands to it.

    None is exempt that holds less than the least standard.
    """
    least = place.least_standard
    for row in place.rows:
        if row.kind == "exemption" and row.limit is not None:
            rule = f"{row.rule} ({row.instrument}, {row.article})."
            if least is not None and assayed.best.high < least:
                return f"Not exempt at any weight, for it holds less than {plain(least)}: {rule}"
            if mass is None:
                return rule
            under = mass < row.limit
            return f"{as_given(mass)} is {'below' if under else 'not below'} it: {rule}"
    return ""


def other_rules(place: Place) -> Iterator[str]:
    """What else the place says of marking this metal, in the law's words as read."""
    for row in place.rows:
        if row.kind == "rule":
            yield f"{row.instrument}, {row.article}: {row.rule} [{row.status.value}, {row.source}]"
