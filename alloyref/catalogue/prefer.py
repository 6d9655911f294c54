"""Which published value is served as the value, and how wide its range is: one written rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from alloyref.domain.composition import Composition
from alloyref.domain.density import AS_CAST_POROSITY, DENSITY_DECIMALS, estimated_density
from alloyref.domain.estimate import ONE
from alloyref.domain.metal import Element, PublishedValue
from alloyref.domain.numbers import Rounding, round_to
from alloyref.domain.provenance import Property, Source, Status

RANK = {status: rank for rank, status in enumerate(Status)}
COMPOSITION_TOLERANCE = Decimal("0.005")
"""Alloys of one name differ by about this much in density from batch to batch (common practice, no source)."""
MELTING_TOLERANCE = {
    Status.STANDARD: Decimal(0),
    Status.MEASURED: Decimal(5),
    Status.HANDBOOK: Decimal(5),
}
OTHER_MELTING_TOLERANCE = Decimal(15)
"""Half-widths in C of a single published melting figure that prints none of its own."""


def best(values: Iterable[PublishedValue], sources: Mapping[str, Source]) -> PublishedValue | None:
    """The preferred value: best standing, then best quality of source, then first in the table."""
    ranked = sorted(values, key=lambda one: (RANK[one.status], sources[one.source].quality))
    return ranked[0] if ranked else None


def density_of(
    composition: Composition,
    published: Sequence[PublishedValue],
    elements: Mapping[str, Element],
    sources: Mapping[str, Source],
) -> Property:
    """The density served for an alloy.

    The preferred published value, or ideal mixing where nothing better than memory is published. The
    range holds the tolerance of composition, the porosity of a casting, and every published value.
    """
    if len(composition.parts) == 1:
        pure = elements[composition.parts[0][0]].density
        return replace(pure, low=_outward(pure.low * (ONE - AS_CAST_POROSITY), Rounding.DOWN))
    estimate = estimated_density(composition, {symbol: element.density.value for symbol, element in elements.items()})
    preferred = best(published, sources)
    if preferred is None or RANK[preferred.status] > RANK[Status.CALCULATED]:
        chosen = estimate
    else:
        low = _outward(preferred.value * (ONE - COMPOSITION_TOLERANCE) * (ONE - AS_CAST_POROSITY), Rounding.DOWN)
        high = _outward(preferred.value * (ONE + COMPOSITION_TOLERANCE), Rounding.UP)
        chosen = Property(preferred.value, "g/cm3", low, high, preferred.status, preferred.source, preferred.note)
    values = [one.value for one in published]
    return replace(chosen, low=min([chosen.low, *values]), high=max([chosen.high, *values]))


def _outward(value: Decimal, rounding: Rounding) -> Decimal:
    """An end of a density range, brought to the decimals that densities are served with."""
    return round_to(value, DENSITY_DECIMALS, rounding)


def melting_of(
    published: Sequence[PublishedValue], sources: Mapping[str, Source], row: str | None
) -> Property | None:
    """The solidus or liquidus served, from the preferred row if it has one; range over all that is published."""
    preferred = next((one for one in published if one.row == row), None) or best(published, sources)
    if preferred is None:
        return None
    tolerance = MELTING_TOLERANCE.get(preferred.status, OTHER_MELTING_TOLERANCE)
    low = min(preferred.value - tolerance, *(one.value for one in published))
    high = max(preferred.value + tolerance, *(one.value for one in published))
    return Property(preferred.value, "C", low, high, preferred.status, preferred.source, preferred.note)


def preferred_melting_row(published: Sequence[PublishedValue], sources: Mapping[str, Source]) -> str | None:
    """The row that gives both ends of the melting range, best standing first, so that the two fit together."""
    solidus_rows = {one.row for one in published if one.property == "solidus"}
    both = [one for one in published if one.property == "liquidus" and one.row in solidus_rows]
    chosen = best(both, sources)
    return chosen.row if chosen else None
