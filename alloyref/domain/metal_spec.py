"""A metal described by the caller, for alloys that no catalogue holds."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Protocol

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
    name: str = item(Text(blank=False), "What to call it.", default="given composition")


@dataclass(frozen=True, slots=True)
class TradeNameSpec:
    """A metal by its trade name, with what the supplier says of it."""

    trade_name: str = item(Text(blank=False), "A trade name, such as 14k yellow.", example="14k yellow")
    density: Decimal | None = item(density_quantity(), "The supplier's density: it narrows the range.", default=None)
    solidus: Decimal | None = item(MELTING, "The supplier's solidus.", default=None)
    liquidus: Decimal | None = item(MELTING, "The supplier's liquidus.", default=None)


class Described(Protocol):
    """A metal by its composition in permille, density (g/cm3) and melting range (C) where they are known."""

    @property
    def composition(self) -> Composition:
        """What it is made of."""

    @property
    def density(self) -> Decimal | None:
        """Its density."""

    @property
    def solidus(self) -> Decimal | None:
        """Where it begins to melt."""

    @property
    def liquidus(self) -> Decimal | None:
        """Where it is wholly liquid."""


def metal_from_trade_name(spec: TradeNameSpec, reference: Reference) -> Metal:
    """The metal of a trade name; a figure that the supplier gives stands in the place of the name's range.

    `InvalidInput` for a name that is none, with those near it.
    """
    refuse_ends_crossed(spec)
    trade = reference.trade_name(spec.trade_name)
    if trade is None:
        detail = f"{spec.trade_name[:80]!r} is no trade name; /v1/trade-names lists them."
        raise InvalidInput.of("unknown-trade-name", detail, "/trade_name")
    metal = trade.metal
    return replace(
        metal,
        density=given(spec.density, "g/cm3", CALLER) or metal.density,
        solidus=given(spec.solidus, "C", CALLER) or metal.solidus,
        liquidus=given(spec.liquidus, "C", CALLER) or metal.liquidus,
    )


def metal_from_spec(spec: MetalSpec, reference: Reference) -> Metal:
    """The metal the caller describes; a given figure stands as given, what is missing is estimated."""
    refuse_ends_crossed(spec)
    return Metal("", spec.name, spec.composition, *figures(spec, CALLER, reference))


def refuse_ends_crossed(spec: MetalSpec | TradeNameSpec) -> None:
    """`InvalidInput` for a solidus above the liquidus."""
    if spec.solidus is not None and spec.liquidus is not None and spec.solidus > spec.liquidus:
        raise InvalidInput.of("contradiction", "The solidus lies above the liquidus.", "/solidus")


def figures(metal: Described, source: str, reference: Reference) -> tuple[Property, Property | None, Property | None]:
    """Density (g/cm3), solidus and liquidus (C) of a metal that `source` describes.

    A missing density is estimated, and so is the melting range where neither end is given and an honest estimate
    exists. Raises `NotAvailable` where there is no density.
    """
    ends = given(metal.solidus, "C", source), given(metal.liquidus, "C", source)
    if ends == (None, None):
        with suppress(NotAvailable):
            ends = reference.estimated_melting(metal.composition)
    return given(metal.density, "g/cm3", source) or reference.estimated_density(metal.composition), *ends


def given(value: Decimal | None, unit: str, source: str) -> Property | None:
    """A figure as it was given, by whom `source` says."""
    return None if value is None else Property(value, unit, value, value, Status.GIVEN, source)
