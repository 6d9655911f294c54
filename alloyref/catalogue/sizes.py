"""Reading and proving the tables of gauges, ring sizes and colour designations."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from decimal import Decimal

from alloyref.catalogue.text import DatasetError, Row, parse_shares
from alloyref.domain.colour import ColourDesignation
from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.gauge import AWG, SYSTEMS, Gauge, awg_inches, gauge_number
from alloyref.domain.numbers import EXACT
from alloyref.domain.provenance import Property
from alloyref.domain.ring_sizes import SYSTEMS as RING_SYSTEMS
from alloyref.domain.ring_sizes import RingSize, circumference_of, diameter_of, size_number, size_text

GAUGE_COLUMNS = "system,gauge,aliases,diameter_in,status,source,note"
RING_SIZE_COLUMNS = "system,size,diameter,circumference,status,source,note"
COLOUR_COLUMNS = (
    "designation,colour,fineness,composition,silver_low,silver_high,status,source,silver_status,silver_source,note"
)
INCH = Decimal("25.4")
_GAUGE = re.compile(r"0+|[1-9]\d?|[1-9]/0", re.ASCII)


def _plain(row: Row, value: Decimal, unit: str) -> Property:
    """A figure of the row with the row's standing."""
    return Property(value, unit, value, value, row.status("status"), row.text("source"), row.maybe("note"))


def gauge(row: Row) -> Gauge:
    """One gauge, its diameter brought to mm exactly."""
    system, name, aliases = row.text("system"), row.text("gauge"), row.words("aliases")
    if system not in SYSTEMS:
        raise DatasetError(f"{row.place}: there is no gauge system {system!r}")
    for one in (name, *aliases):
        if not _GAUGE.fullmatch(one):
            raise DatasetError(f"{row.place}: {one!r} is not a gauge number")
    inches = row.decimal("diameter_in")
    return Gauge(system, name, aliases, _plain(row, EXACT.multiply(inches, INCH), "mm"), inches)


def ring_size(row: Row) -> RingSize:
    """One ring size."""
    system = row.text("system")
    if system not in RING_SYSTEMS:
        raise DatasetError(f"{row.place}: there is no ring size system {system!r}")
    diameter, circumference = (_plain(row, row.decimal(name), "mm") for name in ("diameter", "circumference"))
    return RingSize(system, row.text("size"), diameter, circumference)


def colour_designation(row: Row, elements: Collection[str]) -> ColourDesignation:
    """One designation of a colour of gold."""
    composition = None
    if row.maybe("composition"):
        shares = parse_shares(row.text("composition"), row.place)
        if sum(shares.values()) != 1000:
            raise DatasetError(f"{row.place}: the composition sums to {sum(shares.values())}, not 1000")
        try:
            composition = Composition.from_permille(shares, elements)
        except InvalidInput as error:
            raise DatasetError(f"{row.place}: {error}") from None
    return ColourDesignation(
        row.text("designation"),
        row.text("colour"),
        _plain(row, row.decimal("fineness"), "permille"),
        composition,
        row.status("status"),
        row.text("source"),
        _silver(row, composition),
        row.maybe("note"),
    )


def _silver(row: Row, composition: Composition | None) -> Property | None:
    """The silver that a colour allows, about its nominal share."""
    if composition is None:
        return None
    low, high = row.decimal("silver_low"), row.decimal("silver_high")
    nominal = composition.fineness("Ag")
    return Property(nominal, "permille", low, high, row.status("silver_status"), row.text("silver_source"))


def gauge_faults(gauges: Iterable[Gauge]) -> Iterator[str]:
    """Gauges that are not what the rule gives, that do not fall with the number, or whose names clash."""
    last: dict[str, Gauge] = {}
    for one in gauges:
        number, before = gauge_number(one.gauge), last.get(one.system)
        if one.system == AWG and not _rounds_to(awg_inches(number), one.diameter_in, 8):
            yield f"gauge {one.id}: {one.diameter_in} inch is not what the rule gives, {awg_inches(number):.8f}"
        if any(gauge_number(alias) != number for alias in one.aliases):
            yield f"gauge {one.id}: {', '.join(one.aliases)} is another gauge"
        if before is not None and (one.diameter_in >= before.diameter_in or number != gauge_number(before.gauge) + 1):
            yield f"gauge {one.id}: it does not follow upon {before.gauge}"
        last[one.system] = one


def ring_size_faults(sizes: Iterable[RingSize]) -> Iterator[str]:
    """Ring sizes that are not what the rule of their system gives, or are not written as it writes them."""
    for one in sizes:
        system = RING_SYSTEMS[one.system]
        try:
            number = size_number(system, one.size)
        except InvalidInput as error:
            yield f"ring size {one.id}: {error}"
            continue
        if size_text(system, number) != one.size:
            yield f"ring size {one.id}: it is written {size_text(system, number)}"
        for name, given, rule in (
            ("diameter", one.diameter.value, diameter_of(system, number)),
            ("circumference", one.circumference.value, circumference_of(system, number)),
        ):
            if not _rounds_to(rule, given, 4):
                yield f"ring size {one.id}: the {name} {given} mm is not what the rule gives, {rule:.4f}"


def colour_faults(colours: Iterable[ColourDesignation]) -> Iterator[str]:
    """Colours whose nominal composition is not of their fineness or has silver outside their range."""
    for one in colours:
        if one.composition is not None and one.composition.fineness("Au") != one.fineness.value:
            yield f"colour {one.id}: the composition is not of fineness {one.fineness.value}"
        if one.silver is not None and not one.silver.low <= one.silver.value <= one.silver.high:
            yield f"colour {one.id}: {one.silver.value} silver lies outside {one.silver.low} to {one.silver.high}"


def _rounds_to(exact: Decimal, printed: Decimal, decimals: int) -> bool:
    """Whether a printed figure is the exact one to so many decimals."""
    return abs(exact - printed) <= Decimal("0.5").scaleb(-decimals)
