"""An alloy of the shop's own, to be used wherever a metal is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import (
    CompositionOf,
    MapOf,
    Measured,
    Number,
    Share,
    Text,
    Whole,
    density_quantity,
    item,
)
from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import Metal
from alloyref.domain.metal_spec import MELTING, figures, given
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

PREFIX = "shop:"
ID_FORM = "[a-z0-9][a-z0-9-]{0,49}"
SOURCE = "shop"


@dataclass(frozen=True, slots=True)
class ShopAlloy:
    """An alloy as the shop knows it."""

    name: str = item(Text(blank=False), "What the shop calls it.", example="house yellow 14")
    composition: Composition = item(
        CompositionOf(),
        "Shares in permille by mass, summing to 1000.",
        example={"Au": 585, "Ag": 205, "Cu": 210},
    )
    density: Decimal | None = item(
        density_quantity(),
        "Measured density; estimated from the composition without it.",
        default=None,
        example="13.1 g/cm3",
    )
    solidus: Decimal | None = item(
        MELTING,
        "Solidus, if known; estimated where neither it nor the liquidus is given.",
        default=None,
        example="830 C",
    )
    liquidus: Decimal | None = item(
        MELTING, "Liquidus, if known; estimated like the solidus.", default=None, example="875 C"
    )
    premium: Decimal | None = item(
        Share(below=Decimal(10)),
        "What the supplier asks above the worth of its metals, as a share of that worth.",
        default=None,
        example=0.08,
    )
    note: str = item(Text(most=400), "Anything to remember of it.", default="")

    def check(self) -> None:
        """Refuse what contradicts itself (`InvalidInput`): a solidus above the liquidus, in C."""
        if self.solidus is not None and self.liquidus is not None and self.solidus > self.liquidus:
            raise InvalidInput.of("contradiction", "The solidus lies above the liquidus.", "/solidus")


@dataclass(frozen=True, slots=True)
class NewShopAlloy(ShopAlloy):
    """A new alloy of the shop."""

    id: str | None = item(
        Text(most=55, pattern=f"^({PREFIX})?{ID_FORM}$"),
        "Id, of small letters, digits and hyphens; made up if not given. An id is never used twice.",
        default=None,
        example="house-yellow-14",
    )


@dataclass(frozen=True, slots=True)
class ShopAlloyView:
    """An alloy of the shop as it stands."""

    id: str = item(Text(), "Id, to be used wherever a metal is asked for.", example="shop:house-yellow-14")
    name: str = item(Text(), "What the shop calls it.")
    composition: Mapping[str, Decimal] = item(MapOf(Number()), "Permille by mass.")
    density: Property | None = item(Measured(Dimension.DENSITY), "Measured density at 20 C, if given.")
    solidus: Property | None = item(Measured(Dimension.TEMPERATURE), "Where it begins to melt, if given.")
    liquidus: Property | None = item(Measured(Dimension.TEMPERATURE), "Where it is wholly liquid, if given.")
    premium: Decimal | None = item(Number(), "Share asked above the worth of its metals, if given.")
    note: str = item(Text(), "What to remember of it.")
    version: int = item(Whole(1, 10**9), "Counts its changes, from 1.", example=1)
    created: str = item(Text(), "When it was written first, UTC.")
    changed: str = item(Text(), "When it was changed last, UTC.")


def shop_alloy_view(id_: str, alloy: ShopAlloy, version: int, created: str, changed: str) -> ShopAlloyView:
    """What is shown of an alloy of the shop."""
    return ShopAlloyView(
        PREFIX + id_,
        alloy.name,
        dict(alloy.composition.parts),
        given(alloy.density, "g/cm3", SOURCE),
        given(alloy.solidus, "C", SOURCE),
        given(alloy.liquidus, "C", SOURCE),
        alloy.premium,
        alloy.note,
        version,
        created,
        changed,
    )


def metal_of(id_: str, alloy: ShopAlloy, reference: Reference) -> Metal:
    """The metal that calculations work with: a figure the shop gave stands, what is missing is estimated."""
    known = figures(alloy, SOURCE, reference)
    return Metal(PREFIX + id_, alloy.name, alloy.composition, *known, premium=alloy.premium or Decimal(0))
