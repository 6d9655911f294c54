"""The proof of the data: what must hold of every table before it is served."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal
from itertools import chain

from alloyref.catalogue.density_checks import density_faults
from alloyref.catalogue.reader import Dataset
from alloyref.catalogue.sizes import colour_faults, gauge_faults, ring_size_faults
from alloyref.catalogue.trade_names import trade_name_faults
from alloyref.domain.citations import citations
from alloyref.domain.errors import AlloyrefError
from alloyref.domain.melting import MODEL_SOURCES, STEPS, SYSTEM, node_index
from alloyref.domain.metal import FinenessMark
from alloyref.domain.provenance import Property, Status
from alloyref.domain.purity import METALS
from alloyref.domain.units import Dimension, Units, build_registry, pint_name

DENSITY_RANGE = (Decimal("0.5"), Decimal("23"))
MELTING_RANGE = (Decimal(-50), Decimal(3500))
FAMILIES_MARKED = {
    "gold": "Au",
    "gold-solder": "Au",
    "silver": "Ag",
    "silver-solder": "Ag",
    "platinum": "Pt",
    "palladium": "Pd",
}


def check(data: Dataset) -> list[str]:
    """Every fault found, one sentence each; an empty list means the data hold."""
    faults: list[str] = []
    for proof in (_sources, _standings, _ranges, _melting, _alloys, density_faults, _units, _marks, _sizes, _names):
        faults += proof(data)
    return faults


def _sources(data: Dataset) -> Iterator[str]:
    used = set()
    cited = [(f"{one.table} {one.id}: {one.field}", one.source) for one in citations(data)]
    for place, source in [*cited, *((row, row.partition("/")[0]) for row in data.printed)]:
        used.add(source)
        if source not in data.sources:
            yield f"{place}: the source {source!r} is unknown"
    for known in data.sources.values():
        if known.id not in used | ALWAYS_USED:
            yield f"source {known.id}: nothing rests on it"
        if known.kind == "memory" and known.quality != "D":
            yield f"source {known.id}: a remembered source has quality D"


PRIMARY = ("standard", "law", "derivation")
"""Kinds of source whose own text can set a value; what a handbook or a library says of a law is a handbook figure."""


def _standings(data: Dataset) -> Iterator[str]:
    """A standing may not claim more than the kind of its source gives, nor hide that a source is remembered."""
    for one in citations(data):
        if one.source in data.sources:
            kind = data.sources[one.source].kind
            primary, remembered = one.status == Status.STANDARD.value, one.status == Status.FROM_MEMORY.value
            if (primary and kind not in PRIMARY) or remembered != (kind == "memory"):
                yield f"{one.table} {one.id}: {one.field}: a source of kind {kind} does not make it {one.status}"


ALWAYS_USED = {"definition", "caller", "shop", "ideal-mixing", "hydrostatic-weighing", *MODEL_SOURCES}
"""Sources that calculations cite, not tables."""


def _properties(data: Dataset) -> Iterator[tuple[str, Property, tuple[Decimal, Decimal]]]:
    for symbol, element in data.elements.items():
        yield f"density of {symbol}", element.density, DENSITY_RANGE
        yield f"melting point of {symbol}", element.melting_point, MELTING_RANGE
    for alloy in data.alloys.values():
        yield f"density of {alloy.id}", alloy.metal.density, DENSITY_RANGE
        for name, one in (("solidus", alloy.metal.solidus), ("liquidus", alloy.metal.liquidus)):
            if one is not None:
                yield f"{name} of {alloy.id}", one, MELTING_RANGE
    for table in (data.patterns, data.stones):
        for material in table.values():
            yield f"density of {material.id}", material.density, DENSITY_RANGE


def _ranges(data: Dataset) -> Iterator[str]:
    for what, one, (least, most) in _properties(data):
        if not one.low <= one.value <= one.high:
            yield f"{what}: {one.value} lies outside its own range {one.low} to {one.high}"
        if not least <= one.value <= most:
            yield f"{what}: {one.value} {one.unit} cannot be"
    for constant in data.constants.values():
        if not constant.figure.low <= constant.figure.value <= constant.figure.high:
            yield f"constant {constant.id}: the value lies outside its own range"


def _melting(data: Dataset) -> Iterator[str]:
    """The corners of the table are the pure metals as the element table has them."""
    for symbol, node in zip(SYSTEM, ((STEPS, 0), (0, STEPS), (0, 0)), strict=True):
        point = data.elements[symbol].melting_point.value * 100
        index = node_index(*node)
        if not data.melting.solidus[index] == data.melting.liquidus[index] == point:
            yield f"melting_nodes.csv: pure {symbol} does not melt at its melting point"


def _alloys(data: Dataset) -> Iterator[str]:
    for alloy in data.alloys.values():
        solidus, liquidus = alloy.metal.solidus, alloy.metal.liquidus
        if solidus is not None and liquidus is not None and solidus.value > liquidus.value:
            yield f"{alloy.id}: the solidus {solidus.value} lies above the liquidus {liquidus.value}"
        base = FAMILIES_MARKED.get(alloy.family)
        if base is not None and alloy.metal.composition.base != base:
            yield f"{alloy.id}: family {alloy.family}, but by composition its base is {alloy.metal.composition.base}"
    names: dict[str, str] = {}
    for alloy in data.alloys.values():
        if names.setdefault(str(alloy.metal.composition.parts), alloy.id) != alloy.id:
            yield f"{alloy.id}: the same composition as {names[str(alloy.metal.composition.parts)]}"


def _units(data: Dataset) -> Iterator[str]:
    units = Units(data.units, data.unit_names)
    registry = build_registry(data.units)
    for unit in data.units:
        if unit.dimension is Dimension.TEMPERATURE:
            continue
        if unit.dimension is Dimension.DENSITY:
            derived = registry.Quantity(1, pint_name(unit.symbol)).to("g / cm3").magnitude
            if derived != unit.factor:
                yield f"unit {unit.symbol}: the factor {unit.factor} is not what its parts give, {derived}"
    yield from _unit_names(data, units)


def _unit_names(data: Dataset, units: Units) -> Iterator[str]:
    taken: dict[tuple[Dimension, str], str] = {}
    for unit in data.units:
        for name in dict.fromkeys((unit.symbol, unit.ucum, *unit.aliases)):
            owner = taken.setdefault((unit.dimension, name), unit.symbol) if name else unit.symbol
            if owner != unit.symbol:
                yield f"unit name {name!r} belongs to both {owner} and {unit.symbol}"
    for unclear in data.unit_names:
        if (unclear.dimension, unclear.name) in taken:
            yield f"unit name {unclear.name!r} is both taken and ambiguous"
        for candidate in unclear.candidates:
            try:
                units.find(candidate, unclear.dimension)
            except AlloyrefError as error:
                yield f"unit_names.csv: {unclear.name}: {error}"


def _marks(data: Dataset) -> Iterable[str]:
    for mark in data.marks:
        if mark.fineness is not None and not 0 < mark.fineness <= 1000:
            yield f"mark {mark.jurisdiction} {mark.metal}: fineness {mark.fineness} cannot be"
        yield from _mark_faults(mark)
        named = (*chain.from_iterable(mark.counts), *(mark.requires.symbols if mark.requires else ()))
        yield from (f"mark {mark.id}: {one} is no element" for one in named if one not in data.elements)


def _sizes(data: Dataset) -> Iterator[str]:
    yield from gauge_faults(data.gauges)
    yield from ring_size_faults(data.ring_sizes)
    yield from colour_faults(data.colour_designations)


def _names(data: Dataset) -> Iterator[str]:
    yield from trade_name_faults(data.trade_names, data.alloys)


MARK_KINDS = {"mark", "as-marked", "least", "tolerance", "solder", "exemption", "words", "content", "release", "rule"}
TESTED = {"mark", "as-marked", "least", "tolerance"}
LIMITED = {"exemption", "words", "content", "release"}


def _mark_faults(mark: FinenessMark) -> Iterator[str]:
    """A rule has what its kind needs, so that a check of a mark can apply it."""
    place = f"mark {mark.jurisdiction} {mark.article} {mark.metal}"
    if mark.kind not in MARK_KINDS:
        yield f"{place}: {mark.kind!r} is not a kind of rule"
    if (mark.fineness is not None) != (mark.kind == "mark"):
        yield f"{place}: a mark has a fineness, and nothing else has one"
    if (mark.tested in ("solder-free", "whole")) != (mark.kind in TESTED):
        yield f"{place}: {mark.kind} tested on {mark.tested!r}"
    if mark.kind in LIMITED and mark.limit is None:
        yield f"{place}: {mark.kind} without its figure"
    if (mark.limit is None) != (not mark.unit):
        yield f"{place}: a limit and its unit go together"
    yield from _condition_faults(mark, place)


def _condition_faults(mark: FinenessMark, place: str) -> Iterator[str]:
    """What counts with a metal, or is asked beside it, is known of the metal itself: of a part without solder."""
    on_the_metal = mark.kind in ("mark", "as-marked") and mark.tested == "solder-free"
    if mark.requires is not None and not on_the_metal:
        yield f"{place}: only a mark tested without solder asks what some metals come to in all"
    if mark.counts and not (on_the_metal or mark.kind == "solder"):
        yield f"{place}: only solder, and a mark tested without it, count several metals"
    for symbols in mark.counts:
        if METALS.get(mark.metal) not in symbols:
            yield f"{place}: {' '.join(symbols)} does not count {mark.metal} itself"
