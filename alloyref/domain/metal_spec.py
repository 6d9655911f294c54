"""A metal described by the caller, for alloys that no catalogue holds."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import CompositionOf, Quantity, Text, density_quantity, item
from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput, NotAvailable
from alloyref.domain.metal import Metal
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

MELTING = Quantity(Dimension.TEMPERATURE, above=None, least=Decimal(-50), most=Decimal(4000))
CALLER = "caller"


@dataclass(frozen=True, slots=True)
class MetalSpec:
    """A metal by its composition, with whatever the caller knows of it."""

    composition: Composition = item(
        CompositionOf(),
        "Shares in permille by mass, summing to 1000.",
        example={"Au": 750, "Ag": 125, "Cu": 125},
    )
    density: Decimal | None = item(
        density_quantity(),
        "Measured density; estimated from the composition without it.",
        default=None,
    )
    solidus: Decimal | None = item(
        MELTING, "Solidus, if known; estimated where neither it nor the liquidus is given.", default=None
    )
    liquidus: Decimal | None = item(MELTING, "Liquidus, if known; estimated like the solidus.", default=None)
    name: str = item(Text(), "What to call it.", default="given composition")


def metal_from_spec(spec: MetalSpec, reference: Reference) -> Metal:
    """The metal the caller describes; a given figure stands as given.

    A missing density is estimated, and so is the melting range where neither end is given and an honest estimate
    exists.
    """
    density = _given(spec.density, "g/cm3") or reference.estimated_density(spec.composition)
    solidus, liquidus = _given(spec.solidus, "C"), _given(spec.liquidus, "C")
    if solidus is not None and liquidus is not None and solidus.value > liquidus.value:
        raise InvalidInput.of("contradiction", "The solidus lies above the liquidus.", "/solidus")
    if solidus is None and liquidus is None:
        with suppress(NotAvailable):
            solidus, liquidus = reference.estimated_melting(spec.composition)
    return Metal("", spec.name, spec.composition, density, solidus, liquidus)


def _given(value: Decimal | None, unit: str) -> Property | None:
    return None if value is None else Property(value, unit, value, value, Status.GIVEN, CALLER)
