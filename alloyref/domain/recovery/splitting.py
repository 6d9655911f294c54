"""Two parties assay the same lot: what settles, and when an umpire decides."""

from __future__ import annotations

from decimal import Decimal

from alloyref.domain.numbers import plain
from alloyref.domain.recovery.contents import NOTHING, Ends, Weighed
from alloyref.domain.recovery.inputs import MetalTerms, Umpire


def settled(lot: Weighed, terms: MetalTerms, umpire_rule: str) -> tuple[Ends, str]:
    """The fineness (permille) that settles one metal of a lot, and how that came about.

    Both assays within the splitting limit: their mean. Beyond it the umpire's third assay decides, by the
    middle of the three or the mean of the two nearest each other; without one, anything between the two.
    Reference: common practice, no source.
    """
    symbol = terms.metal
    ours, theirs = (assay.get(symbol) if assay else None for assay in (lot.lot.assay, lot.lot.their_assay))
    if ours is None or theirs is None:
        return lot.fineness.get(symbol, NOTHING), ""
    apart = abs(ours - theirs)
    where = f"{lot.name}, {symbol}: {plain(ours)} and {plain(theirs)} permille"
    if terms.split_limit is not None and apart <= terms.split_limit:
        return Ends.exact((ours + theirs) / 2), f"{where} are within {plain(terms.split_limit)}: settled at the mean."
    umpire = lot.lot.umpire_assay.get(symbol) if lot.lot.umpire_assay else None
    if umpire is None:
        limit = "no limit is agreed" if terms.split_limit is None else f"more than {plain(terms.split_limit)} apart"
        between = Ends(min(ours, theirs), max(ours, theirs))
        return between, f"{where}, {limit}: an umpire must assay it; until then a range."
    value = _decided(sorted((ours, theirs, umpire)), umpire_rule)
    return Ends.exact(value), f"{where}, umpire {plain(umpire)}: settled at {plain(value)}."


def _decided(three: list[Decimal], rule: str) -> Decimal:
    """The middle of three assays, or the mean of the two nearest; of two pairs as near, the middle itself."""
    low, middle, high = three
    below, above = middle - low, high - middle
    if rule == Umpire.MIDDLE or below == above:
        return middle
    return (low + middle) / 2 if below < above else (middle + high) / 2
