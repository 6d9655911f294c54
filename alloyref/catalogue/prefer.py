"""Which published value is served as the value, and how wide its range is: one written rule."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from alloyref.domain.composition import Composition
from alloyref.domain.density import AS_CAST_POROSITY, DensityModel, outward
from alloyref.domain.errors import NotAvailable
from alloyref.domain.estimate import ONE
from alloyref.domain.melting import MeltingTable, estimate_melting
from alloyref.domain.metal import Element, PublishedValue
from alloyref.domain.numbers import Rounding
from alloyref.domain.provenance import Property, Source, Status

RANK = {status: rank for rank, status in enumerate(Status)}
COMPOSITION_TOLERANCE = Decimal("0.005")
"""Alloys of one name differ by about this much in density from batch to batch (common practice, no source)."""
LESSER_TOLERANCE = Decimal("0.03")
"""How far a remembered or trade density may be off where nothing else is to be had (a judgement, no source)."""
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
    model: DensityModel,
    sources: Mapping[str, Source],
) -> Property:
    """The density served for an alloy.

    The preferred published value, or the model's estimate where nothing better than a calculation is
    published, or that lesser figure where the model has no answer. The range holds the tolerance of composition, the
    porosity of a casting, and every published value. Raises `NotAvailable` if there is none of these.
    """
    if len(composition.parts) == 1:
        return model.estimate(composition)
    preferred = best(published, sources)
    if preferred is None or _is_lesser(preferred.status):
        chosen = _estimated(composition, preferred, model)
    else:
        chosen = _as_published(preferred)
    values = [one.value for one in published]
    return replace(chosen, low=min([chosen.low, *values]), high=max([chosen.high, *values]))


def _estimated(composition: Composition, lesser: PublishedValue | None, model: DensityModel) -> Property:
    """The model's estimate; a lesser figure only where the model refuses."""
    try:
        return model.estimate(composition)
    except NotAvailable:
        if lesser is None:
            raise
        return _as_published(lesser)


def density_tolerance(status: Status) -> Decimal:
    """How far a published density of this standing may be off for an alloy of that name, as a fraction."""
    return LESSER_TOLERANCE if _is_lesser(status) else COMPOSITION_TOLERANCE


def _is_lesser(status: Status) -> bool:
    """Whether the model's estimate goes before a published figure of this standing."""
    return RANK[status] >= RANK[Status.CALCULATED]


def _as_published(one: PublishedValue) -> Property:
    """A published density with the tolerance of its composition, and below it the porosity of a casting."""
    tolerance = density_tolerance(one.status)
    low = outward(one.value * (ONE - tolerance) * (ONE - AS_CAST_POROSITY), Rounding.DOWN)
    high = outward(one.value * (ONE + tolerance), Rounding.UP)
    return Property(one.value, "g/cm3", low, high, one.status, one.source, one.note)


def melting_range_of(
    composition: Composition,
    published: Sequence[PublishedValue],
    elements: Mapping[str, Element],
    sources: Mapping[str, Source],
    table: MeltingTable,
) -> tuple[Property | None, Property | None]:
    """The solidus and liquidus served for an alloy: what is published, else the model where it answers.

    Even a remembered range goes before the model, whose parameters are remembered in part themselves.
    """
    row = _preferred_melting_row(published, sources)
    solidus, liquidus = (
        _melting_of([one for one in published if one.property == end], sources, row)
        for end in ("solidus", "liquidus")
    )
    if solidus is None and liquidus is None:
        try:
            return estimate_melting(composition, elements, table)
        except NotAvailable:
            return None, None
    return solidus, liquidus


def _melting_of(
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


def _preferred_melting_row(published: Sequence[PublishedValue], sources: Mapping[str, Source]) -> str | None:
    """The row that gives both ends of the melting range, best standing first, so that the two fit together."""
    solidus_rows = {one.row for one in published if one.property == "solidus"}
    both = [one for one in published if one.property == "liquidus" and one.row in solidus_rows]
    chosen = best(both, sources)
    return chosen.row if chosen else None
