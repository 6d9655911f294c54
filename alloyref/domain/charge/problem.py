"""From what was asked to items and limits; what contradicts itself is refused here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.charge.inputs import (
    LEAST_MASS,
    MUST,
    SCRAP,
    WHOLE,
    ChargeInputs,
    ChargeLot,
    ChargeTarget,
    ShelfMetal,
)
from alloyref.domain.charge.model import Item, Limit, Problem, Rule, element_parts, tightest, without
from alloyref.domain.charge.plan import Asked
from alloyref.domain.charge.solve import SearchTime
from alloyref.domain.charge.windows import Span, check_fineness, windows_of
from alloyref.domain.composition import PRECIOUS
from alloyref.domain.errors import InvalidInput, Issue
from alloyref.domain.fineness import NAMES, PlannedMark, planned_mark, refuse_karat_of
from alloyref.domain.numbers import EXACT, plain
from alloyref.domain.order.money import MOST_PER_GRAM
from alloyref.domain.purity import METALS
from alloyref.domain.reference import Reference
from alloyref.domain.typed import as_given
from alloyref.domain.units import Dimension

NOT_MELTED = {
    "Cd": "it holds cadmium, whose fume can kill, and was left out; hand it to a licensed refiner.",
    "Be": "it holds beryllium, which harms the lungs for life, and was left out.",
}
BOUGHT_WEIGHT = Fraction(1, 10**6)
"""Among recipes that buy the same fine metal, the one that buys less in all."""


@dataclass(frozen=True, slots=True)
class Understood:
    """The problem as it will be solved, and how the input was read."""

    problem: Problem
    windows: Mapping[str, Span]
    base: str | None
    planned: PlannedMark | None
    priced: bool
    left_out: tuple[str, ...]

    def asked(self, inputs: ChargeInputs, time: SearchTime) -> Asked:
        """The problem with the step and the currency that its solution is told in, and the time for it."""
        return Asked(self.problem, inputs.step, inputs.currency if self.priced else None, time)


def understood(inputs: ChargeInputs, reference: Reference, tolerance: Decimal) -> Understood:
    """The items, limits and costs of a charge, in g and fractions; `InvalidInput` for what contradicts itself.

    An alloy's windows are wide by the tolerance in permille, whatever the target's own is.
    """
    target = inputs.target
    priced = _check_prices(inputs)
    every = _items(inputs, reference)
    items, left_out = without(every, NOT_MELTED)
    refused = [one for one in every if one.must and one not in items]
    if refused:
        detail = f"{refused[0].id} must go in, but holds metal that is not to be melted in a workshop."
        raise InvalidInput.of("not-melted", detail, f"{refused[0].pointer}/use")
    base = target.base or _base_of(target)
    planned = None
    if target.mark is not None and base is not None:
        pointers = ("/target/mark", "/target/jurisdiction")
        planned = planned_mark(base, target.mark, target.jurisdiction, reference, pointers)
    windows = windows_of(target, items, tolerance)
    if base in windows:
        check_fineness(target, planned, windows[base], base)
    limits = [
        *_mass_limits(target),
        *_window_limits(windows, items),
        *_fineness_limits(target, planned, base, items),
        *_item_limits(inputs, items),
    ]
    kept, implied = tightest(limits)
    problem = Problem(items, kept, target.mass, _costs(items, priced), implied)
    return Understood(problem, windows, base, planned, priced, left_out)


def _base_of(target: ChargeTarget) -> str | None:
    if target.alloy is not None and target.alloy.base in NAMES:
        return target.alloy.base
    if target.mark is not None:
        return METALS.get(target.mark.metal, "Au")
    return "Au" if target.fineness is not None else None


def _check_prices(inputs: ChargeInputs) -> bool:
    """Whether there are prices: for everything or for nothing, since a missing one would be taken for a gift."""
    entries: list[tuple[str, ChargeLot | ShelfMetal]] = [(f"/lots/{i}", one) for i, one in enumerate(inputs.lots)]
    entries += [(f"/shelf/{i}", one) for i, one in enumerate(inputs.shelf)]
    if not entries:
        raise InvalidInput.of("missing", "Give lots, or metal on the shelf, to make the charge of.", "/lots")
    missing = [place for place, one in entries if one.price is None]
    if len(missing) == len(entries):
        return False
    detail = "Other entries have a price and this has none; give 0 for metal that costs nothing."
    issues = [Issue("missing", detail, f"{place}/price") for place in missing]
    if inputs.currency is None:
        issues.append(Issue("missing", "Say which currency the prices are in.", "/currency"))
    if issues:
        raise InvalidInput(*issues)
    return True


def _items(inputs: ChargeInputs, reference: Reference) -> tuple[Item, ...]:
    items = [
        Item(
            one.id,
            one.metal,
            one.mass,
            _price_of(one, f"/lots/{place}", reference),
            one.kind == SCRAP,
            one.use in (WHOLE, MUST),
            False,
            f"/lots/{place}",
            one.use == MUST,
        )
        for place, one in enumerate(inputs.lots)
    ]
    for place, had in enumerate(inputs.shelf):
        name, pointer = had.id or had.metal.id or had.metal.name, f"/shelf/{place}"
        items.append(Item(name, had.metal, had.mass, _price_of(had, pointer, reference), False, False, True, pointer))
    seen: set[str] = set()
    issues = []
    for one in items:
        if one.id in seen:
            issues.append(
                Issue("duplicate", f"{one.id!r} stands here twice; give each its own id.", f"{one.pointer}/id")
            )
        seen.add(one.id)
    if issues:
        raise InvalidInput(*issues)
    return tuple(items)


def _price_of(one: ChargeLot | ShelfMetal, pointer: str, reference: Reference) -> Decimal | None:
    """Price of a gram."""
    if one.price is None:
        return None
    gram = EXACT.divide(one.price, reference.units.to_base(Decimal(1), one.per, Dimension.MASS))
    if gram > MOST_PER_GRAM:
        raise InvalidInput.of("out-of-range", "No metal costs so much; check the unit.", f"{pointer}/price")
    return gram


def _costs(items: Sequence[Item], priced: bool) -> tuple[Fraction, ...]:
    """What is made least, for a gram of each item: its price, or the precious metal in what is bought."""
    if priced:
        return tuple(Fraction(one.price or 0) for one in items)
    return tuple(
        sum((Fraction(one.metal.composition.fineness(symbol)) for symbol in PRECIOUS), Fraction(0)) / 1000
        + BOUGHT_WEIGHT
        if one.shelf
        else Fraction(0)
        for one in items
    )


def _mass_limits(target: ChargeTarget) -> list[Limit]:
    most = target.mass if target.most_mass is None else target.most_mass
    if most < target.mass:
        detail = f"It may weigh up to {as_given(most)}, but shall weigh at least {as_given(target.mass)}."
        raise InvalidInput.of("contradiction", detail, "/target/most_mass")
    pointer = LEAST_MASS if target.most_mass is None else "/target/most_mass"
    return [
        Limit(Rule.MASS, "", 1, Fraction(target.mass), False, None, LEAST_MASS),
        Limit(Rule.MASS, "", -1, Fraction(most), False, None, pointer),
    ]


def _window_limits(windows: Mapping[str, Span], items: Sequence[Item]) -> list[Limit]:
    limits = []
    for symbol, span in windows.items():
        parts = element_parts(items, symbol)
        least, most = Fraction(span.least) / 1000, Fraction(span.most) / 1000
        if least > 0:
            limits.append(Limit(Rule.ELEMENT, symbol, 1, least, True, parts, span.pointer))
        if most < 1 and parts:
            rule = Rule.FREE_OF if span.free else Rule.ELEMENT
            limits.append(Limit(rule, symbol, -1, most, True, parts, span.pointer, firm=span.free))
    return limits


def _fineness_limits(
    target: ChargeTarget, planned: PlannedMark | None, base: str | None, items: Sequence[Item]
) -> list[Limit]:
    if base is None:
        return []
    refuse_karat_of(base, target.fineness, "/target/fineness")
    parts, limits = element_parts(items, base), []
    if target.fineness is not None:
        share = target.fineness.share
        limits.append(Limit(Rule.FINENESS, base, 1, share, True, parts, "/target/fineness"))
    if planned is not None:
        limits.append(Limit(Rule.MARK, base, 1, planned.share, True, parts, "/target/mark", firm=True))
    return limits


def _item_limits(inputs: ChargeInputs, items: Sequence[Item]) -> list[Limit]:
    """How much there is of each item, and its share of the charge; what can never bind is left away."""
    most = Fraction(inputs.target.most_mass or inputs.target.mass) + Fraction(inputs.step)
    limits = []
    scrap = {place: Fraction(1) for place, one in enumerate(items) if one.scrap}
    if inputs.max_scrap_share is not None and scrap:
        share = Fraction(min(inputs.max_scrap_share, Decimal(1)))
        limits.append(Limit(Rule.SCRAP, "", -1, share, True, scrap, "/max_scrap_share"))
    lots = {f"/lots/{place}": lot for place, lot in enumerate(inputs.lots)}
    for place, one in enumerate(items):
        alone = {place: Fraction(1)}
        if one.available is not None and not one.whole and one.available < most:
            limits.append(
                Limit(Rule.AVAILABLE, one.id, -1, Fraction(one.available), False, alone, f"{one.pointer}/mass")
            )
        if one.pointer in lots:
            limits += _share_limits(lots[one.pointer], one, alone)
    return limits


def _share_limits(lot: ChargeLot, one: Item, alone: Mapping[int, Fraction]) -> list[Limit]:
    least, most = lot.least_share, lot.most_share
    if least is not None and most is not None and least > most:
        detail = f"Its least share, {plain(least)}, is above its most, {plain(most)}."
        raise InvalidInput.of("contradiction", detail, f"{one.pointer}/least_share")
    limits = []
    if least:
        limits.append(Limit(Rule.SHARE, one.id, 1, Fraction(least), True, alone, f"{one.pointer}/least_share"))
    if most is not None and most < 1:
        limits.append(Limit(Rule.SHARE, one.id, -1, Fraction(most), True, alone, f"{one.pointer}/most_share"))
    return limits
