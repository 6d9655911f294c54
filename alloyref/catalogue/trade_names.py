"""The trade names: what each says, which alloys bear it, and the range of these and of what is printed for it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from alloyref.catalogue.text import DatasetError, Row
from alloyref.domain.metal import Alloy
from alloyref.domain.names import name_key
from alloyref.domain.numbers import Rounding, fraction_to_decimal, plain, round_to
from alloyref.domain.provenance import Property, Status
from alloyref.domain.trade_names import (
    Said,
    TradeName,
    karats_in,
    may_hold,
    read_trade_name,
    spellings_of,
)

COLUMNS = "id,name,base,karat,permille,most,colour,holds,spellings,members,printed,note"
SOURCE = "trade-name-range"
PERMILLE_DECIMALS = 6
DENSITY_DECIMALS, MELTING_DECIMALS = 2, 1


def trade_name(row: Row, alloys: Mapping[str, Alloy], printed: Mapping[str, Row]) -> TradeName:
    """One row of the table with its members and ranges; `DatasetError` where nothing bears the name."""
    said = Said(
        row.text("base"),
        row.maybe_decimal("karat"),
        row.maybe_decimal("permille"),
        row.maybe("colour"),
        row.maybe("holds"),
    )
    members = _members(row, said, alloys)
    near = tuple(filter(said.is_printed_for, alloys.values()))
    spanned = (*members, *near)
    rows = [_printed(row, name, printed) for name in row.words("printed")]
    return TradeName(
        id=row.text("id"),
        name=row.text("name"),
        said=said,
        spellings=row.words("spellings") or spellings_of(said),
        members=tuple(alloy.id for alloy in members),
        near_members=tuple(alloy.id for alloy in near),
        holds=may_hold(spanned, said.base),
        printed=row.words("printed"),
        fineness=_fineness(row, said, members),
        density=_span(
            [alloy.metal.density for alloy in spanned],
            [value for one in rows if (value := one.maybe_decimal("density")) is not None],
            "g/cm3",
            DENSITY_DECIMALS,
        ),
        solidus=_melting(spanned, (), lambda alloy: alloy.metal.solidus),
        liquidus=_melting(spanned, rows, lambda alloy: alloy.metal.liquidus),
        melting_held=not row.maybe("members")
        and all(None not in (alloy.metal.solidus, alloy.metal.liquidus) for alloy in spanned),
        note=row.maybe("note"),
    )


def _members(row: Row, said: Said, alloys: Mapping[str, Alloy]) -> tuple[Alloy, ...]:
    named = row.words("members")
    unknown = [id_ for id_ in named if id_ not in alloys]
    if unknown:
        raise DatasetError(f"{row.place}: there is no alloy {unknown[0]}")
    members = tuple(alloys[id_] for id_ in named) or tuple(filter(said.is_met_by, alloys.values()))
    if not members:
        raise DatasetError(f"{row.place}: no alloy bears the name {row.text('name')}")
    return members


def _printed(row: Row, name: str, printed: Mapping[str, Row]) -> Row:
    if name not in printed:
        raise DatasetError(f"{row.place}: no publication has the row {name}")
    return printed[name]


def _fineness(row: Row, said: Said, members: Sequence[Alloy]) -> Property:
    """What the name promises, up to the richest of its members; arithmetic, not the stamp."""
    promised = _permille(said.promised)
    most = row.maybe_decimal("most") or max(alloy.metal.composition.fineness(said.base) for alloy in members)
    note = "the least is what the name promises, by arithmetic; the most is the richest alloy of the name held"
    return Property(promised, "permille", promised, max(promised, most), Status.CALCULATED, SOURCE, note)


def _permille(promised: Fraction) -> Decimal:
    """To a millionth of a permille, up, so that no name promises less than its karat.

    >>> _permille(Fraction(14 * 1000, 24))
    Decimal('583.333334')
    """
    return fraction_to_decimal(promised, PERMILLE_DECIMALS, Rounding.UP)


def _span(properties: Sequence[Property], printed: Sequence[Decimal], unit: str, decimals: int) -> Property:
    """The range over the alloys and what is printed for the name; the value is the middle of their values."""
    values = [*(one.value for one in properties), *printed]
    low = min([*(one.low for one in properties), *printed])
    high = max([*(one.high for one in properties), *printed])
    middle = round_to((min(values) + max(values)) / 2, decimals)
    note = f"the middle of {plain(min(values))} to {plain(max(values))}, which the alloys of this name have"
    return Property(middle, unit, low, high, Status.CALCULATED, SOURCE, note)


def _melting(
    alloys: Sequence[Alloy], rows: Sequence[Row], end: Callable[[Alloy], Property | None]
) -> Property | None:
    """One end of the melting range over the alloys of which it is known, told with those of which it is not.

    A single printed melting point is neither end. It widens the liquidus, which it is nearer to, and moves no value.
    """
    known = [(alloy, figure) for alloy in alloys if (figure := end(alloy)) is not None]
    if not known:
        return None
    points = [value for row in rows if (value := row.maybe_decimal("single_melting_point")) is not None]
    span = _span([figure for _, figure in known], (), "C", MELTING_DECIMALS)
    span = replace(span, low=min([span.low, *points]), high=max([span.high, *points]))
    missing = [alloy.id for alloy in alloys if end(alloy) is None]
    if not missing:
        return span
    note = f"{span.note}; no figure is held for {', '.join(missing)}, which may lie outside"
    return replace(span, note=note)


def trade_name_faults(trade_names: Mapping[str, TradeName], alloys: Mapping[str, Alloy]) -> Iterator[str]:
    """A name that no composition fixes is no alloy's, and a name that says a karat is no poorer alloy's."""
    spelt: dict[str, str] = {}
    for trade in trade_names.values():
        for spelling in trade.names:
            owner = spelt.setdefault(name_key(spelling), trade.id)
            if owner != trade.id:
                yield f"trade name {trade.id}: {spelling!r} belongs to {owner} too"
    for alloy in alloys.values():
        for name in (alloy.metal.name, *alloy.aliases):
            said = read_trade_name(name)
            is_pure = len(alloy.metal.composition.parts) == 1
            if name_key(name) in spelt or (said is not None and said.has_fineness and not is_pure):
                yield f"{alloy.id}: {name!r} is a trade name, which no composition fixes"
        yield from _karat_faults(alloy)


def _karat_faults(alloy: Alloy) -> Iterator[str]:
    for name in (alloy.id, alloy.metal.name, *alloy.aliases):
        for karat in karats_in(name):
            if Fraction(alloy.metal.composition.fineness("Au")) * 24 < Fraction(karat) * 1000:
                yield f"{alloy.id}: {name!r} says {plain(karat)} karat, but it holds less gold"
