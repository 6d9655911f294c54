"""What a density test is asked with."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import ListOf, Quantity, Record, Text, density_quantity, item
from alloyref.domain.units import Dimension

WATER = "water"
MOST_AIR = Decimal("0.01")
READING = Quantity(Dimension.MASS, digits=True)


@dataclass(frozen=True, slots=True)
class Weighing:
    """One piece, weighed in air and hanging in the liquid."""

    in_air: Decimal = item(READING, "Reading in air.", example="10.0000 g")
    in_liquid: Decimal = item(READING, "Reading with the piece wholly in the liquid.", example="9.4834 g")


@dataclass(frozen=True, slots=True)
class Liquid:
    """The liquid that the piece hangs in."""

    name: str | None = item(
        Text(most=40), "What it is; only the density of water is held here.", default=None, example=WATER
    )
    density: Decimal | None = item(
        density_quantity(), "Its density at the temperature of the weighing.", default=None, example="0.789 g/cm3"
    )


@dataclass(frozen=True, slots=True)
class DensityTestInputs:
    """Weighings in air and in a liquid, and how they were made."""

    weighings: tuple[Weighing, ...] = item(
        ListOf(Record(Weighing), most=50), "One pair of readings, or several of the same piece."
    )
    liquid: Liquid | None = item(
        Record(Liquid, shorthand="name"), "The liquid; clean water if left out.", default=None, example="water"
    )
    temperature: Decimal | None = item(
        Quantity(Dimension.TEMPERATURE, above=None, least=Decimal(-50), most=Decimal(150)),
        "Temperature of the liquid, read to within 1 C; water is held from 0 to 40 C.",
        default=None,
        example="20 C",
    )
    readability: Decimal | None = item(
        Quantity(Dimension.MASS),
        "Smallest step of the balance; without it that of the last digit read, noughts too.",
        default=None,
        example="0.0001 g",
    )
    air_density: Decimal | None = item(
        Quantity(Dimension.DENSITY, above=None, least=Decimal(0), most=MOST_AIR),
        "Density of the air.",
        default=None,
        example="1.2 kg/m3",
    )
    suspension: Decimal | None = item(
        Quantity(Dimension.MASS, above=None, least=Decimal(0)),
        "Reading of the empty wire or basket in the liquid, where it was not tared; taken off each reading.",
        default=None,
    )
