"""The highest mark that an assay may carry in one place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from alloyref.domain.estimate import ZERO
from alloyref.domain.mark_name import Mark
from alloyref.domain.marks.assayed import SOLDER_FREE, WHOLE, Assayed
from alloyref.domain.marks.results import HighestMark, RuleVerdict, Verdict
from alloyref.domain.marks.rules import COMPOSITION, MARK, SOLDER, Place, judge_mark, shown
from alloyref.domain.metal import KARATS
from alloyref.domain.numbers import EXACT, plain, round_to

THOUSAND = Decimal(1000)


def highest_mark(place: Place, assayed: Assayed, soldered: bool, asked: Mark | None = None) -> HighestMark:
    """The highest mark (fineness in permille) by the rules' own tolerances, and the one to plan work for.

    Rules on what was not assayed become a condition, not a guess. The mark that was `asked` about is among those
    tried, so that the highest is never below a mark that passes.
    """
    judged = assayed.with_solder() if soldered else assayed.without_solder()
    every, reach = _candidates(place, judged, asked), _reach(place, judged)
    candidates = [mark for mark in every if mark.permille <= reach]
    found = _highest(place, judged, candidates)
    if found is None:
        return HighestMark(soldered, "", None, "", "", *_least(place, judged))
    mark, provided = found
    # What passes without a tolerance passes with it too.
    planned = _highest(place, judged, candidates[candidates.index(mark) :], tolerance=False)
    plan_for = "" if planned is None else planned[0].text
    return HighestMark(soldered, mark.text, round_to(mark.permille, 3), plan_for, "; ".join(provided), None, "")


def _highest(
    place: Place, assayed: Assayed, candidates: Sequence[Mark], tolerance: bool = True
) -> tuple[Mark, tuple[str, ...]] | None:
    for mark in candidates:
        provided = _provided(judge_mark(place, mark.permille, assayed, tolerance), assayed)
        if provided is not None:
            return mark, provided
    return None


def _least(place: Place, assayed: Assayed) -> tuple[Decimal | None, str]:
    """The least standard of the place in permille, and what it asks for that the assay does not hold."""
    listed = _listed(place)
    if not listed:
        return None, ""
    mark = listed[min(listed)]
    says = [one.says for one in judge_mark(place, mark.permille, assayed) if one.verdict != Verdict.MEETS]
    why = says[0] if says else "Whether its law lets the solder be is not known here: ask the assay office."
    return round_to(mark.permille, 3), f"The least standard known there is {mark.text}. {why}"


def _listed(place: Place) -> dict[Decimal, Mark]:
    """The marks that the place's own rules list, by permille."""
    marks: dict[Decimal, Mark] = {}
    for row in place.rows:
        if row.kind == MARK and row.fineness is not None:
            text = f"{plain(row.fineness)} ({row.words})" if row.words else plain(row.fineness)
            marks.setdefault(row.fineness, Mark(text, row.fineness))
    least = place.least_standard
    if least is not None:
        marks.setdefault(least, Mark(plain(least), least))
    return marks


def _candidates(place: Place, assayed: Assayed, asked: Mark | None) -> list[Mark]:
    """Every mark of the place that could be struck, the highest first."""
    marks = _listed(place)
    if place.any_fineness:
        # Whole karats of gold; of other metals what was assayed, in whole permille.
        held = assayed.best.low // 1
        for mark in _karats() if place.of == "gold" else (Mark(plain(held), held),):
            marks.setdefault(mark.permille, mark)
    if asked is not None and not any(row.fineness in marks for row in place.tests(asked.permille)):
        marks.setdefault(asked.permille, asked)
    return [marks[permille] for permille in sorted(marks, reverse=True)]


def _reach(place: Place, assayed: Assayed) -> Decimal:
    """No mark above this (permille) could pass: what the metal may hold, and the largest tolerance of the place."""
    if any(row.counts for row in place.rows):
        return THOUSAND
    return assayed.best.high + max((row.minus_tolerance or ZERO for row in place.rows), default=ZERO)


def _karats() -> Iterator[Mark]:
    for karat in range(int(KARATS), 0, -1):
        yield Mark(f"{karat}K", EXACT.divide(karat * THOUSAND, KARATS), f"{karat}K")


_HOLDS = {
    WHOLE: "the whole with its solder assays at least",
    SOLDER_FREE: "a part free of solder assays at least",
    SOLDER: "the solder holds at least",
    COMPOSITION: "what counts in it comes to at least",
}


def _provided(rules: Sequence[RuleVerdict], assayed: Assayed) -> tuple[str, ...] | None:
    """On what the mark hangs that was not assayed; None if it may not be struck."""
    if not rules or any(one.verdict == Verdict.FALLS_SHORT for one in rules):
        return None
    tested = {one.tests for one in rules}
    provided = []
    for one in rules:
        if one.verdict == Verdict.MEETS:
            continue
        if not _is_open(one, tested, assayed):
            return None
        provided.append(f"{_HOLDS[one.tests]} {shown(one.least)}")
    if assayed.soldered and not tested & {SOLDER, WHOLE}:
        provided.append("its law lets the solder be: no rule for solder is known here")
    return tuple(dict.fromkeys(provided))


def _is_open(one: RuleVerdict, tested: set[str], assayed: Assayed) -> bool:
    """Whether the rule is undecided only because what it tests was not assayed, and could pass.

    A whole holds no more than its part; of a part nothing is known but by an assay of the whole that a rule tests.
    """
    if one.margin is not None:
        return False
    if one.tests == WHOLE:
        return assayed.best.low >= one.least
    return one.tests != SOLDER_FREE or WHOLE in tested
