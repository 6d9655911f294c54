"""What a density test answers."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import ListOf, Measured, Number, Record, Text, TextList, Whole, item
from alloyref.domain.density_test.candidates import Candidate, GoldField
from alloyref.domain.estimate import Estimate
from alloyref.domain.provenance import Property
from alloyref.domain.units import Dimension


@dataclass(frozen=True, slots=True)
class UncertaintyPart:
    """One part of the standard uncertainty."""

    part: str = item(Text(), "Where it comes from: readability, repeats, temperature, liquid or buoyancy.")
    standard: Decimal = item(Measured(Dimension.DENSITY, decimals=6), "Its standard uncertainty of the density.")
    share: Decimal = item(Number(), "Its share of the variance; the shares sum to one.")


@dataclass(frozen=True, slots=True)
class OnePair:
    """The density from one pair of readings."""

    density: Decimal = item(Measured(Dimension.DENSITY), "Density.")


@dataclass(frozen=True, slots=True)
class DensityTestResult:
    """The density, its uncertainty, what agrees with it and what it cannot tell."""

    density: Property = item(Measured(Dimension.DENSITY), "Density of the whole piece; the range is about 95 %.")
    standard_uncertainty: Decimal = item(
        Measured(Dimension.DENSITY, decimals=5), "Combined standard uncertainty of the density."
    )
    coverage_factor: Decimal = item(
        Number(), "By how many standard uncertainties the range reaches, before the ends are taken in volume."
    )
    uncertainty_parts: tuple[UncertaintyPart, ...] = item(
        ListOf(Record(UncertaintyPart)), "The parts that combine to it, as root of the sum of squares."
    )
    volume: Estimate = item(Measured(Dimension.VOLUME, decimals=5), "Volume of the piece.")
    liquid_density: Property = item(Measured(Dimension.DENSITY, decimals=7), "Density of the liquid as used.")
    pairs: tuple[OnePair, ...] = item(ListOf(Record(OnePair)), "The density from each pair of readings.")
    candidates: tuple[Candidate, ...] = item(
        ListOf(Record(Candidate)), "Alloys of the catalogue, the likeliest first."
    )
    other_likelihood: Decimal = item(
        Number(), "Likelihood of all alloys not listed; with those listed it sums to exactly one."
    )
    agreeing: int = item(Whole(0, 10**6), "How many alloys of the catalogue agree within about 95 %.")
    gold: GoldField | None = item(Record(GoldField), "What golds of silver and copper agree; null if none does.")
    cannot_tell: tuple[str, ...] = item(TextList(), "What this measurement cannot tell.")
