"""A casting in one metal tells the mass of the same casting in another."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.calculation import (
    Assumption,
    Calculation,
    Exact,
    Measured,
    MetalName,
    Outcome,
    Quantity,
    Share,
    UnitName,
    item,
)
from alloyref.domain.estimate import ONE, Estimate, Spread
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import EXACT
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

CONTRACTION_DOUBT = Decimal("0.003")
"""Contractions that are not both given count as equal within 0.1 percent of length, 0.3 of volume."""
TEXT_DECIMALS = 4
MOST_CONTRACTION = Decimal("0.2")


@dataclass(frozen=True, slots=True)
class TransferInputs:
    """A mass in one metal and the metal it is wanted in."""

    mass: Decimal = item(Quantity(Dimension.MASS), "Mass in the first metal.", example="4.82 g")
    from_metal: Metal = item(MetalName(), "The metal it was cast in.", example="sterling-silver")
    to_metal: Metal = item(MetalName(), "The metal it will be cast in.", example="gold-585-yellow")
    to_unit: str = item(
        UnitName(Dimension.MASS), "Unit of `in_unit`, and of the text form; in a query, the unit given.", default="g"
    )
    readability: Decimal | None = item(
        Quantity(Dimension.MASS),
        "Smallest step of the balance; widens the range by half a step.",
        default=None,
    )
    contraction_from: Decimal | None = item(
        Share(below=MOST_CONTRACTION),
        "Linear contraction of the first metal on solidifying and cooling.",
        default=None,
    )
    contraction_to: Decimal | None = item(
        Share(below=MOST_CONTRACTION), "Linear contraction of the second metal.", default=None
    )


@dataclass(frozen=True, slots=True)
class TransferResult:
    """The mass in the other metal."""

    mass: Estimate = item(Measured(Dimension.MASS, display=True), "Mass in the second metal.")
    ratio: Estimate = item(Measured(Dimension.RATIO, decimals=5), "Second mass over first.")
    in_unit: tuple[Fraction, str] = item(
        Exact(Dimension.MASS, decimals=TEXT_DECIMALS), "The mass in the unit asked for."
    )


def mass_ratio(
    from_metal: Metal,
    to_metal: Metal,
    contraction_from: Decimal | None = None,
    contraction_to: Decimal | None = None,
) -> Estimate:
    """Mass in the second metal over mass in the first, for castings from one and the same cavity.

    rho_to/rho_from x ((1 - s_to)/(1 - s_from))^3, with densities rho in g/cm3 and linear contractions s.
    The range (about 95 percent) combines both density ranges as independent, and 0.3 percent of volume
    where the two contractions are not both given (they then count as equal). One density on both sides is
    the same number: it widens nothing.
    """
    value = EXACT.divide(to_metal.density.value, from_metal.density.value)
    spreads = []
    if contraction_from is not None and contraction_to is not None:
        shrunk = EXACT.divide(ONE - contraction_to, ONE - contraction_from)
        value = EXACT.multiply(value, shrunk**3)
    elif contraction_assumed(from_metal, to_metal, contraction_from, contraction_to):
        spreads.append(Spread.even(CONTRACTION_DOUBT))
    if from_metal.density != to_metal.density or from_metal.is_trade_name:
        # Two metals of one trade name may be two alloys.
        spreads += [Spread.of(to_metal.density), Spread.of(from_metal.density).inverse()]
    return Estimate.widened(value, *spreads)


def transfer(inputs: TransferInputs, reference: Reference) -> Outcome:
    """Mass of a casting in another metal, from its mass in the first.

    m_to = m_from x rho_to/rho_from x ((1 - s_to)/(1 - s_from))^3; masses in g, densities in g/cm3.
    Gives value, low and high (about 95 percent: densities and half a step of the balance in quadrature).
    Check: sterling to 14 karat yellow is about x 1.24 to 1.32, by its zinc (common practice, no source).
    """
    ratio = mass_ratio(inputs.from_metal, inputs.to_metal, inputs.contraction_from, inputs.contraction_to)
    value = inputs.mass * ratio.value
    spreads = [Spread.of(ratio)]
    if inputs.readability is not None:
        spreads.append(Spread.even(EXACT.divide(inputs.readability / 2, inputs.mass)))
    mass = Estimate.widened(value, *spreads)
    cautions = reference.cautions_for((inputs.from_metal, inputs.to_metal))
    asked = reference.units.convert(mass.value, "g", inputs.to_unit, Dimension.MASS)
    return Outcome(TransferResult(mass, ratio, (asked, inputs.to_unit)), transfer_assumptions(inputs), cautions)


def transfer_assumptions(inputs: TransferInputs) -> tuple[Assumption, ...]:
    """What the transfer rests on beyond what was given."""
    metals = inputs.from_metal, inputs.to_metal
    contraction = contraction_assumed(*metals, inputs.contraction_from, inputs.contraction_to)
    return (*map(density_assumption, metals), *contraction)


def contraction_assumed(
    from_metal: Metal, to_metal: Metal, contraction_from: Decimal | None, contraction_to: Decimal | None
) -> tuple[Assumption, ...]:
    """That two metals are taken to contract alike: not where both contractions are given, nor of one metal."""
    given = contraction_from is not None and contraction_to is not None
    return () if given or from_metal == to_metal else (EQUAL_CONTRACTION,)


def density_assumption(metal: Metal) -> Assumption:
    """The density that was used for a metal, with its range and source."""
    return Assumption(f"density:{metal.id or metal.name}", f"Density of {metal.name}.", metal.density)


EQUAL_CONTRACTION = Assumption(
    "equal-contraction",
    "Contractions not both given: the metals are taken to contract alike; the range allows 0.3 % of volume.",
    Property(Decimal(0), "1", -CONTRACTION_DOUBT, CONTRACTION_DOUBT, Status.COMMON_PRACTICE, "common-practice"),
)

TRANSFER = Calculation(
    name="transfer",
    title="Mass of the same casting in another metal",
    doc="One cavity, two metals: what a trial casting weighs in the final metal, with its range.",
    inputs=TransferInputs,
    result=TransferResult,
    run=transfer,
    query=True,
    text="in_unit",
    bulk=True,
    proportional="mass",
    unless=("readability",),
    example={"mass": "4.82 g", "from_metal": "sterling-silver", "to_metal": "gold-585-yellow"},
)
