"""What a recovery answers with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import (
    BookEntry,
    Flag,
    ListOf,
    MapOf,
    MassSpan,
    Measured,
    MoneySpan,
    Number,
    Record,
    Text,
    TextList,
    item,
)
from alloyref.domain.span import MassRange, MoneyRange
from alloyref.domain.units import Dimension

SHOWN = Measured(Dimension.MASS, display=True)


@dataclass(frozen=True, slots=True)
class Content:
    """One precious metal in a lot."""

    metal: str = item(Text(), "Its symbol.")
    assayed: bool = item(Flag(), "Whether it was assayed; else it is a range and no number.")
    fineness_low: Decimal = item(Number(), "Permille of the net mass, at least.")
    fineness_high: Decimal = item(Number(), "Permille of the net mass, at most.")
    contained: MassRange = item(MassSpan(), "Fine metal in it.")
    recovered: MassRange = item(MassSpan(), "What is expected to be found of it.")


@dataclass(frozen=True, slots=True)
class LotContents:
    """One lot."""

    name: str = item(Text(), "What it is called.")
    kind: str = item(Text(), "What it is.")
    metal: str = item(Text(), "The metal, mark or composition that it was taken for.")
    gross: Decimal = item(SHOWN, "As weighed.")
    deducted: Decimal = item(Measured(Dimension.MASS), "Stones and other matter.")
    net: Decimal = item(SHOWN, "Metal.")
    recovery_low: Decimal = item(Number(), "Share expected to be found, at least.")
    recovery_high: Decimal = item(Number(), "Share expected to be found, at most.")
    contents: tuple[Content, ...] = item(ListOf(Record(Content)), "Metal by metal; none for sweeps without an assay.")
    notes: tuple[str, ...] = item(TextList(), "What stones, steel, solder and a missing assay do to it.")


@dataclass(frozen=True, slots=True)
class MetalAccount:
    """Where the contained metal goes under an offer, in g; the parts sum to `contained` exactly."""

    contained: Decimal = item(BookEntry(), "In the lot, by the assay that settles.")
    not_recovered: Decimal = item(BookEntry(), "Not expected to be found.")
    not_paid_for: Decimal = item(BookEntry(), "Not paid for under these terms.")
    refining_loss: Decimal = item(BookEntry(), "Deducted as refining loss.")
    kept: Decimal = item(BookEntry(), "Kept by the refiner: what the paid share leaves.")
    rounding: Decimal = item(BookEntry(), "Lost in rounding ounces down.")
    payable: Decimal = item(BookEntry(), "Paid for.")


@dataclass(frozen=True, slots=True)
class MetalSettlement:
    """One metal under an offer."""

    metal: str = item(Text(), "Its symbol.")
    payable: MassRange = item(MassSpan(), "Fine metal paid for.")
    fine_ounces_low: Decimal = item(Number(), "The same in ozt, at least.")
    fine_ounces_high: Decimal = item(Number(), "The same in ozt, at most.")
    low: MetalAccount = item(Record(MetalAccount), "Where the metal goes, if the lot holds the least.")
    high: MetalAccount = item(Record(MetalAccount), "Where it goes, if the lot holds the most.")
    worth: MoneyRange | None = item(MoneySpan(), "At the price given.")


@dataclass(frozen=True, slots=True)
class LotSettlement:
    """One lot, or all that are melted together, under an offer."""

    lots: tuple[str, ...] = item(TextList(), "Which lots.")
    gross: Decimal = item(SHOWN, "As received.")
    taken: bool = item(Flag(), "False if it is lighter than the least lot: then nothing is paid or charged.")
    metals: tuple[MetalSettlement, ...] = item(ListOf(Record(MetalSettlement)), "Metal by metal.")
    worth: MoneyRange | None = item(MoneySpan(), "Payable metal at the prices given.")
    fee: MoneyRange | None = item(MoneySpan(), "Less the fee.")
    lot_charge: MoneyRange | None = item(MoneySpan(), "Less the charge for the lot.")
    treatment_charge: MoneyRange | None = item(MoneySpan(), "Less the charge by mass.")
    refining_charge: MoneyRange | None = item(MoneySpan(), "Less the charge by fine metal.")
    to_minimum: MoneyRange | None = item(MoneySpan(), "Less what brings the charges to their minimum.")
    net: MoneyRange | None = item(MoneySpan(), "What is paid; negative: the charges eat it up.")
    notes: tuple[str, ...] = item(TextList(), "How differing assays were settled, and what is not paid for.")


@dataclass(frozen=True, slots=True)
class BreakEven:
    """From what size on sending beats holding, the make-up of the lots being the same."""

    decision: str = item(Text(), "send, hold, or not-certain where the range straddles it.")
    from_mass: MassRange | None = item(
        MassSpan(), "Gross mass from which sending pays; null: at no size (or, with a range, perhaps at none)."
    )
    until_mass: MassRange | None = item(
        MassSpan(), "Gross mass beyond which it pays no longer; null: it goes on paying."
    )
    worth_of_contents: MoneyRange = item(MoneySpan(), "All contained metal that has a price, at it.")
    share_paid_low: Decimal | None = item(Number(), "Settlement as a share of that worth, at least.")
    share_paid_high: Decimal | None = item(Number(), "The same, at most.")
    rule: str = item(Text(), "The rule.")


@dataclass(frozen=True, slots=True)
class Settlement:
    """All lots under one offer."""

    offer: str = item(Text(), "Which offer.")
    lots: tuple[LotSettlement, ...] = item(ListOf(Record(LotSettlement)), "Lot by lot.")
    sending_cost: MoneyRange | None = item(MoneySpan(), "Less what sending costs.")
    settlement: MoneyRange | None = item(MoneySpan(), "What remains; null without prices.")
    break_even: BreakEven | None = item(Record(BreakEven), "When sending beats holding; null without prices.")


@dataclass(frozen=True, slots=True)
class Flip:
    """A size at which another offer begins to pay more."""

    mass: Decimal = item(SHOWN, "Gross mass of all lots, their make-up being the same.")
    scenario: str = item(Text(), "low or high contents; both where they are one.")
    below: str = item(Text(), "Which offer pays the most below it.")
    above: str = item(Text(), "Which offer pays the most from there on.")


@dataclass(frozen=True, slots=True)
class OfferComparison:
    """The offers beside each other."""

    best: str = item(Text(), "Which pays the most; empty where low and high disagree, or a price is missing.")
    best_low: str = item(Text(), "Which pays the most if the lots hold the least.")
    best_high: str = item(Text(), "Which pays the most if they hold the most.")
    lead: MoneyRange = item(MoneySpan(), "How much more the best pays than the next.")
    flips: tuple[Flip, ...] = item(ListOf(Record(Flip)), "Sizes at which another offer is the best.")


@dataclass(frozen=True, slots=True)
class RecoveryResult:
    """Contents, settlements and their comparison."""

    contents: Mapping[str, MassRange] = item(MapOf(MassSpan()), "Fine metal in all lots together, by symbol.")
    recovered: Mapping[str, MassRange] = item(MapOf(MassSpan()), "What is expected to be found of it.")
    offer: str = item(
        Text(), "The offer that pays the most (if low and high contents disagree: for the low); empty if none does."
    )
    payable: Mapping[str, MassRange] = item(MapOf(MassSpan()), "Fine metal that it pays for.")
    settlement: MoneyRange | None = item(MoneySpan(), "What it comes to; null without prices.")
    break_even: BreakEven | None = item(Record(BreakEven), "When sending on those terms beats holding.")
    lots: tuple[LotContents, ...] = item(ListOf(Record(LotContents)), "Lot by lot.")
    settlements: tuple[Settlement, ...] = item(ListOf(Record(Settlement)), "Offer by offer.")
    comparison: OfferComparison | None = item(
        Record(OfferComparison), "Which offer pays more, and from what size on."
    )
    unpriced: tuple[str, ...] = item(TextList(), "Metals without a price: their worth is not in the figures.")
    quotes: tuple[str, ...] = item(TextList(), "The prices used, with the dates they were quoted on.")
    notes: tuple[str, ...] = item(TextList(), "What to know of it all.")
