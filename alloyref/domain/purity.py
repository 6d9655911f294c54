"""Karat, permille, percent and fraction: the same purity in other words, and the marks near it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.calculation import (
    Assumption,
    Calculation,
    Choice,
    Exact,
    ListOf,
    Number,
    Outcome,
    Record,
    Text,
    UnitName,
    Whole,
    item,
)
from alloyref.domain.errors import InvalidInput
from alloyref.domain.numbers import Rounding, fraction_to_decimal, plain
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

METALS = {"gold": "Au", "silver": "Ag", "platinum": "Pt", "palladium": "Pd"}


@dataclass(frozen=True, slots=True)
class PurityInputs:
    """A purity and the scale it is wanted in."""

    value: Decimal = item(Number(least=Decimal(0), most=Decimal(1000)), "The number to convert.", example="14")
    from_: str = item(UnitName(Dimension.PURITY), "The scale it is in.", name="from", example="karat")
    to: str = item(UnitName(Dimension.PURITY), "The scale it is wanted in.", example="permille")
    metal: str = item(Choice(tuple(METALS)), "Whose marks to look among.", default="gold")
    decimals: int | None = item(
        Whole(0, 12),
        "Round to this many decimals. Without it, an ending decimal is given exactly and any other to 15 digits.",
        default=None,
    )
    rounding: str = item(
        Choice(tuple(Rounding)), "How to round: half to even, down, or up.", default=Rounding.HALF_EVEN.value
    )


@dataclass(frozen=True, slots=True)
class NearMark:
    """A fineness that some law knows, near the purity asked about."""

    fineness: Decimal = item(Number(), "The mark, in permille.")
    difference: Decimal = item(Number(), "The purity less the mark, in permille; negative: the metal falls short.")
    jurisdictions: str = item(Text(), "Where the mark is known here.")


@dataclass(frozen=True, slots=True)
class PurityResult:
    """The converted purity and its neighbours in law."""

    purity: tuple[Decimal, str] = item(Exact(Dimension.PURITY), "The purity on the scale asked for.")
    nearest_marks: tuple[NearMark, ...] = item(
        ListOf(Record(NearMark)), "The marks just below and just above, by law, not by arithmetic."
    )


def convert_purity(inputs: PurityInputs, reference: Reference) -> Outcome:
    """Convert a purity between karat, permille, percent and fraction, by arithmetic.

    14 karat is 14/24, 583.333... permille, though the stamp for it is 585: the nearest marks are
    listed beside the arithmetic and never stand for it. Raises `InvalidInput` above fine (24 karat).
    References: karat as 24ths by mass (common practice); marks from the fineness table.
    """
    exact = reference.units.convert(inputs.value, inputs.from_, "fraction", Dimension.PURITY)
    if exact > 1:
        detail = f"{plain(inputs.value)} {inputs.from_} is more than fine metal."
        raise InvalidInput.of("out-of-range", detail, "/value")
    wanted = reference.units.convert(exact, "fraction", inputs.to, Dimension.PURITY)
    value = fraction_to_decimal(wanted, inputs.decimals, Rounding(inputs.rounding))
    basis = Property(Decimal(24), "karat", Decimal(24), Decimal(24), Status.COMMON_PRACTICE, "common-practice")
    text = "Karat is arithmetic here, 24ths by mass; the stamp is law and is listed apart."
    marks = near_marks(exact * 1000, inputs.metal, reference)
    return Outcome(PurityResult((value, inputs.to), marks), (Assumption("karat-by-arithmetic", text, basis),))


def near_marks(permille: Fraction, metal: str, reference: Reference) -> tuple[NearMark, ...]:
    """The mark at or just below a fineness in permille and the one just above, with where they are known."""
    known: dict[Decimal, list[str]] = {}
    for mark in reference.marks:
        if mark.metal == metal and mark.fineness is not None:
            places = known.setdefault(mark.fineness, [])
            if mark.jurisdiction not in places:
                places.append(mark.jurisdiction)
    below = [fineness for fineness in known if fineness <= permille]
    above = [fineness for fineness in known if fineness > permille]
    chosen = ([max(below)] if below else []) + ([min(above)] if above else [])
    return tuple(
        NearMark(mark, fraction_to_decimal(permille - Fraction(mark), 3), ", ".join(sorted(known[mark])))
        for mark in chosen
    )


PURITY = Calculation(
    name="purity",
    title="Convert a purity",
    doc="Karat, permille, percent and fraction by arithmetic, with the legal marks nearest to it.",
    inputs=PurityInputs,
    result=PurityResult,
    run=convert_purity,
    query=True,
    text="purity",
    example={"value": "14", "from": "karat", "to": "permille"},
)
