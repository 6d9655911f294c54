"""What an order answers with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import (
    BookEntry,
    Flag,
    ListOf,
    MapOf,
    Measured,
    Money,
    Number,
    Record,
    Text,
    TextList,
    Whole,
    item,
)
from alloyref.domain.estimate import Estimate
from alloyref.domain.provenance import Property
from alloyref.domain.span import Amount
from alloyref.domain.units import Dimension

GRAMS = Measured(Dimension.MASS)
SHOWN = Measured(Dimension.MASS, display=True)
FINENESS = Measured(Dimension.PURITY, decimals=3)
DEGREES = Measured(Dimension.TEMPERATURE, decimals=1, display=True)


@dataclass(frozen=True, slots=True)
class ChargeParts:
    """Where the charge goes; the parts sum to it exactly."""

    castings: Decimal = item(GRAMS, "All castings as cast, spares included.")
    sprue_and_button: Decimal = item(GRAMS, "Sprue and button.")
    safety: Decimal = item(GRAMS, "Safety allowance; it ends up in the button.")
    melt_loss: Decimal = item(GRAMS, "Lost in melting.")


@dataclass(frozen=True, slots=True)
class LotUse:
    """What becomes of a lot on hand."""

    metal: str = item(Text(), "The metal.")
    kind: str = item(Text(), "Scrap or fresh.")
    offered: Decimal = item(GRAMS, "What there was.")
    used: Decimal = item(SHOWN, "What goes into the charge.")
    left: Decimal = item(GRAMS, "What stays in the shop.")
    reason: str = item(Text(), "Why no more of it is used; empty if all is.")


@dataclass(frozen=True, slots=True)
class ItemToBuy:
    """One thing to buy."""

    what: str = item(Text(), "Alloyed metal, fine metal or master alloy.")
    metal: str = item(Text(), "Its id or symbol; empty for a master alloy.")
    composition: Mapping[str, Decimal] = item(MapOf(Number()), "What it is made of, permille.")
    elements: Mapping[str, Decimal] = item(MapOf(GRAMS), "Each element in what the charge needs of it.")
    needed: Decimal = item(GRAMS, "What the charge needs of it.")
    mass: Decimal = item(SHOWN, "What to order: the need rounded up to the supplier's step.")
    to_be_sure: Decimal = item(SHOWN, "What to order of it to be sure of enough: for the high end of the charge.")
    left_over: Decimal = item(GRAMS, "What stays in the shop after weighing the charge.")
    cost: Amount | None = item(Money(), "At the prices given.", default=None)


@dataclass(frozen=True, slots=True)
class ToBuy:
    """What to order from the supplier."""

    mass: Estimate = item(SHOWN, "Everything to order together.")
    to_be_sure: Decimal = item(
        SHOWN, "What to order to be sure of enough: for the high end of the charge, in whole steps."
    )
    form: str = item(Text(), "Ready alloyed, or fine metal and master alloy.")
    increment: Decimal = item(GRAMS, "The supplier's step.")
    items: tuple[ItemToBuy, ...] = item(ListOf(Record(ItemToBuy)), "Item by item.")
    on_hand: tuple[LotUse, ...] = item(ListOf(Record(LotUse)), "What becomes of the metal on hand.")


@dataclass(frozen=True, slots=True)
class Cost:
    """What the order costs at the caller's prices; `at_least` so much where something in it has no price."""

    total: Amount | None = item(Money(), "To pay the supplier.")
    on_hand_worth: Amount | None = item(Money(), "Metal on hand that goes in, at the same prices: it is not free.")
    left_over_worth: Amount | None = item(
        Money(), "Bought but not weighed in, by the supplier's steps: it stays in stock."
    )
    returns_worth: Amount | None = item(
        Money(), "Metal that comes back, at the same prices, before any refining charge."
    )
    net: Amount | None = item(Money(), "Total and on hand, less what is left over and what comes back.")
    per_piece: Amount | None = item(
        Money(), "Net, for each piece of the order's main line, by its share of the volume."
    )
    unpriced: tuple[str, ...] = item(TextList(), "Elements without a price: their worth is not in the figures.")
    quotes: tuple[str, ...] = item(TextList(), "The prices used, with the dates they were quoted on.")


@dataclass(frozen=True, slots=True)
class ReturnLot:
    """Metal that comes back, as a lot a refiner would book it."""

    kind: str = item(Text(), "sprue-and-button, spare-castings or lemel.")
    metal: str = item(Text(), "The metal, by id where it has one.")
    composition: Mapping[str, Decimal] = item(MapOf(Number()), "What it is made of, permille.")
    mass: Decimal = item(SHOWN, "How much.")
    worth: Amount | None = item(Money(), "At the prices given.", default=None)


@dataclass(frozen=True, slots=True)
class Returns:
    """All that comes back after casting and finishing."""

    mass: Decimal = item(SHOWN, "All of it together.")
    items: tuple[ReturnLot, ...] = item(ListOf(Record(ReturnLot)), "Lot by lot.")


@dataclass(frozen=True, slots=True)
class Account:
    """One line of the books: what went in and where it is. Masses in g."""

    mass_in: Decimal = item(BookEntry(), "Weighed into the crucible.", name="in")
    pieces: Decimal = item(BookEntry(), "In the finished pieces.")
    returns: Decimal = item(BookEntry(), "Comes back.")
    loss: Decimal = item(BookEntry(), "Lost in melting.")
    difference: Decimal = item(BookEntry(), "In less out: zero, or the books do not close.")


@dataclass(frozen=True, slots=True)
class Balance:
    """The closing balance."""

    unit: str = item(Text(), "The unit of every figure here.")
    total: Account = item(Record(Account), "All metal.")
    elements: Mapping[str, Account] = item(MapOf(Record(Account)), "Each element by itself.")


@dataclass(frozen=True, slots=True)
class LineResult:
    """One kind of piece in the flask and its share of everything, by volume."""

    name: str = item(Text(), "What it is.")
    pieces: int = item(Whole(1, 20_000), "Pieces to deliver.")
    castings: int = item(Whole(1, 20_000), "Castings to make, spares included.")
    piece_mass: Estimate = item(SHOWN, "One piece as cast.")
    finished_mass: Estimate = item(SHOWN, "One piece finished, metal only.")
    gross_mass: Decimal = item(GRAMS, "One piece finished, with its stones, those still to be set included.")
    share: Decimal = item(Measured(Dimension.RATIO, decimals=6), "Its share of the flask by volume.")
    account: Account = item(Record(Account), "Its own books, in g.")
    way: str = item(Text(), "What its mass was taken from: trial, volume or pattern.")
    cost: Amount | None = item(Money(), "Its share of the net cost.", default=None)


@dataclass(frozen=True, slots=True)
class ArmLoad:
    """What a centrifugal arm must be balanced against, by hand."""

    load: Decimal = item(GRAMS, "Charge, flask and crucible together.")
    complete: bool = item(Flag(), "False if flask or crucible was not given: the load is then too low.")
    moment_g_cm: Decimal | None = item(Number(), "Load times radius, in gram centimetres.", default=None)
    counterweight: Decimal | None = item(GRAMS, "The counterweight that balances it.", default=None)
    note: str = item(Text(), "What the moment rests on that was not given; empty if all was.", default="")


@dataclass(frozen=True, slots=True)
class CastingSlip:
    """What the caster needs at the bench."""

    metal: str = item(Text(), "The metal.")
    charge: Decimal = item(SHOWN, "Weigh into the crucible.")
    method: str = item(Text(), "Vacuum or centrifugal.")
    solidus: Property | None = item(DEGREES, "Where it begins to melt.")
    liquidus: Property | None = item(DEGREES, "Where it is wholly liquid.")
    pouring_window: Estimate | None = item(
        DEGREES,
        "Liquidus plus superheat, narrowed by the doubt of the liquidus: wherever in its range that lies, all of the "
        "window has the stated superheat. Value is the middle; null where nothing is left or no superheat is known.",
    )
    flask_temperature: Property | None = item(DEGREES, "Flask temperature, small pieces hot, large ones cooler.")
    investment: str = item(Text(), "Which investment holds the metal.")
    bench_notes: tuple[str, ...] = item(TextList(), "Flux, crucible, quench.")
    not_available: tuple[str, ...] = item(TextList(), "What nothing published says, and why it is blank.")
    arm: ArmLoad | None = item(Record(ArmLoad), "Load on a centrifugal arm.", default=None)


@dataclass(frozen=True, slots=True)
class Check:
    """What one of several ways in says of a piece, held against the one that is used."""

    line: str = item(Text(), "Which piece.")
    way: str = item(Text(), "Trial, volume or pattern.")
    used: bool = item(Flag(), "Whether the order uses it.")
    piece_mass: Estimate = item(SHOWN, "One piece as cast in the final metal, by this way.")
    difference_percent: Decimal = item(Number(), "How much more it says than the way used, in percent of that.")


@dataclass(frozen=True, slots=True)
class OrderMark:
    """What the final metal may bear in one place, as a check of the mark judges it without solder."""

    jurisdiction: str = item(Text(), "Where.")
    mark: str = item(
        Text(), "The mark asked about; without one the highest lawful there, or the least standard if none is."
    )
    verdict: str = item(
        Text(), "meets, falls-short, not-certain, not-a-mark (unknown there) or no-rule (none known here)."
    )
    misses_by: Property | None = item(
        FINENESS, "How far the metal falls short of what passes there; null: it does not, or nothing says."
    )
    within_tolerance: bool = item(
        Flag(), "Whether it passes only by a tolerance, which is for judging an assay and not for planning."
    )
    says: str = item(Text(), "The verdict in words.")


@dataclass(frozen=True, slots=True)
class OrderResult:
    """The order, the money, the books and the slip."""

    piece_mass: Estimate = item(SHOWN, "One piece as cast in the final metal.")
    finished_mass: Estimate = item(SHOWN, "One piece finished, metal only.")
    castings: int = item(Whole(1, 20_000), "Castings of the main piece to make, spares included.")
    charge: Estimate = item(SHOWN, "Weigh this into the crucible.")
    charge_parts: ChargeParts = item(Record(ChargeParts), "Where the charge goes.")
    to_buy: ToBuy = item(Record(ToBuy, shorthand="mass"), "What to order from the supplier.")
    elements: Mapping[str, Decimal] = item(MapOf(Measured(Dimension.MASS, decimals=4)), "What the charge holds.")
    cost: Cost | None = item(Record(Cost), "The money, if prices were given.")
    returns: Returns = item(Record(Returns, shorthand="mass"), "What comes back after casting.")
    balance: Balance = item(Record(Balance), "In, pieces, returns, loss, for each element.")
    lines: tuple[LineResult, ...] = item(ListOf(Record(LineResult)), "Each kind of piece in the flask.")
    casting_slip: CastingSlip = item(Record(CastingSlip), "For the bench.")
    checks: tuple[Check, ...] = item(
        ListOf(Record(Check)), "Where a piece was given in several ways: what each says. Empty if none was."
    )
    warnings: tuple[str, ...] = item(TextList(), "What looks wrong in what was typed and should be looked at again.")
    mark: tuple[OrderMark, ...] = item(
        ListOf(Record(OrderMark)), "What the final metal may be marked, place by place; empty if it is not precious."
    )
