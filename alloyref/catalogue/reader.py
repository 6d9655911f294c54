"""From the text files to domain objects. A table's columns are declared where it is read."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from alloyref.catalogue.density_data import (
    LIMIT_COLUMNS,
    MEASURED_COLUMNS,
    TERM_COLUMNS,
    MeasuredDensity,
    density_limits,
    measured_density,
    mixing_term,
)
from alloyref.catalogue.files import content_hash
from alloyref.catalogue.melting import read_melting_parameters, read_melting_table
from alloyref.catalogue.prefer import density_of, hardness_of, melting_range_of
from alloyref.catalogue.sizes import (
    COLOUR_COLUMNS,
    GAUGE_COLUMNS,
    RING_SIZE_COLUMNS,
    colour_designation,
    gauge,
    ring_size,
)
from alloyref.catalogue.text import DatasetError, Row, note_about, parse_shares, parse_symbols, read_rows, read_text
from alloyref.catalogue.trade_names import COLUMNS as TRADE_NAME_COLUMNS
from alloyref.catalogue.trade_names import trade_name
from alloyref.domain.colour import ColourDesignation
from alloyref.domain.composition import Composition
from alloyref.domain.density import DensityModel, MixingTerm
from alloyref.domain.density_range import DensityLimit
from alloyref.domain.errors import AlloyrefError, InvalidInput
from alloyref.domain.gauge import Gauge
from alloyref.domain.melting import MeltingParameter, MeltingTable
from alloyref.domain.metal import (
    Alloy,
    BenchNote,
    Caution,
    Constant,
    Element,
    FinenessMark,
    Material,
    Metal,
    PublishedValue,
    Requirement,
    TradeRule,
)
from alloyref.domain.numbers import parse_decimal
from alloyref.domain.provenance import Property, Source, Status
from alloyref.domain.reference import DatasetVersion, Reference
from alloyref.domain.ring_sizes import RingSize
from alloyref.domain.trade_names import TradeName
from alloyref.domain.units import AmbiguousName, Dimension, Unit, Units

PROPERTIES = {
    "density": ("density", "g/cm3", "status"),
    "solidus": ("solidus", "C", "melting_status"),
    "liquidus": ("liquidus", "C", "melting_status"),
    "melting_point": ("single_melting_point", "C", "melting_status"),
    "hardness": ("hardness_hv", "HV", "melting_status"),
}


@dataclass(frozen=True)
class Change:
    """One entry of the dataset's changelog."""

    date: str
    text: str


@dataclass(frozen=True)
class Dataset:
    """Everything in the data files, as read; `printed` keeps each publication's rows by `source/row`."""

    dataset: DatasetVersion
    changes: tuple[Change, ...]
    sources: dict[str, Source]
    units: tuple[Unit, ...]
    unit_names: tuple[AmbiguousName, ...]
    elements: dict[str, Element]
    patterns: dict[str, Material]
    stones: dict[str, Material]
    rules: dict[str, TradeRule]
    constants: dict[str, Constant]
    cautions: tuple[Caution, ...]
    bench_notes: tuple[BenchNote, ...]
    marks: tuple[FinenessMark, ...]
    gauges: tuple[Gauge, ...]
    ring_sizes: tuple[RingSize, ...]
    colour_designations: tuple[ColourDesignation, ...]
    printed: dict[str, Row]
    alloys: dict[str, Alloy]
    trade_names: dict[str, TradeName]
    density_reasons: dict[str, str]
    density_measured: tuple[MeasuredDensity, ...]
    density_terms: tuple[MixingTerm, ...]
    density_limits: tuple[DensityLimit, ...]
    melting: MeltingTable
    melting_parameters: tuple[MeltingParameter, ...]

    @property
    def reference(self) -> Reference:
        """What is served of them, as calculations ask for it."""
        shared = {field.name: getattr(self, field.name) for field in fields(Reference)}
        return Reference(**{**shared, "units": Units(self.units, self.unit_names)})

    @property
    def density_model(self) -> DensityModel:
        """The density model of these tables."""
        return model_of(self.elements, self.density_terms, self.density_limits)


def read_dataset(folder: Path) -> Dataset:
    """Read every table of the folder; raises `DatasetError` naming file and line of the first bad cell."""

    def table(name: str, header: str, make: Callable[[Row], Any]) -> list[Any]:
        return [make(row) for row in read_rows(folder / name, tuple(header.split(",")), folder)]

    sources = _by_id(table("sources.csv", "id,kind,title,locator,quality,read,note", _source), "sources.csv")
    elements = read_elements(folder)
    printed = read_printed(folder)
    reasons = dict(table("density_reasons.csv", "alloy,reason", lambda row: (row.text("alloy"), row.text("reason"))))
    measured = read_measured(folder, elements, printed)
    terms = tuple(table("density_terms.csv", TERM_COLUMNS, mixing_term))
    limits = density_limits(table("density_limits.csv", LIMIT_COLUMNS, lambda row: row))
    melting = read_melting_table(folder)
    known = _Known(elements, sources, printed, model_of(elements, terms, limits), melting)
    alloys = _by_id(table("alloys.csv", _ALLOY_COLUMNS, lambda row: _alloy(row, known)), "alloys.csv")
    trade_names = table("trade_names.csv", TRADE_NAME_COLUMNS, lambda row: trade_name(row, alloys, printed))
    version, changes = _about(folder)
    material = "id,name,density,density_low,density_high,status,source,note"
    return Dataset(
        dataset=DatasetVersion(version, content_hash(folder), changes[0].date),
        changes=changes,
        sources=sources,
        units=tuple(table("units.csv", "symbol,name,dimension,factor,ucum,aliases,status,source,note", _unit)),
        unit_names=tuple(table("unit_names.csv", "name,dimension,candidates,why", _unit_name)),
        elements=elements,
        patterns=_by_id(table("patterns.csv", material, _material), "patterns.csv"),
        stones=_by_id(table("stones.csv", material, _material), "stones.csv"),
        rules=_by_id(table("trade_rules.csv", _RULE_COLUMNS, _rule), "trade_rules.csv"),
        constants=_by_id(table("constants.csv", _CONSTANT_COLUMNS, _constant), "constants.csv"),
        cautions=tuple(table("cautions.csv", "id,applies,title,text,refer,status,source", _caution)),
        bench_notes=tuple(table("bench_notes.csv", "id,step,applies,text,status,source", _bench_note)),
        marks=tuple(table("fineness_marks.csv", _MARK_COLUMNS, _mark)),
        gauges=tuple(_by_id(table("gauges.csv", GAUGE_COLUMNS, gauge), "gauges.csv").values()),
        ring_sizes=tuple(_by_id(table("ring_sizes.csv", RING_SIZE_COLUMNS, ring_size), "ring_sizes.csv").values()),
        colour_designations=tuple(
            _by_id(
                table("colour_designations.csv", COLOUR_COLUMNS, lambda row: colour_designation(row, elements)),
                "colour_designations.csv",
            ).values()
        ),
        printed=printed,
        alloys=alloys,
        trade_names=_by_id(trade_names, "trade_names.csv"),
        density_reasons=reasons,
        density_measured=measured,
        density_terms=terms,
        density_limits=limits,
        melting=melting,
        melting_parameters=read_melting_parameters(folder),
    )


def read_elements(folder: Path) -> dict[str, Element]:
    """The elements by symbol."""
    rows = read_rows(folder / "elements.csv", tuple(_ELEMENT_COLUMNS.split(",")), folder)
    return _by_key([_element(row) for row in rows], "elements.csv", "symbol")


def read_measured(folder: Path, elements: dict[str, Element], printed: dict[str, Row]) -> tuple[MeasuredDensity, ...]:
    """The published densities that the density model is fitted to or compared with."""
    rows = read_rows(folder / "density_measured.csv", tuple(MEASURED_COLUMNS.split(",")), folder)
    return tuple(measured_density(row, printed, elements) for row in rows)


def model_of(
    elements: dict[str, Element], terms: Sequence[MixingTerm], limits: Sequence[DensityLimit]
) -> DensityModel:
    """The density model over the densities of these elements."""
    return DensityModel({symbol: element.density for symbol, element in elements.items()}, terms, limits)


def _about(folder: Path) -> tuple[str, tuple[Change, ...]]:
    """The version and the changelog, newest first."""
    try:
        about = tomllib.loads(read_text(folder / "dataset.toml", folder))
        changes = tuple(Change(str(change["date"]), str(change["text"])) for change in about["changes"])
        return str(about["version"]), (changes[0], *changes[1:])
    except (tomllib.TOMLDecodeError, KeyError, IndexError, TypeError) as error:
        raise DatasetError(f"dataset.toml: {type(error).__name__}: {error}") from None


_ELEMENT_COLUMNS = (
    "symbol,name,atomic_mass,atomic_mass_source,density,density_low,density_high,density_status,density_source,"
    "melting_point,melting_point_low,melting_point_high,melting_point_status,melting_point_source,note"
)
_ALLOY_COLUMNS = "id,name,aliases,family,colour,uses,composition,composition_status,composition_source,rows,note"
_RULE_COLUMNS = "id,topic,item,value,low,high,unit,condition,status,source,note"
_CONSTANT_COLUMNS = "id,name,value,low,high,unit,status,source,note"
_MARK_COLUMNS = (
    "jurisdiction,instrument,article,kind,metal,fineness,minus_tolerance,tested,when,words,mark_from,mark_to,"
    "limit,unit,counts,requires,rule,status,source,note"
)
_PRINTED_COLUMNS = (
    "row,name,composition,density,solidus,liquidus,single_melting_point,hardness_hv,status,melting_status,note"
)


def _by_key(entries: list[Any], file: str, key: str) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for entry in entries:
        name = getattr(entry, key)
        if name in found:
            raise DatasetError(f"{file}: {name} stands twice")
        found[name] = entry
    return found


def _by_id(entries: list[Any], file: str) -> dict[str, Any]:
    return _by_key(entries, file, "id")


def _source(row: Row) -> Source:
    quality = row.text("quality")
    if quality not in tuple("ABCD"):
        raise DatasetError(f"{row.place}: quality is one of A, B, C, D")
    id_, kind, title = row.text("id"), row.text("kind"), row.text("title")
    return Source(id_, kind, title, row.maybe("locator"), quality, row.text("read"), row.maybe("note"))


def _ranged(row: Row, name: str, unit: str, status: str, source: str) -> Property:
    """A property from the columns `name`, `name_low`, `name_high`."""
    return _between(row, (name, f"{name}_low", f"{name}_high"), unit, status, source)


def _between(row: Row, columns: tuple[str, str, str], unit: str, status: str, source: str) -> Property:
    """A property from the columns of its value and its ends; an end left empty is the value."""
    value, low, high = row.decimal(columns[0]), row.maybe_decimal(columns[1]), row.maybe_decimal(columns[2])
    return Property(
        value,
        unit,
        value if low is None else low,
        value if high is None else high,
        row.status(status),
        row.text(source),
        note_about(row.maybe("note"), columns[0]),
    )


def _element(row: Row) -> Element:
    mass = row.decimal("atomic_mass")
    return Element(
        row.text("symbol"),
        row.text("name"),
        Property(mass, "u", mass, mass, Status.HANDBOOK, row.text("atomic_mass_source")),
        _ranged(row, "density", "g/cm3", "density_status", "density_source"),
        _ranged(row, "melting_point", "C", "melting_point_status", "melting_point_source"),
        row.maybe("note"),
    )


def _unit(row: Row) -> Unit:
    return Unit(
        row.text("symbol"),
        row.text("name"),
        _dimension(row),
        row.fraction("factor"),
        row.maybe("ucum"),
        row.words("aliases"),
        row.status("status"),
        row.text("source"),
        row.maybe("note"),
    )


def _dimension(row: Row) -> Dimension:
    try:
        return Dimension(row.text("dimension"))
    except ValueError:
        raise DatasetError(f"{row.place}: {row.text('dimension')!r} is not a dimension") from None


def _unit_name(row: Row) -> AmbiguousName:
    return AmbiguousName(row.text("name"), _dimension(row), row.words("candidates"), row.text("why"))


def _material(row: Row) -> Material:
    return Material(row.text("id"), row.text("name"), _ranged(row, "density", "g/cm3", "status", "source"))


def _constant(row: Row) -> Constant:
    figure = _between(row, ("value", "low", "high"), row.text("unit"), "status", "source")
    return Constant(row.text("id"), row.text("name"), figure)


def _rule(row: Row) -> TradeRule:
    return TradeRule(
        row.text("id"),
        row.text("topic"),
        row.text("item"),
        row.maybe_decimal("value"),
        row.maybe_decimal("low"),
        row.maybe_decimal("high"),
        row.text("unit"),
        row.maybe("condition"),
        row.status("status"),
        row.text("source"),
        row.maybe("note"),
    )


def _caution(row: Row) -> Caution:
    title, text, refer = row.text("title"), row.text("text"), row.text("refer")
    return Caution(row.text("id"), row.words("applies"), title, text, refer, row.status("status"), row.text("source"))


def _bench_note(row: Row) -> BenchNote:
    step, text = row.text("step"), row.text("text")
    return BenchNote(row.text("id"), step, row.words("applies"), text, row.status("status"), row.text("source"))


def _mark(row: Row) -> FinenessMark:
    return FinenessMark(
        row.text("jurisdiction"),
        row.text("instrument"),
        row.maybe("article"),
        row.text("kind"),
        row.text("metal"),
        row.maybe_decimal("fineness"),
        row.maybe_decimal("minus_tolerance"),
        row.maybe("tested"),
        row.maybe("when"),
        row.maybe("words"),
        row.maybe_decimal("mark_from"),
        row.maybe_decimal("mark_to"),
        row.maybe_decimal("limit"),
        row.maybe("unit"),
        row.symbol_sets("counts"),
        _requirement(row, "requires"),
        row.maybe("rule"),
        row.status("status"),
        row.text("source"),
        row.maybe("note"),
    )


def _requirement(row: Row, column: str) -> Requirement | None:
    """`Pt Pd Ir >= 950`: what some metals must come to in all, in permille."""
    if not row.maybe(column):
        return None
    names, sign, least = row.text(column).partition(">=")
    try:
        if sign:
            return Requirement(parse_symbols(names, row.place), parse_decimal(least.strip()))
    except InvalidInput as error:
        raise DatasetError(f"{row.place}: {column}: {error}") from None
    raise DatasetError(f"{row.place}: {column} is written as symbols >= permille")


def read_printed(folder: Path) -> dict[str, Row]:
    """Every row of every publication's table, by `source/row`."""
    found: dict[str, Row] = {}
    for path in sorted((folder / "publications").glob("*.csv")):
        for row in read_rows(path, tuple(_PRINTED_COLUMNS.split(",")), folder):
            key = f"{path.stem}/{row.text('row')}"
            if key in found:
                raise DatasetError(f"{row.place}: row {key} stands twice")
            found[key] = row
    return found


@dataclass(frozen=True)
class _Known:
    """What an alloy is made of, and what its missing values are estimated with."""

    elements: dict[str, Element]
    sources: dict[str, Source]
    printed: dict[str, Row]
    density: DensityModel
    melting: MeltingTable


def _alloy(row: Row, known: _Known) -> Alloy:
    shares = parse_shares(row.text("composition"), row.place)
    if sum(shares.values()) != 1000:
        raise DatasetError(f"{row.place}: the composition sums to {sum(shares.values())}, not 1000")
    published = [value for name in row.words("rows") for value in _published(name, row, known.printed, known.sources)]
    try:
        composition = Composition.from_permille(shares, known.elements)
        by_kind = {kind: [one for one in published if one.property == kind] for kind in PROPERTIES}
        density = density_of(composition, by_kind["density"], known.density, known.sources)
    except (AlloyrefError, KeyError) as error:
        raise DatasetError(f"{row.place}: {error}") from None
    solidus, liquidus = melting_range_of(composition, published, known.elements, known.sources, known.melting)
    hardness = hardness_of(by_kind["hardness"], known.sources)
    uses, note = row.words("uses"), row.maybe("note")
    metal = Metal(row.text("id"), row.text("name"), composition, density, solidus, liquidus, uses, note)
    return Alloy(
        metal,
        row.words("aliases"),
        row.text("family"),
        row.maybe("colour"),
        row.words("uses"),
        row.status("composition_status"),
        row.text("composition_source"),
        hardness,
        _marked(published, metal, hardness),
        row.maybe("note"),
    )


def _published(name: str, alloy: Row, printed: dict[str, Row], sources: dict[str, Source]) -> list[PublishedValue]:
    """Each figure of one printed row that an alloy rests on."""
    row = printed.get(name)
    if row is None:
        raise DatasetError(f"{alloy.place}: no publication has the row {name}")
    source = name.partition("/")[0]
    if source not in sources:
        raise DatasetError(f"{row.place}: the source {source} is unknown")
    if row.maybe("note").startswith("MISPRINT"):
        raise DatasetError(f"{alloy.place}: {name} is marked as a misprint and may not back an alloy")
    values = []
    for kind, (column, unit, status) in PROPERTIES.items():
        value = row.maybe_decimal(column)
        if value is not None:
            standing = row.status(status, default=row.status("status"))
            note = note_about(row.maybe("note"), kind)
            values.append(PublishedValue(kind, value, unit, standing, source, name, False, note))
    return values


def _marked(published: list[PublishedValue], metal: Metal, hardness: Property | None) -> tuple[PublishedValue, ...]:
    """The published figures, with the one of each kind that is served marked so.

    A pure metal is served from the element table, which has its own sources: there the figure alone tells.
    """
    served = {"density": metal.density, "solidus": metal.solidus, "liquidus": metal.liquidus, "hardness": hardness}
    pure, marked = len(metal.composition.parts) == 1, []
    for one in published:
        chosen = served.get(one.property)
        hits = chosen is not None and chosen.value == one.value and (pure or chosen.source == one.source)
        marked.append(replace(one, preferred=hits))
        if hits:
            del served[one.property]
    return tuple(marked)
