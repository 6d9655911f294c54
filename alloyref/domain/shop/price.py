"""Dated quotes for metals, as the shop was given them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import CURRENCY, DATE, MetalName, Number, Text, UnitName, Whole, item
from alloyref.domain.errors import InvalidInput
from alloyref.domain.finder import MOST_PAGE
from alloyref.domain.metal import Metal
from alloyref.domain.units import Dimension


@dataclass(frozen=True, slots=True)
class ShopPrice:
    """A quote for a metal on a day."""

    metal: Metal = item(MetalName(), "What is priced: an alloy, or an element for fine metal.", example="Au")
    price: Decimal = item(Number(least=Decimal(0), most=Decimal(10**9)), "The price.", example="104.50")
    currency: str = item(CURRENCY, "Currency, as an ISO 4217 code.", example="EUR")
    date: str = item(DATE, "Date of the quote.", example="2026-11-20")
    per: str = item(UnitName(Dimension.MASS), "The unit of mass it is for.", default="g", example="g")
    note: str = item(Text(most=400), "Who quoted it, or anything to remember.", default="")

    def check(self) -> None:
        """Refuse a quote for a metal without an id (`InvalidInput`): it could not be found again."""
        if not self.metal.id:
            raise InvalidInput.of("missing", "A price is for a metal with an id.", "/metal")


@dataclass(frozen=True, slots=True)
class ShopPriceView:
    """A quote as it was written."""

    id: str = item(Text(), "Id of the quote.")
    metal: str = item(Text(), "Id or symbol of the metal.")
    price: Decimal = item(Number(), "The price.")
    currency: str = item(Text(), "Currency, as an ISO 4217 code.")
    date: str = item(Text(), "Date of the quote.")
    per: str = item(Text(), "The unit of mass it is for.")
    note: str = item(Text(), "What to remember of it.")
    version: int = item(Whole(1, 10**9), "Counts its changes, from 1.", example=1)
    created: str = item(Text(), "When it was written, UTC.")


@dataclass(frozen=True, slots=True)
class ShopPriceQuery:
    """A question to the quotes; every part narrows it further."""

    metal: str | None = item(Text(most=80), "Id or symbol of the metal.", default=None, example="Au")
    currency: str | None = item(CURRENCY, "Currency, as an ISO 4217 code.", default=None, example="EUR")
    at: str | None = item(
        DATE,
        "Only what held on this day: of each metal and currency the latest quote made by then.",
        default=None,
        example="2026-11-25",
    )
    page: int = item(Whole(1, 10_000), "Page, from 1.", default=1)
    page_size: int = item(Whole(1, MOST_PAGE), "Quotes a page.", default=100)
