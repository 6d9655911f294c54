"""What is shown of gauges, ring sizes and colour designations; declared like the other views."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import MapOf, Measured, Number, Text, TextList, item
from alloyref.domain.colour import ColourDesignation
from alloyref.domain.gauge import Gauge
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference
from alloyref.domain.ring_sizes import RingSize
from alloyref.domain.units import Dimension

LENGTH = Measured(Dimension.LENGTH, decimals=5)
SIZE = Measured(Dimension.LENGTH, decimals=4)
PERMILLE = Measured(Dimension.PURITY, decimals=1)


@dataclass(frozen=True, slots=True)
class GaugeView:
    """A gauge of wire or sheet."""

    system: str = item(Text(), "AWG, which is Brown and Sharpe's (B&S), or SWG, the British standard wire gauge.")
    gauge: str = item(Text(), "Number.")
    aliases: tuple[str, ...] = item(TextList(), "How else the number is written.")
    diameter: Property = item(LENGTH, "Diameter of wire, or thickness of sheet.")
    diameter_in: Decimal = item(Number(), "The same in inches.")


@dataclass(frozen=True, slots=True)
class RingSizeView:
    """A ring size."""

    system: str = item(Text(), "US (and Canada), UK, ISO, Japan, or continental (Switzerland, Italy, Spain).")
    size: str = item(Text(), "Size, as its system writes it.")
    diameter: Property = item(SIZE, "Inside diameter.")
    circumference: Property = item(SIZE, "Inside circumference.")


@dataclass(frozen=True, slots=True)
class ColourView:
    """A colour designation of gold."""

    designation: str = item(Text(), "Designation.")
    colour: str = item(Text(), "Colour.")
    fineness: Property = item(PERMILLE, "Least gold in permille.")
    composition: Mapping[str, Decimal] | None = item(
        MapOf(Number()), "Nominal composition in permille; empty where none was read."
    )
    composition_status: str = item(Text(), "Standing of the composition.")
    composition_source: str = item(Text(), "Source of the composition.")
    silver: Property | None = item(PERMILLE, "Silver: nominal, and the range that the colour allows.")
    alloys: tuple[str, ...] = item(TextList(), "Ids of the catalogue's alloys of that composition.")
    note: str = item(Text(), "What to know of it.")


def gauge_view(one: Gauge) -> GaugeView:
    """A gauge."""
    return GaugeView(one.system, one.gauge, one.aliases, one.diameter, one.diameter_in)


def ring_size_view(one: RingSize) -> RingSizeView:
    """A ring size."""
    return RingSizeView(one.system, one.size, one.diameter, one.circumference)


def colour_view(one: ColourDesignation, reference: Reference) -> ColourView:
    """A colour designation, with the catalogue's alloys of its nominal composition."""
    shares = None if one.composition is None else dict(one.composition.parts)
    made = [alloy.id for alloy in reference.alloys.values() if dict(alloy.metal.composition.parts) == shares]
    return ColourView(
        one.designation,
        one.colour,
        one.fineness,
        shares,
        one.composition_status.value,
        one.composition_source,
        one.silver,
        tuple(made),
        one.note,
    )
