"""What the final metal of an order may be marked, as a check of the mark judges it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from alloyref.domain.calculation import Assumption
from alloyref.domain.errors import InvalidInput
from alloyref.domain.fineness import NAMES
from alloyref.domain.mark_name import METAL_NAMES, Mark, parse_mark
from alloyref.domain.marks.calculation import mark_check
from alloyref.domain.marks.inputs import MarkCheckInputs
from alloyref.domain.marks.results import JurisdictionVerdict, MarkCheckResult, Verdict
from alloyref.domain.marks.rules import shown
from alloyref.domain.numbers import plain
from alloyref.domain.order.inputs import OrderInputs
from alloyref.domain.order.results import OrderMark
from alloyref.domain.provenance import Property, Status
from alloyref.domain.purity import METALS
from alloyref.domain.reference import Reference

FALLS_SHORT = "mark:falls-short"
"""The token of the caution about a metal that falls short of the mark asked for."""


def marks_of(inputs: OrderInputs, reference: Reference) -> tuple[OrderMark, ...]:
    """The verdict of each place on the mark asked about, else the highest lawful mark there; fineness in permille.

    Judged on the nominal composition as one piece without solder. `InvalidInput` where a mark could be meant for
    several metals; nothing for a metal that is not precious and was not asked about.
    """
    metal, mark = inputs.final_metal, inputs.mark
    if metal.base not in NAMES and mark is None:
        return ()
    if metal.base not in NAMES and mark is not None and not mark.metal:
        detail = f"{metal.name} is not named for a precious metal: write the mark with its metal."
        raise InvalidInput.of("missing", detail, "/mark", [f"{mark.text} {name}" for name in METAL_NAMES])
    # Most orders are of few metals, so what was judged of late is kept.
    return reference.kept(_marks, MarkCheckInputs(metal=metal, mark=mark, jurisdiction=inputs.jurisdiction))


def _marks(asked: MarkCheckInputs, reference: Reference) -> tuple[OrderMark, ...]:
    places = _places(asked, reference)
    if asked.mark is not None:
        return tuple(_verdict(asked.mark, place) for place in places)
    return tuple(_highest(asked, place, reference) for place in places)


def _places(asked: MarkCheckInputs, reference: Reference) -> tuple[JurisdictionVerdict, ...]:
    result: MarkCheckResult = mark_check(asked, reference).result
    return result.jurisdictions


def _verdict(mark: Mark, place: JurisdictionVerdict) -> OrderMark:
    margins = [rule.margin for rule in place.rules if rule.margin and rule.verdict == Verdict.FALLS_SHORT]
    worst = min(margins, key=lambda margin: margin.value, default=None)
    misses_by = worst and replace(worst, value=-worst.value, low=-worst.high, high=-worst.low)
    return OrderMark(place.jurisdiction, mark.text, place.verdict, misses_by, place.within_tolerance, place.says)


def _highest(asked: MarkCheckInputs, place: JurisdictionVerdict, reference: Reference) -> OrderMark:
    """The highest lawful mark without using a tolerance, judged like one that was asked about.

    Where there is none, the least standard. Of a trade name the highest mark that its richest alloy may bear, which
    then is not certain.
    """
    found = place.highest[0]
    if asked.metal is not None and asked.metal.most_fine is not None and asked.metal.base == "Au":
        richest = replace(asked, metal=None, assay=asked.metal.most_fine, of=NAMES[asked.metal.base])
        found = _places(replace(richest, jurisdiction=place.jurisdiction), reference)[0].highest[0]
    least = plain(found.least) if found.least is not None else ""
    text = (found.plan_for or found.mark).partition(" (")[0] or least
    if not text:
        return OrderMark(place.jurisdiction, "", place.verdict, None, False, place.says)
    mark = parse_mark(text)
    again = _places(replace(asked, mark=mark, jurisdiction=place.jurisdiction), reference)
    return _verdict(mark, again[0])  # what was asked for goes first


def mark_tokens(inputs: OrderInputs, marks: Sequence[OrderMark]) -> tuple[str, ...]:
    """What the cautions are chosen by, where the mark asked for is missed."""
    missed = inputs.mark is not None and any(one.verdict == Verdict.FALLS_SHORT for one in marks)
    return (FALLS_SHORT,) if missed else ()


def mark_assumptions(inputs: OrderInputs, marks: Sequence[OrderMark]) -> Iterator[Assumption]:
    """First that the mark asked for is not reached, if it is not; then that solder was not judged."""
    if not marks:
        return
    of = (inputs.mark.metal if inputs.mark else "") or NAMES[inputs.final_metal.base]
    share = inputs.final_metal.composition.fineness(METALS[of])
    basis = Property(share, "permille", share, share, Status.CALCULATED, "definition")
    if inputs.mark is not None:
        missed = _not_reached(inputs.jurisdiction is not None, marks)
        if missed:
            asked = f"{inputs.final_metal.name or 'The final metal'} {_in_short(marks)} the mark {inputs.mark.text}"
            yield Assumption("mark-not-reached", f"{asked}. {missed} {GOES_ON}", basis)
    yield Assumption("marks-without-solder", WITHOUT_SOLDER, basis)


def _in_short(marks: Sequence[OrderMark]) -> str:
    short = any(one.verdict == Verdict.FALLS_SHORT for one in marks)
    return "falls short of" if short else "is not sure to hold what is promised by"


def _not_reached(place_named: bool, marks: Sequence[OrderMark]) -> str:
    """Where the metal does not plainly meet the mark; of places that nobody named only where it falls short."""
    everywhere = place_named or not any(one.verdict == Verdict.MEETS for one in marks)
    missed = [
        one
        for one in marks
        if one.verdict == Verdict.FALLS_SHORT or one.within_tolerance or (everywhere and one.verdict != Verdict.MEETS)
    ]
    if place_named:
        return " ".join(f"{one.jurisdiction}: {one.says}" for one in missed)
    told = [
        f"{verdict} in {', '.join(one.jurisdiction for one in places)}"
        for verdict, places in groupby(sorted(missed, key=_told), key=_told)
    ]
    return f"It {'; it '.join(told)}." if told else ""


def _told(one: OrderMark) -> str:
    if one.misses_by is not None:
        return f"falls short by {shown(one.misses_by.value)} permille"
    if one.within_tolerance:
        return "passes only by the tolerance, which is for judging an assay and no licence to plan short,"
    return TOLD[Verdict(one.verdict)]


TOLD = {
    Verdict.FALLS_SHORT: "falls short",
    Verdict.NOT_CERTAIN: "is not certain",
    Verdict.NOT_A_MARK: "is no mark",
    Verdict.NO_RULE: "has no known rule",
}
GOES_ON = "The order is reckoned all the same: choose a finer metal, or another mark, before you buy."
WITHOUT_SOLDER = (
    "What the metal may be marked is judged on its nominal composition, without solder: whether the work will be "
    "soldered was not said. Solder below the mark lowers the whole, and a melt may hold less: check the mark with "
    "the solder, and have the work assayed."
)
