"""Raise or lower the fineness of a lot: how much to add, of what, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import ClassVar

from alloyref.domain.calculation import (
    MOST_GRAMS,
    Assumption,
    Calculation,
    CatalogueWord,
    Choice,
    Exact,
    FinenessOf,
    ListOf,
    MapOf,
    MarkName,
    Measured,
    MetalName,
    Number,
    Outcome,
    Quantity,
    Record,
    Text,
    UnitName,
    item,
)
from alloyref.domain.composition import SHARE_DECIMALS, THOUSAND
from alloyref.domain.errors import InvalidInput, Issue, NotAvailable
from alloyref.domain.fineness import (
    FINE_IS_PURE,
    KARAT,
    KARAT_BY_ARITHMETIC,
    NAMES,
    NOTHING_BURNS_OFF,
    PERMILLE,
    Fineness,
    permille_text,
    planned_mark,
    refuse_karat_of,
)
from alloyref.domain.mark_name import Mark
from alloyref.domain.metal import KARATS, Metal, refuse_deadly
from alloyref.domain.numbers import EXACT, fraction_to_decimal, round_to
from alloyref.domain.provenance import Property, Status
from alloyref.domain.purity import METALS, NearMark, near_marks
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

TEXT_DECIMALS = 4
LOT, TOTAL = "lot", "total"
LEAST_STEP = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class AlterFinenessInputs:
    """A lot, the fineness it is to have, and what is added to bring it there."""

    ONE_OF: ClassVar[tuple[str, ...]] = ("metal", "fineness")

    mass: Decimal = item(Quantity(Dimension.MASS), "Mass of the lot, or of both together.", example="20 g")
    mass_of: str = item(
        Choice((LOT, TOTAL)),
        "Whose mass that is: the lot's, or what lot and addition shall weigh together.",
        default=LOT,
    )
    metal: Metal | None = item(MetalName(), "What the lot is.", default=None)
    fineness: Fineness | None = item(
        FinenessOf(), "Or only its fineness; its composition is then not known.", default=None, example="10 karat"
    )
    target: Fineness | None = item(
        FinenessOf(),
        "The fineness wanted. Karat is arithmetic: 14 karat is 583.333 permille.",
        default=None,
        example="14 karat",
    )
    mark: Mark | None = item(MarkName(), "Or the mark to reach: 585, 14K, sterling.", default=None)
    jurisdiction: str | None = item(
        CatalogueWord("jurisdiction"), "Whose mark it is; needed for a karat or a word.", default=None
    )
    base: str | None = item(
        Choice(tuple(NAMES)), "Which metal's fineness counts; without it the lot's own, or gold.", default=None
    )
    with_metal: Metal | None = item(
        MetalName(), "What is added: a fine metal, a master alloy, another lot's metal.", default=None
    )
    with_fineness: Fineness | None = item(
        FinenessOf(),
        "Or only its fineness (0 permille: alloying metal). Without either, fine metal raises and alloying metal "
        "of no fineness lowers.",
        default=None,
    )
    step: Decimal | None = item(
        Quantity(Dimension.MASS, above=None, least=LEAST_STEP),
        "Weighing step: the addition is brought to it so that the fineness never falls short of the target, up "
        "when raising and down when lowering.",
        default=None,
    )
    to_unit: str = item(
        UnitName(Dimension.MASS),
        "Unit of `add_in_unit` and of the text form; in a query, the unit given.",
        default="g",
    )


@dataclass(frozen=True, slots=True)
class AlterFinenessResult:
    """What to add and what comes of it."""

    action: str = item(Choice(("raise", "lower", "none")), "Whether the fineness is raised or lowered.")
    lot: Decimal = item(Measured(Dimension.MASS, display=True), "Mass of the lot.")
    add: Decimal = item(Measured(Dimension.MASS, display=True), "Mass to add.")
    add_in_unit: tuple[Decimal, str] = item(Exact(Dimension.MASS), "The mass to add in the unit asked for.")
    total: Decimal = item(Measured(Dimension.MASS, display=True), "Both together, before melting.")
    base: str = item(Text(), "The metal whose fineness is counted.")
    fineness: tuple[Decimal, str] = item(Exact(Dimension.PURITY), "Fineness of the whole, after any rounding.")
    karat: tuple[Decimal, str] | None = item(Exact(Dimension.PURITY), "The same in karat, for gold.")
    composition: Mapping[str, Decimal] | None = item(
        MapOf(Number()), "What the whole is made of, permille; null where that of a part is not known."
    )
    nearest_marks: tuple[NearMark, ...] = item(
        ListOf(Record(NearMark)), "The marks just below and just above, by law, not by arithmetic."
    )


@dataclass(frozen=True, slots=True)
class Part:
    """The lot or the addition: its share of the counted metal and, where known, its composition."""

    share: Fraction
    metal: Metal | None


def alter_fineness(inputs: AlterFinenessInputs, reference: Reference) -> Outcome:
    """Mass to add to a lot so that its fineness becomes the target, and the whole that comes of it.

    m_add = m_lot (t - l)/(a - t), with l, t, a the fineness of lot, target and addition as fractions, masses
    in g. Exact until the edge; with a weighing step, rounded to the side that keeps the target. Raises
    `NotAvailable` with the reason where no amount reaches the target, `InvalidInput` for a contradiction.
    Reference: alligation as in Warren, Mechanical Dentistry and Metallurgy, pp. 204-207.
    """
    base = inputs.base or _base_of(inputs)
    _check(inputs, base)
    target, assumed = _target(inputs, base, reference)
    lot = _lot(inputs, base)
    addition, more = _addition(inputs, base, lot, target, reference)
    ratio = addition_for_each(lot.share, target, addition.share, _reached_by(inputs))
    lot_mass, add = _masses(inputs, ratio, raising=target > lot.share)
    total = EXACT.add(lot_mass, add)
    exact = (Fraction(lot_mass) * lot.share + Fraction(add) * addition.share) / Fraction(total)
    asked = reference.units.convert(add, "g", inputs.to_unit, Dimension.MASS)
    result = AlterFinenessResult(
        action="none" if add == 0 else "raise" if target > lot.share else "lower",
        lot=lot_mass,
        add=add,
        add_in_unit=(fraction_to_decimal(asked, TEXT_DECIMALS), inputs.to_unit),
        total=total,
        base=base,
        fineness=(fraction_to_decimal(exact * 1000, None), PERMILLE),
        karat=(fraction_to_decimal(exact * int(KARATS), None), KARAT) if base == "Au" else None,
        composition=_composition(base, (lot, lot_mass), (addition, add)),
        nearest_marks=near_marks(exact * 1000, NAMES.get(base, ""), reference),
    )
    # A part of a trade name is reckoned by its fineness alone, but may hold what its cautions are about.
    parts = (lot.metal or inputs.metal, addition.metal or inputs.with_metal)
    metals = [metal for metal in parts if metal is not None]
    cautions = reference.cautions_for(metals, "step:melting")
    unsaid = (GOLD_COUNTED,) if _gold_is_taken(inputs) else ()
    return Outcome(result, (*assumed, *unsaid, *more, NOTHING_BURNS_OFF), cautions)


def addition_for_each(lot: Fraction, target: Fraction, addition: Fraction, pointer: str = "") -> Fraction:
    """Mass to add for each unit of the lot's mass, from the fineness of each as fractions of one.

    Raises `NotAvailable`, saying why and at which field, where no amount reaches the target.

    >>> addition_for_each(Fraction(10, 24), Fraction(14, 24), Fraction(1))
    Fraction(2, 5)
    """
    if lot == target:
        return Fraction(0)
    if (target > lot) == (addition > target) and addition != target:
        return (target - lot) / (addition - target)
    has, wanted, added = (permille_text(share) for share in (lot, target, addition))
    verb, side = ("raise", "below") if target > lot else ("lower", "above")
    if addition == target:
        only = " Only refining makes metal fine." if target == 1 else ""
        why = f"it comes ever nearer to {wanted}, which is its own fineness, but no amount reaches it.{only}"
    elif (addition > lot) == (target > lot) and addition != lot:
        why = f"it lies {side} the {wanted} wanted, so the whole stays {side} it."
    elif addition == lot:
        why = "it is no different."
    else:
        opposite = "lowers" if target > lot else "raises"
        why = f"it {opposite} the lot."
    detail = f"{added} cannot {verb} a lot of {has} to {wanted}: {why}"
    raise NotAvailable(Issue("not-reachable", detail, pointer))


def _reached_by(inputs: AlterFinenessInputs) -> str:
    """The field to change where no amount reaches the target: what is added, if that was said."""
    given = ("with_fineness", "with_metal", "target", "mark")
    return next(f"/{name}" for name in given if getattr(inputs, name) is not None)


def _base_of(inputs: AlterFinenessInputs) -> str:
    """The metal that the lot is based on, else that of the mark, else gold."""
    if inputs.metal is not None:
        return inputs.metal.base
    return METALS.get(inputs.mark.metal, "Au") if inputs.mark is not None else "Au"


def _gold_is_taken(inputs: AlterFinenessInputs) -> bool:
    """Whether gold is counted although nothing said so: no metal, no base, no karat, and a mark without a metal."""
    finenesses = (inputs.fineness, inputs.target, inputs.with_fineness)
    karat = any(given is not None and given.scale == KARAT for given in finenesses)
    of_mark = inputs.mark is not None and (inputs.mark.metal or inputs.mark.is_karat)
    return inputs.base is None and inputs.metal is None and not karat and not of_mark


def _check(inputs: AlterFinenessInputs, base: str) -> None:
    """Refuse what contradicts itself before anything is reckoned."""
    for one, other in (("metal", "fineness"), ("target", "mark")):
        if (getattr(inputs, one) is None) == (getattr(inputs, other) is None):
            raise InvalidInput.of("one-of", f"Give either {one} or {other}.", f"/{one}")
    if inputs.with_metal is not None and inputs.with_fineness is not None:
        raise InvalidInput.of("one-of", "Give with_metal or with_fineness, not both.", "/with_fineness")
    if inputs.jurisdiction is not None and inputs.mark is None:
        raise InvalidInput.of("missing", "A jurisdiction belongs to a mark; give the mark too.", "/mark")
    if inputs.mass_of == TOTAL and inputs.step is not None and inputs.step > inputs.mass:
        raise InvalidInput.of("out-of-range", "The step is more than both together shall weigh.", "/step")
    for name in ("metal", "with_metal"):
        refuse_deadly(getattr(inputs, name), f"/{name}")
    if base not in NAMES:
        detail = f"The lot is based on {base}; say whose fineness counts."
        raise InvalidInput.of("missing", detail, "/base", tuple(NAMES))
    for name in ("fineness", "target", "with_fineness"):
        refuse_karat_of(base, getattr(inputs, name), f"/{name}")


def _target(inputs: AlterFinenessInputs, base: str, reference: Reference) -> tuple[Fraction, tuple[Assumption, ...]]:
    """The share wanted, and whether that is arithmetic or law."""
    assumed: tuple[Assumption, ...] = ()
    if any(one is not None and one.scale == KARAT for one in (inputs.fineness, inputs.target, inputs.with_fineness)):
        assumed = (KARAT_BY_ARITHMETIC,)
    if inputs.target is not None:
        return inputs.target.share, assumed
    if inputs.mark is None:
        raise InvalidInput.of("one-of", "Give either target or mark.", "/target")
    planned = planned_mark(base, inputs.mark, inputs.jurisdiction, reference, ("/mark", "/jurisdiction"))
    return planned.share, (*assumed, planned.assumption)


def _lot(inputs: AlterFinenessInputs, base: str) -> Part:
    if inputs.fineness is not None:
        return Part(inputs.fineness.share, None)
    return _part_of(inputs.metal, base)


def _part_of(metal: Metal | None, base: str) -> Part:
    share = Fraction(metal.composition.fineness(base)) / 1000 if metal else Fraction(0)
    return Part(share, None if metal is not None and metal.is_trade_name else metal)


def _addition(
    inputs: AlterFinenessInputs, base: str, lot: Part, target: Fraction, reference: Reference
) -> tuple[Part, tuple[Assumption, ...]]:
    """What is added, as given or as is usual, and what is assumed of it."""
    if inputs.with_fineness is not None:
        return Part(inputs.with_fineness.share, None), ()
    if inputs.with_metal is not None:
        pure = len(inputs.with_metal.composition.parts) == 1 and inputs.with_metal.base == base
        return _part_of(inputs.with_metal, base), (FINE_IS_PURE,) if pure else ()
    if target > lot.share:
        return _part_of(reference.metal(base), base), (FINE_IS_PURE,)
    return Part(Fraction(0), None), (NO_FINENESS,) if target < lot.share else ()


def _masses(inputs: AlterFinenessInputs, ratio: Fraction, raising: bool) -> tuple[Decimal, Decimal]:
    """Lot and addition in g; brought to the weighing step on the side that keeps the target."""
    if inputs.mass_of == LOT:
        lot = inputs.mass
    else:
        lot = _decimal(Fraction(inputs.mass) / (1 + ratio))
        if inputs.step is not None:
            lot = max(_to_step(Fraction(lot), inputs.step, Fraction(1, 2)), inputs.step)
    exact = Fraction(lot) * ratio
    if exact > MOST_GRAMS:
        raise InvalidInput.of("out-of-range", "More than a tonne would have to be added.", "/mass")
    if inputs.step is None:
        add = _decimal(exact) if inputs.mass_of == LOT else EXACT.subtract(inputs.mass, lot)
        return lot, add
    return lot, _to_step(exact, inputs.step, Fraction(1) if raising else Fraction(0))


def _to_step(mass: Fraction, step: Decimal, upward: Fraction) -> Decimal:
    """A mass in whole steps: `upward` 0 rounds down, 1 up, a half to the nearest."""
    steps = mass / Fraction(step)
    whole = steps.numerator // steps.denominator
    rest = steps - whole
    return step * (whole + (1 if rest and rest >= 1 - upward else 0))


def _decimal(value: Fraction) -> Decimal:
    return EXACT.divide(Decimal(value.numerator), Decimal(value.denominator))


def _composition(base: str, *parts: tuple[Part, Decimal]) -> Mapping[str, Decimal] | None:
    """The permille shares of the whole, where both parts' are known.

    What rounding leaves is laid to the largest share that is not the counted one, which stands beside it.
    """
    masses: dict[str, Decimal] = {}
    for part, mass in parts:
        if part.metal is None and mass:
            return None
        for symbol, fraction in part.metal.composition.fractions if part.metal is not None and mass else ():
            masses[symbol] = EXACT.fma(fraction, mass, masses.get(symbol, Decimal(0)))
    total = sum((mass for _, mass in parts), Decimal(0))
    shares = {symbol: round_to(EXACT.divide(mass * 1000, total), SHARE_DECIMALS) for symbol, mass in masses.items()}
    largest = max(shares, key=lambda symbol: (symbol != base, shares[symbol]))
    shares[largest] += THOUSAND - sum(shares.values())
    return {symbol: share for symbol, share in shares.items() if share}


GOLD_COUNTED = Assumption(
    "gold-counted",
    "Whose fineness this is was not said: that of gold is counted. For another metal give base.",
    Property(Decimal(1), "1", Decimal(1), Decimal(1), Status.COMMON_PRACTICE, "common-practice"),
)
NO_FINENESS = Assumption(
    "alloying-metal",
    "What is added to lower is taken as alloying metal that holds none of the counted metal.",
    Property(Decimal(0), PERMILLE, Decimal(0), Decimal(0), Status.CALCULATED, "definition"),
)

ALTER_FINENESS = Calculation(
    name="alter-fineness",
    title="Raise or lower the fineness of a lot",
    doc="How much fine metal, other lot or alloying metal brings a lot to a fineness, a karat or a mark.",
    inputs=AlterFinenessInputs,
    result=AlterFinenessResult,
    run=alter_fineness,
    query=True,
    text="add_in_unit",
    example={"mass": "20 g", "fineness": "10 karat", "target": "14 karat"},
)
