"""Mass from one unit to another, exactly."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import Calculation, Choice, Exact, Number, Outcome, UnitName, Whole, item
from alloyref.domain.numbers import Rounding, fraction_to_decimal
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

MOST = Decimal(10) ** 12


@dataclass(frozen=True, slots=True)
class MassInputs:
    """A mass and the unit it is wanted in."""

    value: Decimal = item(Number(least=Decimal(0), most=MOST), "The number to convert.", example="4.82")
    from_: str = item(UnitName(Dimension.MASS), "The unit it is in.", name="from", example="dwt")
    to: str = item(UnitName(Dimension.MASS), "The unit it is wanted in.", example="g")
    decimals: int | None = item(
        Whole(0, 12),
        "Round to this many decimals. Without it, an ending decimal is given exactly and any other to 15 digits.",
        default=None,
    )
    rounding: str = item(
        Choice(tuple(Rounding)),
        "How to round: half to even, down (payable fine ounces), or up.",
        default=Rounding.HALF_EVEN.value,
    )


@dataclass(frozen=True, slots=True)
class MassResult:
    """The converted mass."""

    mass: tuple[Decimal, str] = item(Exact(Dimension.MASS), "The mass in the unit asked for.")


def convert_mass(inputs: MassInputs, reference: Reference) -> Outcome:
    """Convert a mass between two units by the exact ratio of their definitions.

    Takes `value` in the unit `from_`, gives it in the unit `to`; rounded only if it does not end or
    `decimals` says so. Equation: value x factor(from) / factor(to), factors being exact fractions.
    Raises `InvalidInput` for units that are unknown or ambiguous.
    References: the unit table and its sources (`/v1/units`).
    """
    exact = reference.units.convert(inputs.value, inputs.from_, inputs.to, Dimension.MASS)
    value = fraction_to_decimal(exact, inputs.decimals, Rounding(inputs.rounding))
    return Outcome(MassResult((value, inputs.to)))


MASS = Calculation(
    name="mass",
    title="Convert a mass",
    doc="Exact conversion between units of mass: grams, pennyweights, troy ounces, carats, tolas and more.",
    inputs=MassInputs,
    result=MassResult,
    run=convert_mass,
    query=True,
    text="mass",
    bulk=True,
    example={"value": "4.82", "from": "dwt", "to": "g"},
)
