"""Limits, savings and changes as sentences, with the numbers that go with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.charge.model import Limit, Problem, Recipe, Rule, exact_sum
from alloyref.domain.charge.results import BindingLimit, Change
from alloyref.domain.charge.solve import Best
from alloyref.domain.numbers import Rounding, fraction_to_decimal, plain, round_to
from alloyref.domain.typed import as_given

PERMILLE, SHARE, GRAM = "permille", "fraction", "g"
_SCALE = {PERMILLE: 1000, SHARE: 1, GRAM: 1}
_DECIMALS = {PERMILLE: 3, SHARE: 6, GRAM: 4}
SAVING_DECIMALS = 4
LEAST_SAVING = 0.00005
_COMPOSITION = (Rule.ELEMENT, Rule.MARK, Rule.FINENESS, Rule.FREE_OF)


def unit_of(limit: Limit) -> str:
    """The unit in which a limit's bound is told."""
    if limit.rule in _COMPOSITION:
        return PERMILLE
    return SHARE if limit.relative else GRAM


def binding(problem: Problem, best: Best, currency: str | None) -> tuple[BindingLimit, ...]:
    """The limits that bind, those that cost most first; `currency` is None where fine metal is what is saved."""
    found = []
    for limit, binds, saving in zip(problem.limits, best.binds, best.savings, strict=True):
        # The mass wanted binds at one end, and what is absent at none: told only if that costs something.
        free = saving < LEAST_SAVING
        if not binds or (free and (limit.rule is Rule.MASS or not limit.bound)):
            continue
        unit = unit_of(limit)
        # A share's room is told by the percent, which is what a bench would change it by.
        per, each = (Decimal(100), "percent") if unit == SHARE else (Decimal(_SCALE[unit]), unit)
        saves = round_to(Decimal(repr(saving)) / per, SAVING_DECIMALS)
        what = currency or "g of fine metal bought"
        words = _saving(limit, f"{plain(saves)} {what}" if saves else "nothing", each)
        found.append(BindingLimit(limit.rule.value, limit.of, limit.pointer, saves, f"{what} per {each}", words))
    return tuple(sorted(found, key=lambda one: -one.saves))


def _saving(limit: Limit, amount: str, each: str) -> str:
    of, rule = limit.of, limit.rule
    bound = shown(limit.bound, unit_of(limit))
    more = {
        Rule.AVAILABLE: f"One gram more of {of} would save {amount}.",
        Rule.SCRAP: f"One percent more scrap than the {bound} allowed would save {amount}.",
        Rule.MARK: f"Each permille of least fineness costs {amount}: the mark asks for {bound}.",
        Rule.FINENESS: f"Each permille of least fineness costs {amount}: {bound} is asked for.",
        Rule.FREE_OF: f"Each permille of {of} kept out costs {amount}.",
        Rule.MASS: f"Each gram of the {bound} costs {amount} at the margin."
        if limit.sign > 0
        else f"One gram more than {bound} in all would save {amount}.",
    }
    if rule in more:
        return more[rule]
    side, way = ("least", "less") if limit.sign > 0 else ("most", "more")
    return f"One {each} {way} of {of} than the {side} of {bound} would save {amount}."


def shown(bound: Fraction, unit: str) -> str:
    """A bound as a person reads it; a share in percent."""
    if unit == SHARE:
        return f"{plain(fraction_to_decimal(bound * 100, 4))} %"
    return f"{plain(fraction_to_decimal(bound * _SCALE[unit], _DECIMALS[unit]))} {unit}"


def changes_for(problem: Problem, masses: Sequence[Decimal]) -> tuple[Change, ...]:
    """What must give for a recipe to be lawful: each limit that it breaks, moved just so far, rounded outward."""
    recipe = Recipe.of(masses)
    return tuple(
        _change(limit, to)
        for limit in (*problem.limits, *problem.implied)
        if (to := _reached(limit, recipe)) is not None
    )


def moved(problem: Problem, masses: Sequence[Decimal]) -> Problem:
    """The problem with those changes made; masses in g."""
    recipe = Recipe.of(masses)

    def looser(limit: Limit) -> Limit:
        to = _reached(limit, recipe)
        return limit if to is None else replace(limit, bound=Fraction(to) / _SCALE[unit_of(limit)])

    mass = min(problem.mass, exact_sum(masses))
    limits, implied = (tuple(map(looser, some)) for some in (problem.limits, problem.implied))
    return replace(problem, limits=limits, implied=implied, mass=mass)


def _reached(limit: Limit, recipe: Recipe) -> Decimal | None:
    """How far a limit must move for a recipe that breaks it, rounded outward, in its own unit; None if it is kept."""
    surplus = limit.surplus(recipe)
    if surplus >= 0:
        return None
    reached = limit.bound + limit.sign * surplus / (recipe.total if limit.relative else 1)
    unit, outward = unit_of(limit), Rounding.DOWN if limit.sign > 0 else Rounding.UP
    return fraction_to_decimal(reached * _SCALE[unit], _DECIMALS[unit], outward)


def _change(limit: Limit, to: Decimal) -> Change:
    unit = unit_of(limit)
    by = fraction_to_decimal(abs(limit.bound * _SCALE[unit] - Fraction(to)), _DECIMALS[unit], Rounding.UP)
    side = "least" if limit.sign > 0 else "most"
    words = _giving(limit, shown(Fraction(to) / _SCALE[unit], unit), f"{plain(by)} {unit}")
    return Change(limit.rule.value, limit.of, side, limit.pointer, by, to, unit, words)


def _giving(limit: Limit, to: str, by: str) -> str:
    of, asked = limit.of, shown(limit.bound, unit_of(limit))
    up = limit.sign < 0
    sentences = {
        Rule.AVAILABLE: f"Have {by} more of {of}: {to} instead of {asked}.",
        Rule.ELEMENT: f"Allow {of} {'up' if up else 'down'} to {to} instead of {asked}.",
        Rule.FINENESS: f"Be content with a fineness of {to} instead of {asked}.",
        Rule.MARK: f"The mark of {asked} is out of reach: these metals come to {to} of {of} at best. Add metal "
        f"richer in {of}, or aim at a lower mark; a tolerance in law is not for planning.",
        Rule.FREE_OF: f"{of} cannot be kept out: at best {to} of it remains. Add metal without {of}.",
        Rule.SCRAP: f"Allow {to} of scrap instead of {asked}.",
        Rule.SHARE: f"Allow {of} {'up' if up else 'down'} to {to} of the charge instead of {asked}.",
        Rule.MASS: f"Let it weigh {'up to ' if up else ''}{to} instead of {asked}.",
    }
    return sentences[limit.rule]


def finer_step(step: Decimal, asked: Decimal) -> Change:
    """The change for a charge that only a finer balance can weigh."""
    words = (
        f"Weigh to {plain(step)} g: in steps of {as_given(asked)} no recipe keeps every limit, though one would if "
        "any fraction could be weighed."
    )
    return Change(Rule.STEP.value, "", "most", "/step", asked - step, step, GRAM, words)
