"""From a recipe, or from what stands in its way, to the answer."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.charge.inputs import FRESH, LEAST_STEP, SCRAP, ChargeInputs
from alloyref.domain.charge.model import Item, Problem, contents_of, exact_sum
from alloyref.domain.charge.problem import Understood
from alloyref.domain.charge.results import Amount, Change, ChargeResult, RecipeLine, WindowResult
from alloyref.domain.charge.rounding import nearest_weighed, weighed
from alloyref.domain.charge.solve import Best, Near, SearchTime, all_but_mass, least_change, least_cost
from alloyref.domain.charge.words import binding, changes_for, finer_step, moved
from alloyref.domain.composition import Composition
from alloyref.domain.errors import NotAvailable
from alloyref.domain.fineness import NAMES, PERMILLE
from alloyref.domain.numbers import EXACT, Rounding, fraction_to_decimal, plain, round_to
from alloyref.domain.provenance import Property
from alloyref.domain.purity import near_marks
from alloyref.domain.reference import Reference

FINER = (10, 100)
MOST_NAMED = 8
COST_RULE = "The cost, at the prices given."
FINE_METAL_RULE = (
    "No prices were given: the precious metal bought from the shelf, and among equals the metal bought in all."
)
CUT_SHORT = (
    "The search for the best whole lots was cut short: this is the best found, and a cheaper choice may exist."
)
IMPOSSIBLE = "No recipe keeps every limit."


def possible(
    inputs: ChargeInputs, read: Understood, best: Best, recipe: Sequence[Decimal], reference: Reference
) -> ChargeResult:
    """The answer with a recipe: masses in g, composition and fineness in permille as weighed, cost, what binds."""
    items, mass = read.problem.items, exact_sum(recipe)
    elements = contents_of(items, recipe)
    shares = {symbol: EXACT.divide(part * 1000, mass) for symbol, part in elements.items()}
    composition = Composition.from_permille(shares, shares)
    base = read.base or (composition.base if composition.base in NAMES else None)
    fine = Fraction(elements.get(base, Decimal(0))) / Fraction(mass) * 1000 if base else None
    lines = _lines(items, recipe, mass, inputs)
    cost = None
    if read.priced:
        spent = exact_sum(
            EXACT.multiply(part, one.price or Decimal(0)) for one, part in zip(items, recipe, strict=True)
        )
        cost = _money(spent, inputs)
    density, solidus, liquidus, blanks = _estimates(composition, reference)
    return ChargeResult(
        possible=True,
        summary=_summary(mass, cost, lines),
        least=_rule(read),
        recipe=lines,
        mass=mass,
        cost=cost,
        least_cost=_money(Decimal(repr(best.cost)), inputs, Rounding.DOWN) if read.priced and best.proven else None,
        base=base,
        fineness=None if fine is None else (fraction_to_decimal(fine, None), PERMILLE),
        nearest_marks=near_marks(fine, NAMES[base], reference) if base and fine is not None else (),
        composition=dict(composition.parts),
        elements=elements,
        density=density,
        solidus=solidus,
        liquidus=liquidus,
        windows=_windows(read),
        limits=binding(read.problem, best, inputs.currency if read.priced else None),
        notes=(*read.left_out, *(() if best.proven else (CUT_SHORT,)), *blanks),
    )


def impossible(inputs: ChargeInputs, read: Understood, best: Best | None, time: SearchTime) -> ChargeResult:
    """The answer without a recipe: the least change that would allow one, as a recipe in g then shows exactly."""
    changes = _changes(inputs, read, best, time)
    words = " ".join(one.words for one in changes) or "No change of its limits was found that would allow one."
    return ChargeResult(
        possible=False,
        summary=f"{IMPOSSIBLE} {words}",
        least=_rule(read),
        base=read.base,
        windows=_windows(read),
        changes=changes,
        notes=read.left_out,
    )


def _changes(inputs: ChargeInputs, read: Understood, best: Best | None, time: SearchTime) -> tuple[Change, ...]:
    """A finer balance if that is all it takes; else limits moved as far as the nearest weighable recipe needs.

    What is told was solved again with the changes made, where that is possible.
    """
    if best is not None:
        for finer in FINER:
            step = inputs.step / finer
            if step >= LEAST_STEP and _is_weighed(read.problem, best, step, time, far=False):
                return (finer_step(step, inputs.step),)
    ways = least_change(read.problem, time) if best is None else (Near(best.masses, all_but_mass(read.problem)),)
    found = [pair for near in ways for pair in nearest_weighed(read.problem, near, inputs.step, time)]
    for problem, recipe in found:
        eased = moved(problem, recipe)
        if _has_recipe(eased, inputs.step, time):
            return changes_for(problem, recipe)
    return changes_for(*found[0]) if found else ()


def _has_recipe(problem: Problem, step: Decimal, time: SearchTime) -> bool:
    """Whether a recipe in whole steps is found in time."""
    try:
        found = least_cost(problem, time)
    except NotAvailable:
        return False
    return found is not None and _is_weighed(problem, found, step, time)


def _is_weighed(problem: Problem, best: Best, step: Decimal, time: SearchTime, far: bool = True) -> bool:
    """Whether an optimum is brought to whole steps in time."""
    try:
        return weighed(problem, best, step, time, far) is not None
    except NotAvailable:
        return False


def _rule(read: Understood) -> str:
    return COST_RULE if read.priced else FINE_METAL_RULE


def _windows(read: Understood) -> tuple[WindowResult, ...]:
    return tuple(WindowResult(symbol, span.least, span.most) for symbol, span in read.windows.items())


def _lines(
    items: Sequence[Item], recipe: Sequence[Decimal], total: Decimal, inputs: ChargeInputs
) -> tuple[RecipeLine, ...]:
    return tuple(
        RecipeLine(
            id=one.id,
            kind="shelf" if one.shelf else SCRAP if one.scrap else FRESH,
            mass=mass,
            share=EXACT.divide(mass, total),
            left=None if one.available is None else EXACT.subtract(one.available, mass),
            cost=None if one.price is None else _money(EXACT.multiply(one.price, mass), inputs),
        )
        for one, mass in zip(items, recipe, strict=True)
        if mass
    )


def _money(amount: Decimal, inputs: ChargeInputs, rounding: Rounding = Rounding.HALF_EVEN) -> Amount | None:
    return None if inputs.currency is None else (round_to(amount, 2, rounding), inputs.currency)


def _summary(mass: Decimal, cost: Amount | None, lines: Sequence[RecipeLine]) -> str:
    price = f", {cost[0]} {cost[1]}" if cost else ""
    of = [f"{plain(one.mass)} g {one.id}" for one in lines]
    more = f" and {len(of) - MOST_NAMED} more" if len(of) > MOST_NAMED else ""
    return f"{plain(mass)} g{price}: {', '.join(of[:MOST_NAMED])}{more}."


def _estimates(
    composition: Composition, reference: Reference
) -> tuple[Property | None, Property | None, Property | None, tuple[str, ...]]:
    """Density, solidus and liquidus of what comes of it, and in words what nothing honest can be said of."""
    density, solidus, liquidus, blanks = None, None, None, []
    try:
        density = reference.estimated_density(composition)
    except NotAvailable as error:
        blanks.append(f"density: {error}")
    try:
        solidus, liquidus = reference.estimated_melting(composition)
    except NotAvailable as error:
        blanks.append(f"solidus and liquidus: {error}")
    return density, solidus, liquidus, tuple(blanks)
