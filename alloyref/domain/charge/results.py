"""What a charge answers with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import (
    BookEntry,
    Choice,
    Exact,
    Flag,
    ListOf,
    MapOf,
    Measured,
    Money,
    Number,
    Record,
    Text,
    TextList,
    item,
)
from alloyref.domain.charge.model import Rule
from alloyref.domain.provenance import Property
from alloyref.domain.purity import NearMark
from alloyref.domain.span import Amount
from alloyref.domain.units import Dimension

SHOWN = Measured(Dimension.MASS, display=True)
DEGREES = Measured(Dimension.TEMPERATURE, decimals=1)
RULES = Choice(tuple(rule.value for rule in Rule))


@dataclass(frozen=True, slots=True)
class RecipeLine:
    """One thing to weigh in."""

    id: str = item(Text(), "The lot or the metal.")
    kind: str = item(Text(), "scrap, fresh or shelf.")
    mass: Decimal = item(SHOWN, "Weigh in so much.")
    share: Decimal = item(Measured(Dimension.RATIO, decimals=5), "Its share of the charge.")
    left: Decimal | None = item(Measured(Dimension.MASS), "What stays of it; null where any amount can be had.")
    cost: Amount | None = item(Money(), "At the price given.")


@dataclass(frozen=True, slots=True)
class WindowResult:
    """Between which shares an element had to lie, as understood."""

    element: str = item(Text(), "The element.")
    least: Decimal = item(Number(), "Least share, permille.")
    most: Decimal = item(Number(), "Most share, permille.")


@dataclass(frozen=True, slots=True)
class BindingLimit:
    """A limit that holds the cost up, or would if it were any tighter, and what was saved with it tried looser."""

    rule: str = item(RULES, "What it is about.")
    of: str = item(Text(), "The element or the lot it is about.")
    pointer: str = item(Text(), "Where the input says so.")
    saves: Decimal = item(Number(), "What the recipe costs less when this limit alone is moved to `to`.")
    unit: str = item(Text(), "The units of that: money or grams of fine metal, for a permille, a percent or a gram.")
    words: str = item(Text(), "The same in words.")
    by: Decimal = item(Number(), "By how much the limit was moved.")
    to: Decimal = item(Number(), "What it then was.")
    to_unit: str = item(Text(), "The unit of both: permille, fraction (of the charge) or g.")


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A lot that goes in whole or not at all, and does not."""

    id: str = item(Text(), "The lot.")
    mass: Decimal = item(Measured(Dimension.MASS), "What it weighs.")
    more: Decimal | None = item(
        Number(), "What the charge would cost more with all of it; null where it cannot be, or was not tried."
    )
    unit: str = item(Text(), "The unit of that: money, or grams of fine metal.")
    words: str = item(Text(), "The same in words, or why it cannot go in.")


@dataclass(frozen=True, slots=True)
class Change:
    """One change that, with the others, makes an impossible charge possible."""

    rule: str = item(RULES, "What it is about.")
    of: str = item(Text(), "The element or the lot it is about.")
    side: str = item(Choice(("least", "most")), "Which end of the limit moves.")
    pointer: str = item(Text(), "Where the input says so.")
    by: Decimal = item(Number(), "By how much.")
    to: Decimal = item(Number(), "What it becomes.")
    unit: str = item(Text(), "permille, fraction (of the charge) or g.")
    words: str = item(Text(), "The same in words.")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargeResult:
    """The recipe and what holds it, or why there is none."""

    possible: bool = item(Flag(), "Whether a recipe keeps every limit.")
    summary: str = item(Text(), "The answer in a sentence.")
    least: str = item(Text(), "What was made as small as can be.")
    recipe: tuple[RecipeLine, ...] = item(
        ListOf(Record(RecipeLine)), "What to weigh in; empty if impossible.", default=()
    )
    mass: Decimal | None = item(SHOWN, "The whole charge: the sum of the recipe, before melting.", default=None)
    cost: Amount | None = item(Money(), "What it costs at the prices given.", default=None)
    least_cost: Amount | None = item(
        Money(), "What it would cost if any fraction could be weighed: no recipe costs less.", default=None
    )
    within: Amount | None = item(
        Money(), "No recipe in steps of the balance costs less by more than this; 0 for the cheapest.", default=None
    )
    fine_bought: Decimal | None = item(
        Measured(Dimension.MASS),
        "Precious metal taken from the shelf; only where no prices were given.",
        default=None,
    )
    fine_within: Decimal | None = item(
        Measured(Dimension.MASS), "No recipe in steps of the balance takes less by more than this.", default=None
    )
    base: str | None = item(Text(), "The metal whose fineness is counted.")
    fineness: tuple[Decimal, str] | None = item(
        Exact(Dimension.PURITY), "Fineness of the recipe as weighed.", default=None
    )
    nearest_marks: tuple[NearMark, ...] = item(
        ListOf(Record(NearMark)), "The marks just below and just above.", default=()
    )
    composition: Mapping[str, Decimal] | None = item(
        MapOf(Number()), "Composition of the recipe as weighed, permille.", default=None
    )
    elements: Mapping[str, Decimal] | None = item(
        MapOf(BookEntry()), "Mass of each element in g; they sum to the mass.", default=None
    )
    density: Property | None = item(Measured(Dimension.DENSITY, decimals=2), "Estimated density.", default=None)
    solidus: Property | None = item(DEGREES, "Estimated solidus.", default=None)
    liquidus: Property | None = item(DEGREES, "Estimated liquidus.", default=None)
    windows: tuple[WindowResult, ...] = item(ListOf(Record(WindowResult)), "The windows, as understood.")
    limits: tuple[BindingLimit, ...] = item(
        ListOf(Record(BindingLimit)), "The limits that bind, the dearest first, as far as each was tried.", default=()
    )
    left_out: tuple[LeftOut, ...] = item(
        ListOf(Record(LeftOut)), "Lots to go in whole or not at all that do not, and why.", default=()
    )
    changes: tuple[Change, ...] = item(
        ListOf(Record(Change)), "If impossible: what to change, all of it together, to make it possible.", default=()
    )
    notes: tuple[str, ...] = item(TextList(), "What was left out, and what is not available, and why.")
