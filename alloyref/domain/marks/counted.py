"""Metals that count together: towards a fineness, or to a sum that a rule asks beside it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.estimate import ZERO, Estimate
from alloyref.domain.marks.assayed import compare
from alloyref.domain.marks.results import Verdict
from alloyref.domain.metal import FinenessMark
from alloyref.domain.numbers import plain
from alloyref.domain.purity import METALS


def counted_in(row: FinenessMark, composition: Composition) -> Decimal:
    """What counts towards the fineness of the row's metal, in permille: the set that comes to most."""
    sets = row.counts or ((METALS[row.metal],),)
    return max(sum((composition.fineness(symbol) for symbol in symbols), ZERO) for symbols in sets)


def counted(row: FinenessMark, alone: Estimate | None, composition: Composition | None) -> Estimate | None:
    """An assay of the row's metal with what counts beside it by the nominal composition; in permille."""
    if alone is None or composition is None:
        return alone
    return _with(alone, counted_in(row, composition) - composition.fineness(METALS[row.metal]))


def requirement(
    row: FinenessMark, alone: Estimate | None, composition: Composition | None
) -> tuple[Decimal, Verdict, Estimate | None, str]:
    """The least sum that the row asks of some metals, the verdict on it, the sum itself, and the verdict in words.

    Permille. Without a composition only the assayed metal is known: it may pass alone, or nothing is certain.
    """
    asked = row.requires
    if asked is None:
        raise ValueError("this rule asks for no sum")
    own = METALS[row.metal]
    total = alone
    if composition is not None:
        start = composition.fineness(own)
        others = (composition.fineness(symbol) for symbol in asked.symbols if symbol != own)
        total = _with(alone if alone is not None else Estimate(start, start, start), sum(others, ZERO))
    needed = f"{_listed(asked.symbols, 'and')} must come to {plain(asked.least)} permille in all"
    if total is None or (composition is None and total.low < asked.least):
        unsaid = f"{needed}; what else is in it was not said: give the metal or its composition."
        return asked.least, Verdict.NOT_CERTAIN, None, unsaid
    verdict = compare(total, asked.least, asked.least)
    missing = asked.least - total.value
    ends = {
        Verdict.MEETS: "",
        Verdict.FALLS_SHORT: f": it misses by {plain(missing.normalize())}",
        Verdict.NOT_CERTAIN: ", with a range that straddles it",
    }
    return asked.least, verdict, total, f"{needed}; they come to {plain(total.value.normalize())}{ends[verdict]}."


def together(row: FinenessMark) -> str:
    """Which metals count with the row's own, as words; empty if none does."""
    sets = [_listed(symbols, "with") for symbols in row.counts]
    return f" of {_listed(sets, 'or')}" if sets else ""


def _with(alone: Estimate, more: Decimal) -> Estimate:
    return Estimate(*(min(end + more, THOUSAND) for end in (alone.value, alone.low, alone.high)))


def _listed(words: Sequence[str], last: str) -> str:
    """The words as a list.

    >>> _listed(("Pt", "Pd", "Ir"), "and"), _listed(("Pt", "Ru"), "with")
    ('Pt, Pd and Ir', 'Pt with Ru')
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"
