"""The proof of the density model's data, and of the catalogue's densities against the model."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from alloyref.catalogue.density_data import MeasuredDensity, Use
from alloyref.catalogue.reader import Dataset
from alloyref.domain.errors import NotAvailable
from alloyref.domain.metal import Alloy
from alloyref.domain.provenance import Status

DEVIATION_LIMIT = Decimal("0.03")
EXPLAINED_DEVIATION = Decimal("0.02")


def density_faults(data: Dataset) -> Iterator[str]:
    """Every fault of the model's tables, and every published density off the model without a reason."""
    yield from _measured(data)
    yield from _terms(data)
    yield from _limits(data)
    for alloy in data.alloys.values():
        yield from _deviations(alloy, data)
    for extra in set(data.density_reasons) - set(data.alloys):
        yield f"density_reasons.csv: there is no alloy {extra}"


def _measured(data: Dataset) -> Iterator[str]:
    """Each read density of an alloy has its place in the table, so that none is passed over in silence."""
    listed = [one.row for one in data.density_measured]
    yield from (
        f"density_measured.csv: {name} stands twice" for name in sorted(set(listed)) if listed.count(name) > 1
    )
    for name, row in data.printed.items():
        composition = row.maybe("composition").split()
        if not row.maybe("density") or len(composition) <= 2 or row.maybe("note").startswith("MISPRINT"):
            continue
        if row.status("status") is not Status.FROM_MEMORY and name not in listed:
            yield f"density_measured.csv: {name} has a density and does not stand there"
    for one in data.density_measured:
        if one.use is not Use.OUT and not _is_measured(one, data):
            yield f"density_measured.csv: {one.row} is no measurement and may only be left out"


def _is_measured(one: MeasuredDensity, data: Dataset) -> bool:
    """Whether the figure was read, or worked out here from a lattice constant that was; not another's calculation."""
    status, source = data.printed[one.row].status("status"), data.sources.get(one.row.partition("/")[0])
    if status is Status.CALCULATED:
        return source is not None and source.kind == "derivation"
    return status is not Status.FROM_MEMORY


def _terms(data: Dataset) -> Iterator[str]:
    fitted = {one.row: one.composition.elements for one in data.density_measured if one.use is Use.FIT}
    pairs = [frozenset((term.first, term.second)) for term in data.density_terms]
    for term, pair in zip(data.density_terms, pairs, strict=True):
        if len(pair) != 2 or not pair <= set(data.elements) or pairs.count(pair) > 1:
            yield f"density_terms.csv: {term.id} is no pair of elements of its own"
        for name in term.rows:
            if not pair <= set(fitted.get(name, ())):
                yield f"density_terms.csv: {term.id} cannot rest on {name}"
        if not term.rows:
            yield f"density_terms.csv: {term.id} rests on no row"


def _limits(data: Dataset) -> Iterator[str]:
    for limit in data.density_limits:
        if not {*limit.elements, *limit.least, *limit.most} <= set(data.elements):
            yield f"density_limits.csv: {limit.id} names an element that is not known here"


def _deviations(alloy: Alloy, data: Dataset) -> Iterator[str]:
    """Published densities against the model: 3 % is the limit, 2 % wants a stated reason, less wants none."""
    try:
        data.density_model.estimate(alloy.metal.composition)
    except NotAvailable:
        return
    model = data.density_model.density(alloy.metal.composition)
    off = {one: one.value / model - 1 for one in alloy.published if one.property == "density"}
    astray = {one: part for one, part in off.items() if abs(part) > EXPLAINED_DEVIATION}
    if astray and alloy.id not in data.density_reasons:
        for one, part in astray.items():
            limit = "past the 3 % limit" if abs(part) > DEVIATION_LIMIT else "past 2 % without a reason"
            yield f"{alloy.id}: {one.value} from {one.row} is {part:+.1%} off the density model {model:.2f}, {limit}"
    if alloy.id in data.density_reasons and not astray:
        yield f"density_reasons.csv: {alloy.id} needs no reason, its densities keep to the model within 2 %"
