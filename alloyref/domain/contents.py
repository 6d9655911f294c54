"""What precious metal a piece or a lot holds, by its composition."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import (
    Assumption,
    Calculation,
    Measured,
    MetalName,
    Outcome,
    Quantity,
    item,
)
from alloyref.domain.metal import Metal
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

CONTAINED = Measured(Dimension.MASS, decimals=4, display=True)


@dataclass(frozen=True, slots=True)
class ContentsInputs:
    """A mass and the metal it is of."""

    mass: Decimal = item(Quantity(Dimension.MASS), "Mass of the piece or lot, without stones.", example="12.4 g")
    metal: Metal = item(
        MetalName(), "The metal: by id, or by its composition, such as an assay gives.", example="gold-585-yellow"
    )


@dataclass(frozen=True, slots=True)
class ContentsResult:
    """The contained mass of each precious metal; 0 where there is none, null where a trade name leaves it open."""

    gold: Decimal | None = item(CONTAINED, "Fine gold.")
    silver: Decimal | None = item(CONTAINED, "Fine silver.")
    platinum: Decimal | None = item(CONTAINED, "Fine platinum.")
    palladium: Decimal | None = item(CONTAINED, "Fine palladium.")
    rhodium: Decimal | None = item(CONTAINED, "Fine rhodium.")
    iridium: Decimal | None = item(CONTAINED, "Fine iridium.")
    ruthenium: Decimal | None = item(CONTAINED, "Fine ruthenium.")
    precious: Decimal | None = item(CONTAINED, "All of these together.")


SYMBOLS = ("Au", "Ag", "Pt", "Pd", "Rh", "Ir", "Ru")


def contents(inputs: ContentsInputs, reference: Reference) -> Outcome:
    """Contained mass in g of each precious metal: mass (g) times its share (permille) over 1000, exactly.

    What a lot yields is less: recovery, assay and charges come off.
    Check: 10 g of 750 gold hold 7.5 g of fine gold (definition of permille).
    """
    composition = inputs.metal.composition
    shares = dict(composition.fractions)
    held = [
        None if symbol in inputs.metal.may_hold else inputs.mass * shares.get(symbol, Decimal(0))
        for symbol in SYMBOLS
    ]
    held.append(None if None in held else sum((mass for mass in held if mass is not None), Decimal(0)))
    precious = sum((composition.fineness(symbol) for symbol in SYMBOLS), Decimal(0))
    return Outcome(ContentsResult(*held), (_basis(inputs.metal, precious, reference),))


def _basis(metal: Metal, precious: Decimal, reference: Reference) -> Assumption:
    """What the shares rest on: the nominal composition of the catalogue, or the caller's word."""
    alloy = reference.alloys.get(metal.id)
    if metal.most_fine is not None:
        text = "The least that the name promises, by arithmetic; what else it holds is not known and not counted."
        basis = Property(precious, "permille", precious, metal.most_fine, Status.CALCULATED, "trade-name-range")
        return Assumption("precious-share", text, basis)
    if alloy is not None:
        text = "By nominal composition; the metal at hand may differ, and an assay goes before it."
        status, source = alloy.composition_status, alloy.composition_source
    elif metal.id:
        text, status, source = "Counted as the pure element.", Status.CALCULATED, "definition"
    else:
        text, status, source = "By the composition given.", Status.GIVEN, "caller"
    return Assumption("precious-share", text, Property(precious, "permille", precious, precious, status, source))


CONTENTS = Calculation(
    name="contents",
    title="Precious metal contained in a mass",
    doc="How much fine gold, silver, platinum and more a mass of metal holds, by its composition.",
    inputs=ContentsInputs,
    result=ContentsResult,
    run=contents,
    query=True,
    bulk=True,
    proportional="mass",
    example={"mass": "12.4 g", "metal": "gold-585-yellow"},
)
