"""From a recipe, or from what stands in its way, to the answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.charge.inputs import FRESH, LEAST_STEP, SCRAP, ChargeInputs
from alloyref.domain.charge.model import Item, contents_of, exact_sum, fine_bought, in_steps, spent_on
from alloyref.domain.charge.plan import Asked, Solution, binding, whole_lots_left
from alloyref.domain.charge.problem import Understood
from alloyref.domain.charge.results import Change, ChargeResult, LeftOut, RecipeLine, WindowResult
from alloyref.domain.charge.rounding import OTHERS, nearest_weighed, weighed
from alloyref.domain.charge.solve import Best, Near, all_but_mass, least_change
from alloyref.domain.charge.windows import tolerances
from alloyref.domain.charge.words import changes_for, finer_step, moved
from alloyref.domain.composition import Composition
from alloyref.domain.errors import NotAvailable
from alloyref.domain.fineness import NAMES, PERMILLE
from alloyref.domain.given import there
from alloyref.domain.numbers import EXACT, Rounding, fraction_to_decimal, plain, round_to
from alloyref.domain.provenance import Property
from alloyref.domain.purity import near_marks
from alloyref.domain.reference import Reference
from alloyref.domain.span import Amount, AtLeast

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
    inputs: ChargeInputs, read: Understood, asked: Asked, solution: Solution, reference: Reference
) -> ChargeResult:
    """The answer with a recipe: masses in g, composition and fineness in permille as weighed, cost, what binds."""
    best, found, items = there(solution.best), there(solution.found), read.problem.items
    recipe, mass = found.masses, exact_sum(found.masses)
    elements = contents_of(items, recipe)
    shares = {symbol: EXACT.divide(part * 1000, mass) for symbol, part in elements.items()}
    composition = Composition.from_permille(shares, shares)
    base = read.base or (composition.base if composition.base in NAMES else None)
    fine = Fraction(elements.get(base, Decimal(0))) / Fraction(mass) * 1000 if base else None
    lines = _lines(items, recipe, mass, inputs)
    cost = _money(spent_on(items, recipe), inputs) if read.priced else None
    # Windows that are as narrow as steps allow are no one's to move.
    limits = () if len(tolerances(inputs, reference)) > 1 else binding(asked, best, found)
    left_out = tuple(whole_lots_left(asked, found))
    density, solidus, liquidus, blanks = _estimates(composition, reference)
    return ChargeResult(
        possible=True,
        summary=_summary(mass, cost, lines, left_out),
        least=_rule(read),
        recipe=lines,
        mass=mass,
        cost=cost,
        least_cost=_money(Decimal(repr(best.cost)), inputs, Rounding.DOWN) if read.priced and best.proven else None,
        within=_money(asked.within(found), inputs) if read.priced else None,
        fine_bought=None if read.priced else fine_bought(items, recipe),
        fine_within=None if read.priced else asked.within(found),
        base=base,
        fineness=None if fine is None else (fraction_to_decimal(fine, None), PERMILLE),
        nearest_marks=near_marks(fine, NAMES[base], reference) if base and fine is not None else (),
        composition=dict(composition.parts),
        elements=elements,
        density=density,
        solidus=solidus,
        liquidus=liquidus,
        windows=_windows(read),
        limits=limits,
        left_out=left_out,
        notes=(*read.left_out, *(() if best.proven else (CUT_SHORT,)), *blanks),
    )


def leaving_out(result: ChargeResult, missing: Mapping[str, Sequence[str]]) -> ChargeResult:
    """The same answer, its amounts at least what they are where something used holds metal that no quote is for."""
    if result.cost is None or not missing:
        return result
    lines = tuple(
        replace(one, cost=AtLeast(*one.cost)) if one.id in missing and one.cost is not None else one
        for one in result.recipe
    )
    symbols = ", ".join(dict.fromkeys(symbol for held in missing.values() for symbol in held))
    note = f"No quote for {symbols}: what it is worth in {', '.join(missing)} is not counted."
    return replace(result, cost=AtLeast(*result.cost), recipe=lines, notes=(*result.notes, note))


def impossible(read: Understood, asked: Asked, best: Best | None) -> ChargeResult:
    """The answer without a recipe: the least change that would allow one, as a recipe in g then shows exactly."""
    changes = _changes(asked, best)
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


def _changes(asked: Asked, best: Best | None) -> tuple[Change, ...]:
    """A finer balance if that is all it takes; else limits moved as far as the nearest weighable recipe needs.

    What is told was solved again with the changes made, where that is possible.
    """
    problem = asked.problem
    if best is not None:
        for finer in FINER:
            step = asked.step / finer
            if step >= LEAST_STEP and _is_weighed(asked, best, step):
                return (finer_step(step, asked.step),)
    ways = least_change(problem, asked.time) if best is None else (Near(best.masses, all_but_mass(problem)),)
    found = [pair for near in ways for pair in nearest_weighed(problem, near, asked.balance(asked.step))]
    for stepped, recipe in found:
        if _has_recipe(replace(asked, problem=moved(stepped, recipe))):
            return changes_for(problem, stepped, recipe)
    return changes_for(problem, *found[0]) if found else ()


def _has_recipe(asked: Asked) -> bool:
    """Whether a recipe in whole steps is found in time."""
    try:
        return asked.solved().found is not None
    except NotAvailable:
        return False


def _is_weighed(asked: Asked, best: Best, step: Decimal) -> bool:
    """Whether a recipe in other steps near an optimum is found in time."""
    try:
        return weighed(in_steps(asked.problem, step), best, asked.balance(step), OTHERS[:1]) is not None
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


def _summary(mass: Decimal, cost: Amount | None, lines: Sequence[RecipeLine], left_out: Sequence[LeftOut]) -> str:
    price = f", {cost[0]} {cost[1]}" if cost else ""
    of = [f"{plain(one.mass)} g {one.id}" for one in lines]
    without = f" Left out: {_named([one.id for one in left_out])}." if left_out else ""
    return f"{plain(mass)} g{price}: {_named(of)}.{without}"


def _named(all_of: Sequence[str]) -> str:
    """The first of some names, and how many more there are."""
    more = f" and {len(all_of) - MOST_NAMED} more" if len(all_of) > MOST_NAMED else ""
    return f"{', '.join(all_of[:MOST_NAMED])}{more}"


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
