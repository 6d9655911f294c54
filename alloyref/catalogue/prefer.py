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
from alloyref.domain.numbers import Rounding, round_to
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
HOT, HOT_TOLERANCE = Decimal(1500), Decimal(30)
"""Above the first, every figure of an alloy has this half-width, in C.

Pages on platinum with 10 and 15 % iridium are 10 to 30 C apart from each other and from what is remembered; the
solidus and liquidus of platinum-ruthenium are "purely tentative" (Hutchinson 1972).
"""
HARDNESS_TOLERANCE, LESSER_HARDNESS_TOLERANCE = Decimal("0.10"), Decimal("0.20")
"""How far a hardness that was read, and a remembered or trade one, may be off, as fractions (a judgement).

Figures read for one alloy in one state differ by up to a tenth: platinum with 10 % iridium 100 and 110 HV, with
about 5 % palladium 60 and 65.
"""
ASSESSED = ("A", "B")
"""Quality of a calculation whose parameters were read in a published assessment."""


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
    return _holding(chosen, published)


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
    return _served(one, low, high)


def melting_range_of(
    composition: Composition,
    published: Sequence[PublishedValue],
    elements: Mapping[str, Element],
    sources: Mapping[str, Source],
    table: MeltingTable,
) -> tuple[Property | None, Property | None]:
    """The solidus and liquidus served for an alloy: what was read, else the model, else what is remembered.

    Where the model's parameters are remembered themselves in part, a remembered range goes before it.
    """
    row = _preferred_melting_row(published, sources)
    ends = {end: [one for one in published if one.property == end] for end in ("solidus", "liquidus")}
    solidus, liquidus = (_melting_of(values, sources, row) for values in ends.values())
    if any(one is not None and one.status is not Status.FROM_MEMORY for one in (solidus, liquidus)):
        return solidus, liquidus
    try:
        calculated = estimate_melting(composition, elements, table)
    except NotAvailable:
        return solidus, liquidus
    if (solidus or liquidus) and sources[calculated[0].source].quality not in ASSESSED:
        return solidus, liquidus
    solidus, liquidus = (_holding(one, values) for one, values in zip(calculated, ends.values(), strict=True))
    return solidus, liquidus


def _holding(one: Property, published: Iterable[PublishedValue]) -> Property:
    """The property with its range stretched over what is published."""
    values = [other.value for other in published]
    return replace(one, low=min([one.low, *values]), high=max([one.high, *values]))


def melting_tolerance(status: Status, celsius: Decimal) -> Decimal:
    """The half-width in C of a single published melting figure of this standing, at this temperature."""
    tolerance = MELTING_TOLERANCE.get(status, OTHER_MELTING_TOLERANCE)
    return max(tolerance, HOT_TOLERANCE) if tolerance and celsius > HOT else tolerance


def _melting_of(
    published: Sequence[PublishedValue], sources: Mapping[str, Source], row: str | None
) -> Property | None:
    """The solidus or liquidus served, from the preferred row if it has one; range over all that is published."""
    preferred = next((one for one in published if one.row == row), None) or best(published, sources)
    if preferred is None:
        return None
    tolerance = melting_tolerance(preferred.status, preferred.value)
    low, high = preferred.value - tolerance, preferred.value + tolerance
    return _holding(_served(preferred, low, high), published)


def _preferred_melting_row(published: Sequence[PublishedValue], sources: Mapping[str, Source]) -> str | None:
    """The row that gives both ends of the melting range, best standing first, so that the two fit together."""
    solidus_rows = {one.row for one in published if one.property == "solidus"}
    both = [one for one in published if one.property == "liquidus" and one.row in solidus_rows]
    chosen = best(both, sources)
    return chosen.row if chosen else None


def hardness_of(published: Sequence[PublishedValue], sources: Mapping[str, Source]) -> Property | None:
    """The Vickers hardness served: the preferred figure, with its tolerance in whole HV and every other figure."""
    preferred = best(published, sources)
    if preferred is None:
        return None
    off = preferred.value * hardness_tolerance(preferred.status)
    low = round_to(preferred.value - off, 0, Rounding.DOWN)
    return _holding(_served(preferred, low, round_to(preferred.value + off, 0, Rounding.UP)), published)


def hardness_tolerance(status: Status) -> Decimal:
    """How far a published hardness of this standing may be off, as a fraction."""
    return LESSER_HARDNESS_TOLERANCE if _is_lesser(status) else HARDNESS_TOLERANCE


def _served(one: PublishedValue, low: Decimal, high: Decimal) -> Property:
    """A published figure with this range."""
    return Property(one.value, one.unit, low, high, one.status, one.source, one.note)
