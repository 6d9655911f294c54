"""The highest mark that an assay may carry in one place."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from alloyref.domain.estimate import ZERO
from alloyref.domain.mark_name import Mark
from alloyref.domain.marks.assayed import WHOLE, Assayed
from alloyref.domain.marks.results import HighestMark, Verdict
from alloyref.domain.marks.rules import MARK, Place, judge, judge_solder, shown
from alloyref.domain.metal import KARATS
from alloyref.domain.numbers import EXACT, plain, round_to

THOUSAND = Decimal(1000)


def highest_mark(place: Place, assayed: Assayed, soldered: bool) -> HighestMark:
    """The highest mark (fineness in permille) by the rules' own tolerances, and the one to plan work for.

    Rules on what was not assayed become a condition, not a guess.
    """
    judged = assayed.with_solder() if soldered else assayed.without_solder()
    # A nominal composition is a plan, and a plan uses no tolerance.
    found = _highest(place, judged, tolerance=not assayed.nominal)
    planned = _highest(place, judged, tolerance=False)
    if found is None:
        return HighestMark(soldered, "", None, "" if planned is None else planned[0].text, "")
    mark, provided = found
    fineness = round_to(mark.permille, 3)
    return HighestMark(soldered, mark.text, fineness, planned[0].text if planned else "", "; ".join(provided))


def _highest(place: Place, assayed: Assayed, tolerance: bool) -> tuple[Mark, tuple[str, ...]] | None:
    for mark in _candidates(place, assayed):
        provided = _conditions(place, mark.permille, assayed, tolerance)
        if provided is not None:
            return mark, provided
    return None


def _candidates(place: Place, assayed: Assayed) -> Iterator[Mark]:
    """Every mark of the place that could be struck, the highest first."""
    marks: dict[Decimal, Mark] = {}
    for row in place.rows:
        if row.kind == MARK and row.fineness is not None:
            text = f"{plain(row.fineness)} ({row.words})" if row.words else plain(row.fineness)
            marks.setdefault(row.fineness, Mark(text, row.fineness))
    if place.any_fineness:
        # Whole karats of gold; of other metals what was assayed, in whole permille.
        held = assayed.best.low // 1
        for mark in _karats() if place.of == "gold" else (Mark(plain(held), held),):
            marks.setdefault(mark.permille, mark)
    yield from (marks[permille] for permille in sorted(marks, reverse=True))


def _karats() -> Iterator[Mark]:
    for karat in range(int(KARATS), 0, -1):
        yield Mark(f"{karat}K", EXACT.divide(karat * THOUSAND, KARATS), f"{karat}K")


def _conditions(place: Place, permille: Decimal, assayed: Assayed, tolerance: bool) -> tuple[str, ...] | None:
    """On what the mark hangs that was not assayed; None if it may not be struck."""
    rows = place.tests(permille)
    if not rows:
        return None
    tests_whole = any(row.tested == WHOLE for row in rows)
    provided = []
    for row in rows:
        asked = row if tolerance else replace(row, minus_tolerance=ZERO)
        known = assayed.whole if row.tested == WHOLE else assayed.part
        if known is None and (row.tested == WHOLE or tests_whole):
            what = "the whole with its solder" if row.tested == WHOLE else "a part free of solder"
            least = (asked.fineness or permille) - (asked.minus_tolerance or ZERO)
            if row.tested == WHOLE and assayed.best.low < least:
                return None
            provided.append(f"{what} assays at least {shown(least)}")
        elif judge(asked, permille, assayed).verdict != Verdict.MEETS:
            return None
    solder = place.solder_rule(permille) if assayed.soldered else None
    if solder is not None:
        judged = judge_solder(solder, permille, assayed.solder)
        if judged.verdict == Verdict.FALLS_SHORT:
            return None
        if judged.verdict == Verdict.NOT_CERTAIN:
            provided.append(f"the solder holds at least {shown(judged.least)}")
    elif assayed.soldered and not tests_whole:
        provided.append("its law lets the solder be: no rule for solder is known here")
    return tuple(dict.fromkeys(provided))
