"""What is shown of the reference data: declared like the results of a calculation, so that JSON, csv and the
API description follow from one declaration."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from alloyref.domain.calculation import (
    Flag,
    ListOf,
    MapOf,
    Measured,
    Number,
    Record,
    Text,
    TextList,
    Whole,
    item,
)
from alloyref.domain.metal import (
    KARATS,
    Alloy,
    Caution,
    Constant,
    Element,
    FinenessMark,
    Material,
    Metal,
    PublishedValue,
    TradeRule,
)
from alloyref.domain.numbers import round_to
from alloyref.domain.provenance import Property, Source, Status
from alloyref.domain.reference import Reference
from alloyref.domain.trade_names import TradeName
from alloyref.domain.units import BASE_UNIT, Dimension, Unit

DENSITY = Measured(Dimension.DENSITY, decimals=4)
DEGREES = Measured(Dimension.TEMPERATURE, decimals=4)
PURITY = Measured(Dimension.PURITY, decimals=3)
KARAT_DECIMALS = 3


@dataclass(frozen=True, slots=True)
class PublishedView:
    """One published figure, kept beside the preferred one."""

    property: str = item(Text(), "Which property.")
    value: Decimal = item(Number(), "The figure as printed, in the unit beside it.")
    unit: str = item(Text(), "Its unit.")
    status: str = item(Text(), "Its standing.")
    source: str = item(Text(), "Id of its source.")
    row: str = item(Text(), "Publication and row it stands in.")
    preferred: bool = item(Flag(), "Whether it is the one served.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class AlloyView:
    """An alloy of the catalogue, each value with standing and source."""

    id: str = item(Text(), "Id, to be used wherever a metal is asked for.")
    name: str = item(Text(), "Name.")
    aliases: tuple[str, ...] = item(TextList(), "What else the trade calls it.")
    family: str = item(Text(), "Family.")
    base: str = item(Text(), "The metal it is named and marked for.")
    colour: str = item(Text(), "Colour.")
    uses: tuple[str, ...] = item(TextList(), "What it is used for.")
    composition: Mapping[str, Decimal] = item(MapOf(Number()), "Permille by mass.")
    composition_status: str = item(Text(), "Standing of the composition.")
    composition_source: str = item(Text(), "Source of the composition.")
    fineness: Property = item(PURITY, "Permille of the base metal.")
    karat: Property | None = item(PURITY, "Karat by arithmetic; gold only.")
    density: Property = item(DENSITY, "Density as cast, at 20 C.")
    solidus: Property | None = item(DEGREES, "Where it begins to melt.")
    liquidus: Property | None = item(DEGREES, "Where it is wholly liquid.")
    hardness: Property | None = item(
        Measured(Dimension.RATIO, decimals=1), "Vickers hardness; the note says in what state."
    )
    contains_nickel: bool = item(Flag(), "Whether nickel is part of it.")
    contains_cadmium: bool = item(Flag(), "Whether cadmium is part of it.")
    contains_lead: bool = item(Flag(), "Whether lead is part of it.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class AlloyDetail(AlloyView):
    """An alloy with every figure held for it."""

    published: tuple[PublishedView, ...] = item(
        ListOf(Record(PublishedView)), "All figures held; remembered ones were not read."
    )


@dataclass(frozen=True, slots=True)
class ElementView:
    """An element."""

    symbol: str = item(Text(), "Symbol.")
    name: str = item(Text(), "Name.")
    atomic_mass: Property = item(Measured(Dimension.RATIO, decimals=10), "Standard atomic mass.")
    density: Property = item(DENSITY, "Density at 20 C.")
    melting_point: Property = item(DEGREES, "Melting point.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class UnitView:
    """A unit of measure."""

    symbol: str = item(Text(), "Symbol.")
    name: str = item(Text(), "Name.")
    dimension: str = item(Text(), "What it measures.")
    base_unit: str = item(Text(), "The base unit of that dimension.")
    factor: str = item(Text(), "Exact multiple of the base unit, as a decimal or a fraction of whole numbers.")
    ucum: str = item(Text(), "UCUM code, if there is one.")
    aliases: tuple[str, ...] = item(TextList(), "Other names it is taken by.")
    status: str = item(Text(), "Standing of the definition.")
    source: str = item(Text(), "Id of its source.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class SourceView:
    """A source."""

    id: str = item(Text(), "Id.")
    kind: str = item(Text(), "Standard, law, handbook, paper, trade, library, derivation, memory or practice.")
    title: str = item(Text(), "Title.")
    locator: str = item(Text(), "Where it is found.")
    quality: str = item(Text(), "A (exact or primary) to D (remembered).")
    read: str = item(Text(), "Whether it was read.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class SupportView:
    """A value that rests on a source."""

    table: str = item(Text(), "Table it stands in.")
    id: str = item(Text(), "Entry of that table.")
    field: str = item(Text(), "Field; `published.` before it where the figure is kept beside the one served.")
    status: str = item(Text(), "Its standing.")


@dataclass(frozen=True, slots=True)
class SourceDetail(SourceView):
    """A source with every value that cites it."""

    supports: tuple[SupportView, ...] = item(ListOf(Record(SupportView)), "The values that rest on it.")


@dataclass(frozen=True, slots=True)
class MaterialView:
    """A pattern material or a stone."""

    id: str = item(Text(), "Id.")
    name: str = item(Text(), "Name.")
    density: Property = item(DENSITY, "Density.")


@dataclass(frozen=True, slots=True)
class RuleView:
    """A figure of the trade."""

    id: str = item(Text(), "Id.")
    topic: str = item(Text(), "Topic.")
    says: str = item(Text(), "What it says.", name="item")
    value: Decimal | None = item(Number(), "The figure, if one is taught.")
    low: Decimal | None = item(Number(), "Low end.")
    high: Decimal | None = item(Number(), "High end.")
    unit: str = item(Text(), "Unit.")
    condition: str = item(Text(), "When it holds.")
    status: str = item(Text(), "Standing.")
    source: str = item(Text(), "Id of its source.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class ConstantView:
    """A figure that calculations rest on."""

    id: str = item(Text(), "Id.")
    name: str = item(Text(), "What it is.")
    value: Decimal = item(Number(), "The figure.")
    low: Decimal = item(Number(), "Low end.")
    high: Decimal = item(Number(), "High end.")
    unit: str = item(Text(), "Unit.")
    status: str = item(Text(), "Standing.")
    source: str = item(Text(), "Id of its source.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class CautionView:
    """A caution."""

    id: str = item(Text(), "Id.")
    applies: tuple[str, ...] = item(TextList(), "What it applies to.")
    title: str = item(Text(), "In a few words.")
    text: str = item(Text(), "What to do.")
    refer: str = item(Text(), "Whom or what to defer to.")
    status: str = item(Text(), "Standing.")
    source: str = item(Text(), "Id of its source.")


@dataclass(frozen=True, slots=True)
class MarkView:
    """A fineness in law."""

    jurisdiction: str = item(Text(), "Where.")
    instrument: str = item(Text(), "Which law or standard.")
    article: str = item(Text(), "Article.")
    kind: str = item(
        Text(),
        "mark, as-marked, least, tolerance, solder, exemption, words, content, release, or rule (in words only).",
    )
    metal: str = item(Text(), "Metal.")
    fineness: Decimal | None = item(Number(), "The mark in permille; empty for a rule without one.")
    minus_tolerance: Decimal | None = item(Number(), "Tolerance below the mark in permille; empty if unknown.")
    tested: str = item(Text(), "What is assayed for it: solder-free, or whole.")
    when: str = item(Text(), "The kind of article it is for; empty for any.")
    words: str = item(Text(), "The karat or word that it names.")
    mark_from: Decimal | None = item(Number(), "The lowest mark it is about, in permille.")
    mark_to: Decimal | None = item(Number(), "The highest mark it is about, in permille.")
    limit: Decimal | None = item(Number(), "Its figure, where that is not the mark itself.")
    unit: str = item(Text(), "Unit of that figure.")
    counts: tuple[str, ...] = item(
        TextList(), "What counts together towards its fineness, as sets of symbols; empty: the metal alone."
    )
    requires: str = item(Text(), "What some metals must come to in all beside it: symbols >= permille.")
    rule: str = item(Text(), "What the rule says.")
    status: str = item(Text(), "Standing.")
    source: str = item(Text(), "Id of its source.")
    note: str = item(Text(), "What to know of it.")


@dataclass(frozen=True, slots=True)
class NumberView:
    """One property of a metal, in the unit asked for."""

    alloy: str = item(Text(), "Id of the alloy, or symbol of the element.")
    property: str = item(Text(), "Which property.")
    value: Decimal = item(Number(), "The value, in the unit beside it.")
    low: Decimal = item(Number(), "Low end of its range.")
    high: Decimal = item(Number(), "High end of its range.")
    unit: str = item(Text(), "The unit.")
    status: str = item(Text(), "Standing.")
    source: str = item(Text(), "Id of its source.")


@dataclass(frozen=True, slots=True)
class ChangeView:
    """One entry of the dataset's changelog."""

    date: str = item(Text(), "When.")
    text: str = item(Text(), "What changed.")


@dataclass(frozen=True, slots=True)
class DatasetView:
    """The data being served."""

    version: str = item(Text(), "Version: its date of issue.")
    hash: str = item(Text(), "Hash of its content.")
    date: str = item(Text(), "Date of the last change.")
    counts: Mapping[str, int] = item(MapOf(Whole(0, 10**6)), "Entries in each table.", example={"alloys": 168})
    statuses: Mapping[str, int] = item(
        MapOf(Whole(0, 10**6)), "Served alloy densities by standing.", example={"calculated": 100}
    )
    standings: Mapping[str, Mapping[str, int]] = item(
        MapOf(MapOf(Whole(0, 10**6))),
        "Values of each property by standing; a property is called `table.field`.",
        example={"alloys.density": {"calculated": 100}},
    )
    changes: tuple[ChangeView, ...] = item(ListOf(Record(ChangeView)), "Changelog, newest first.")


@dataclass(frozen=True, slots=True)
class TradeNameView:
    """A name that the trade uses for several alloys, with the range of all that bears it."""

    id: str = item(Text(), "Id, to be used wherever a metal is asked for.")
    name: str = item(Text(), "Name.")
    spellings: tuple[str, ...] = item(TextList(), "Usual ways to write it; case, spaces and hyphens do not matter.")
    base: str = item(Text(), "The metal it is named for.")
    colour: str = item(Text(), "Colour, if the name says one.")
    members: tuple[str, ...] = item(TextList(), "Ids of the catalogue's alloys that bear it.")
    fineness: Property = item(PURITY, "Permille: what the name promises, up to its richest alloy.")
    density: Property = item(DENSITY, "Over all its alloys and what is printed for the name.")
    solidus: Property | None = item(DEGREES, "Over those of its alloys of which one is held.")
    liquidus: Property | None = item(DEGREES, "Over those of its alloys of which one is held.")
    printed: tuple[str, ...] = item(TextList(), "Publication and row of what is printed for the name itself.")
    note: str = item(Text(), "What to know of it.")


def trade_name_view(one: TradeName) -> TradeNameView:
    """A trade name."""
    return TradeNameView(
        one.id,
        one.name,
        one.spellings,
        one.said.base,
        one.said.colour,
        one.members,
        one.fineness,
        one.density,
        one.solidus,
        one.liquidus,
        one.printed,
        one.note,
    )


def alloy_view(alloy: Alloy) -> AlloyView:
    """What the list shows of an alloy."""
    return AlloyView(**_alloy_cells(alloy))


def alloy_detail(alloy: Alloy) -> AlloyDetail:
    """Everything known of an alloy."""
    return AlloyDetail(**_alloy_cells(alloy), published=tuple(_published_view(one) for one in alloy.published))


def _alloy_cells(alloy: Alloy) -> dict[str, Any]:
    metal = alloy.metal
    return {
        "id": alloy.id,
        "name": metal.name,
        "aliases": alloy.aliases,
        "family": alloy.family,
        "base": metal.base,
        "colour": alloy.colour,
        "uses": alloy.uses,
        "composition": dict(metal.composition.parts),
        "composition_status": alloy.composition_status.value,
        "composition_source": alloy.composition_source,
        "fineness": fineness_of(metal, alloy.composition_status, alloy.composition_source),
        "karat": karat_of(metal),
        "density": metal.density,
        "solidus": metal.solidus,
        "liquidus": metal.liquidus,
        "hardness": alloy.hardness,
        "contains_nickel": alloy.contains("Ni"),
        "contains_cadmium": alloy.contains("Cd"),
        "contains_lead": alloy.contains("Pb"),
        "note": alloy.note,
    }


def fineness_of(metal: Metal, status: Status, source: str) -> Property:
    """Permille of the base metal, with the standing of the composition."""
    value = metal.fineness
    return Property(value, "permille", value, metal.most_fine or value, status, source)


def karat_of(metal: Metal) -> Property | None:
    """Karat by arithmetic, for gold: 24ths by mass, not the stamp."""
    if metal.base != "Au":
        return None
    value, most = (
        round_to(share * KARATS / 1000, KARAT_DECIMALS)
        for share in (metal.fineness, metal.most_fine or metal.fineness)
    )
    return Property(value, "karat", value, most, Status.CALCULATED, "definition")


def _published_view(one: PublishedValue) -> PublishedView:
    return PublishedView(
        one.property, one.value, one.unit, one.status.value, one.source, one.row, one.preferred, one.note
    )


def element_view(one: Element) -> ElementView:
    """An element."""
    return ElementView(one.symbol, one.name, one.atomic_mass, one.density, one.melting_point, one.note)


def unit_view(one: Unit) -> UnitView:
    """A unit."""
    return UnitView(
        one.symbol,
        one.name,
        one.dimension.value,
        BASE_UNIT[one.dimension],
        str(one.factor),
        one.ucum,
        one.aliases,
        one.status.value,
        one.source,
        one.note,
    )


def source_view(one: Source) -> SourceView:
    """A source."""
    return SourceView(one.id, one.kind, one.title, one.locator, one.quality, one.read, one.note)


def source_detail(one: Source, reference: Reference) -> SourceDetail:
    """A source with what rests on it."""
    supports = tuple(
        SupportView(cited.table, cited.id, cited.field, cited.status)
        for cited in reference.citations
        if cited.source == one.id
    )
    return SourceDetail(one.id, one.kind, one.title, one.locator, one.quality, one.read, one.note, supports)


def material_view(one: Material) -> MaterialView:
    """A pattern material or a stone."""
    return MaterialView(one.id, one.name, one.density)


def rule_view(one: TradeRule) -> RuleView:
    """A figure of the trade."""
    return RuleView(
        one.id,
        one.topic,
        one.item,
        one.value,
        one.low,
        one.high,
        one.unit,
        one.condition,
        one.status.value,
        one.source,
        one.note,
    )


def constant_view(one: Constant) -> ConstantView:
    """A figure that calculations rest on."""
    figure = one.figure
    return ConstantView(
        one.id,
        one.name,
        figure.value,
        figure.low,
        figure.high,
        figure.unit,
        figure.status.value,
        figure.source,
        figure.note,
    )


def caution_view(one: Caution) -> CautionView:
    """A caution."""
    return CautionView(one.id, one.applies, one.title, one.text, one.refer, one.status.value, one.source)


def mark_view(one: FinenessMark) -> MarkView:
    """A fineness in law."""
    return MarkView(
        one.jurisdiction,
        one.instrument,
        one.article,
        one.kind,
        one.metal,
        one.fineness,
        one.minus_tolerance,
        one.tested,
        one.when,
        one.words,
        one.mark_from,
        one.mark_to,
        one.limit,
        one.unit,
        tuple(" ".join(symbols) for symbols in one.counts),
        str(one.requires or ""),
        one.rule,
        one.status.value,
        one.source,
        one.note,
    )
