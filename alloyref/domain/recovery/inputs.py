"""What a recovery is asked with: lots, the terms they are offered under, prices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar

from alloyref.domain.calculation import (
    AssayOf,
    Choice,
    CompositionOf,
    Flag,
    ListOf,
    MarkName,
    MetalName,
    Number,
    Pasted,
    Permille,
    Quantity,
    Record,
    Share,
    Text,
    UnitName,
    item,
)
from alloyref.domain.composition import PRECIOUS, Composition
from alloyref.domain.mark_name import Mark
from alloyref.domain.metal import Metal
from alloyref.domain.order.inputs import MASS, Price, Stone
from alloyref.domain.units import Dimension

Assay = Mapping[str, Decimal]
AMOUNT = Number(least=Decimal(0), most=Decimal(10**9))
WHOLE_SHARE = Share(below=Decimal("1.000001"))
MOST_LOTS, MOST_OFFERS = 40, 8


class Scrap(StrEnum):
    """What a lot is."""

    CLEAN = "clean-scrap"
    SPRUE = "sprue-and-button"
    SPARES = "spare-castings"
    TRIAL = "trial-casting"
    LEMEL = "lemel"
    SWEEPS = "sweeps"
    STONES_SET = "stones-set"


class Umpire(StrEnum):
    """How an umpire's assay settles a difference beyond the splitting limit."""

    MIDDLE = "middle"
    NEAREST_TWO = "nearest-two"


@dataclass(frozen=True, slots=True, kw_only=True)
class ScrapLot:
    """A lot as it lies on the bench; the items that an order's answer returns may be pasted in as they are."""

    name: str = item(Text(), "What to call it.", default="", example="bench filings, autumn")
    kind: str = item(
        Choice(tuple(Scrap)),
        "Clean scrap, sprue and button, spare or trial castings, lemel (filings), sweeps, or with stones set.",
        default=Scrap.CLEAN.value,
    )
    mass: Decimal = item(
        Quantity(Dimension.MASS, answered=True), "Gross, as weighed with all that is in it.", example="12.4 g"
    )
    metal: Metal | str | None = item(
        MetalName(or_label=True), "The metal it is of; only a label where its composition is given.", default=None
    )
    composition: Composition | None = item(CompositionOf(), "Or what it is made of, permille.", default=None)
    stamp: Mark | None = item(MarkName(), "Or the fineness mark it bears, not assayed: 14K, 925.", default=None)
    assay: Assay | None = item(
        AssayOf(), "Your assay in permille, element by element.", default=None, example={"Au": 583.1}
    )
    uncertainty: Decimal | None = item(
        Permille(least=Decimal(0), most=Decimal(500)), "Half-width of your assay's range, in permille.", default=None
    )
    their_assay: Assay | None = item(AssayOf(), "The refiner's assay of the melted lot.", default=None)
    umpire_assay: Assay | None = item(AssayOf(), "The umpire's assay.", default=None)
    recovery: Decimal | None = item(
        WHOLE_SHARE,
        "Share of the contents you expect to be found; the trade's figure without it.",
        default=None,
    )
    stones: tuple[Stone, ...] = item(ListOf(Record(Stone)), "Stones in it: no metal, taken off.", default=())
    other_matter: Decimal | None = item(
        Quantity(Dimension.MASS, above=None, least=Decimal(0), stones=True),
        "Steel springs, base-metal parts, shellac and the like: taken off.",
        default=None,
    )
    soldered: bool = item(Flag(), "Whether it has solder joints, which lower its fineness.", default=False)
    worth: None = item(Pasted(), "Part of an order's answer; not read.", default=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalTerms:
    """What is paid for one metal."""

    metal: str = item(Choice(PRECIOUS), "Which metal.", example="Au")
    paid: Decimal = item(WHOLE_SHARE, "Share of it that is paid for.", example="0.98")
    refining_charge: Decimal = item(AMOUNT, "Charge for each unit of payable fine metal.", default=Decimal(0))
    per: str = item(UnitName(Dimension.MASS), "That unit.", default="ozt")
    split_limit: Decimal | None = item(
        Permille(least=Decimal(0), most=Decimal(100)),
        "Two assays this close (permille) are settled at their mean; beyond it an umpire decides.",
        default=None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """The terms of one refiner; amounts are in the currency of the prices."""

    name: str = item(Text(blank=False), "What to call it.", example="offer A")
    pays: tuple[MetalTerms, ...] = item(
        ListOf(Record(MetalTerms), most=len(PRECIOUS)), "Metal by metal; what is not named is not paid for."
    )
    silver_in_karat_scrap: bool = item(Flag(), "Whether silver in gold scrap is paid for.", default=False)
    lot_charge: Decimal = item(AMOUNT, "Fixed charge for each lot: melting, assay.", default=Decimal(0))
    treatment_charge: Decimal = item(AMOUNT, "Charge by the gross mass received.", default=Decimal(0))
    treatment_per: str = item(UnitName(Dimension.MASS), "The mass it is for.", default="kg")
    minimum_charge: Decimal = item(
        AMOUNT, "Lot, treatment and refining charges of a lot are at least this.", default=Decimal(0)
    )
    fee: Decimal = item(Share(), "Share of the payable worth that is kept as a fee.", default=Decimal(0))
    refining_loss: Decimal = item(Share(), "Share of every metal deducted as refining loss.", default=Decimal(0))
    minimum_lot: Decimal | None = item(MASS, "A lot lighter than this (gross) is not taken.", default=None)
    lots: str = item(
        Choice(("each", "together")),
        "Whether each lot is melted and charged by itself, or all as one.",
        default="each",
    )
    sending_cost: Decimal = item(AMOUNT, "What sending costs you once: carriage, insurance.", default=Decimal(0))
    rounding: str = item(
        Choice(("down", "none")),
        "Payable fine ounces: as they are, or down to 0.001 ozt where the offer says so.",
        default="none",
    )
    umpire_rule: str = item(
        Choice(tuple(Umpire)),
        "The middle of the three assays, or the mean of the two nearest each other.",
        default=Umpire.MIDDLE.value,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RecoveryInputs:
    """Lots, the terms they are offered under, and prices."""

    PRICED: ClassVar[tuple[str, ...]] = ("lots", "order_returns")

    lots: tuple[ScrapLot, ...] = item(ListOf(Record(ScrapLot), most=MOST_LOTS), "The lots.", default=())
    order_returns: tuple[ScrapLot, ...] = item(
        ListOf(Record(ScrapLot), most=MOST_LOTS, within=("result", "returns", "items")),
        "More lots: an order's answer, its `result.returns`, or the `items` of that.",
        default=(),
    )
    terms: tuple[Offer, ...] = item(ListOf(Record(Offer), most=MOST_OFFERS), "The offers.", default=())
    prices: tuple[Price, ...] = item(
        ListOf(Record(Price), stored=True),
        "Prices of the fine metals quoted to you; none is ever invented.",
        default=(),
    )
    holding: Decimal | None = item(
        WHOLE_SHARE,
        "What the metal is worth to you if you keep it, as a share of its price (0.9 if not given).",
        default=None,
    )
