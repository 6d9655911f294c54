"""What a charge is asked with: lots in the shop, metal on the shelf, and what is to come of them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import ClassVar

from alloyref.domain.calculation import (
    CURRENCY,
    CatalogueWord,
    Choice,
    ElementList,
    FinenessOf,
    ListOf,
    MarkName,
    MetalName,
    Number,
    Quantity,
    Record,
    Share,
    Text,
    UnitName,
    item,
)
from alloyref.domain.fineness import NAMES, Fineness
from alloyref.domain.mark_name import Mark
from alloyref.domain.metal import Metal
from alloyref.domain.order.inputs import Price
from alloyref.domain.units import Dimension

MASS = Quantity(Dimension.MASS)
PRICE = Number(least=Decimal(0), most=Decimal(10**9))
PERMILLE = Number(least=Decimal(0), most=Decimal(1000))
WHOLE_SHARE = Share(below=Decimal("1.000001"))
NAME = Text(most=60)
MOST_LOTS = 500
MOST_SHELF = 60
LEAST_STEP = Decimal("0.0001")
"""No balance of a shop shows less than a tenth of a milligram."""
LEAST_MASS = "/target/mass"
PART, WHOLE, MUST = "part", "whole", "must"
SCRAP, FRESH = "scrap", "fresh"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeLot:
    """A lot in the shop that may go into the charge."""

    id: str = item(Text(most=60, blank=False), "What the lot is called; no two alike.", example="sprues of May")
    mass: Decimal = item(MASS, "How much of it there is.", example="42.6 g")
    metal: Metal = item(MetalName(composed=True), "What it is made of.", example="gold-585-yellow")
    kind: str = item(Choice((SCRAP, FRESH)), "Scrap (cast before: see `max_scrap_share`) or fresh.", default=SCRAP)
    use: str = item(
        Choice((PART, WHOLE, MUST)),
        "Any part of it may be used, or only the whole lot or nothing, or it must go in, all of it.",
        default=PART,
    )
    least_share: Decimal | None = item(WHOLE_SHARE, "Least share of the charge that it must make up.", default=None)
    most_share: Decimal | None = item(WHOLE_SHARE, "Most share of the charge that it may make up.", default=None)
    price: Decimal | None = item(PRICE, "What it is worth to you; 0 if it is free.", default=None, example="58.20")
    per: str = item(UnitName(Dimension.MASS), "The unit of mass the price is for.", default="g")


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfMetal:
    """Fine metal, alloying metal or master alloy that can be had."""

    metal: Metal = item(
        MetalName(composed=True), "What it is: an element symbol, a catalogue id, a composition.", example="Au"
    )
    id: str = item(NAME, "What it is called; without it the metal's own id or name.", default="")
    mass: Decimal | None = item(MASS, "How much can be had; without it any amount.", default=None)
    price: Decimal | None = item(PRICE, "Its price.", default=None, example="104.50")
    per: str = item(UnitName(Dimension.MASS), "The unit of mass the price is for.", default="g")


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Between which shares an element must lie."""

    elements: tuple[str, ...] = item(
        ElementList(), "The element, or several by commas, each within these limits.", example="Zn"
    )
    least: Decimal | None = item(PERMILLE, "Least share, permille.", default=None)
    most: Decimal | None = item(PERMILLE, "Most share, permille.", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeTarget:
    """What the charge shall weigh and be."""

    mass: Decimal = item(MASS, "What it shall weigh.", example="60 g")
    most_mass: Decimal | None = item(
        MASS, "It may weigh up to this, if whole lots or the price make that better.", default=None
    )
    alloy: Metal | None = item(
        MetalName(composed=True),
        "The alloy it shall be: its composition gives a window for each element.",
        default=None,
    )
    tolerance: Decimal | None = item(
        Number(least=Decimal(0), most=Decimal(100)),
        "Half-width of those windows in permille; without it 5, or, made of shelf metal alone, none but for the "
        "balance's steps. The metal it is marked for never goes below the alloy's own share.",
        default=None,
    )
    windows: tuple[Window, ...] = item(
        ListOf(Record(Window), most=40), "Windows for elements; one replaces the alloy's for its element.", default=()
    )
    free_of: tuple[str, ...] = item(
        ElementList(), "Elements that must not be in it at all, by commas.", default=(), example="Ni,Cd"
    )
    fineness: Fineness | None = item(
        FinenessOf(), "Least fineness. Karat is arithmetic: 14 karat is 583.333 permille.", default=None
    )
    mark: Mark | None = item(MarkName(), "A mark to be reached: 585, 14K, sterling.", default=None)
    jurisdiction: str | None = item(
        CatalogueWord("jurisdiction"), "Whose mark it is; needed for a karat or a word.", default=None
    )
    base: str | None = item(
        Choice(tuple(NAMES)), "Which metal's fineness counts; without it the alloy's own, or gold.", default=None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeInputs:
    """A charge to be made up at least cost."""

    PRICED: ClassVar[tuple[str, ...]] = ("lots", "shelf")

    target: ChargeTarget = item(Record(ChargeTarget), "What it shall weigh and be.")
    lots: tuple[ChargeLot, ...] = item(ListOf(Record(ChargeLot), most=MOST_LOTS), "Lots in the shop.", default=())
    shelf: tuple[ShelfMetal, ...] = item(
        ListOf(Record(ShelfMetal), most=MOST_SHELF), "Metals and master alloys that can be had.", default=()
    )
    max_scrap_share: Decimal | None = item(
        WHOLE_SHARE, "Most scrap in the charge, as a share of it; without it there is no such limit.", default=None
    )
    step: Decimal = item(
        Quantity(Dimension.MASS, above=None, least=LEAST_STEP, most=Decimal(1000)),
        "Weighing step: each mass is a whole number of it, but for a lot that is used up.",
        default=Decimal("0.01"),
    )
    currency: str | None = item(CURRENCY, "Currency of all prices, as an ISO 4217 code.", default=None, example="EUR")
    prices: tuple[Price, ...] = item(
        ListOf(Record(Price), stored=True),
        "Quotes for what has no price of its own: a quote for that very metal, else those for its elements.",
        default=(),
    )
