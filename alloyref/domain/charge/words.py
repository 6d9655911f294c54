"""Limits, savings and changes as sentences, with the numbers that go with them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.charge.model import Limit, Problem, Recipe, Rule, exact_sum
from alloyref.domain.charge.results import Change
from alloyref.domain.numbers import Rounding, fraction_to_decimal, plain
from alloyref.domain.typed import as_given

PERMILLE, SHARE, GRAM = "permille", "fraction", "g"
_SCALE = {PERMILLE: 1000, SHARE: 1, GRAM: 1}
_DECIMALS = {PERMILLE: 3, SHARE: 6, GRAM: 4}
_COMPOSITION = (Rule.ELEMENT, Rule.MARK, Rule.FINENESS, Rule.FREE_OF)


def unit_of(limit: Limit) -> str:
    """The unit in which a limit's bound is told."""
    if limit.rule in _COMPOSITION:
        return PERMILLE
    return SHARE if limit.relative else GRAM


def bound_in(limit: Limit) -> Fraction:
    """A limit's bound in the unit it is told in."""
    return limit.bound * _SCALE[unit_of(limit)]


def told_bound(bound: Fraction, unit: str, rounding: Rounding) -> Decimal:
    """A bound in its own unit with as many decimals as are told of it."""
    return fraction_to_decimal(bound, _DECIMALS[unit], rounding)


def saving(limit: Limit, to: Decimal, room: Decimal, amount: str) -> str:
    """What a little more room in a limit saves; `to` is in the limit's own unit, the room of a share in percent."""
    of, rule, unit = limit.of, limit.rule, unit_of(limit)
    bound, moved = shown(limit.bound, unit), shown(Fraction(to) / _SCALE[unit], unit)
    each = {PERMILLE: "permille", SHARE: "percent", GRAM: "gram"}[unit]
    step = f"One {each}" if room == 1 else f"{plain(room)} {each}"
    more = {
        Rule.AVAILABLE: f"{step} more of {of} would save {amount}.",
        Rule.SCRAP: f"{step} more scrap than the {bound} allowed would save {amount}.",
        Rule.MARK: f"A least fineness of {moved} instead of the {bound} of the mark would save {amount}.",
        Rule.FINENESS: f"A least fineness of {moved} instead of {bound} would save {amount}.",
        Rule.FREE_OF: f"{moved} of {of} instead of none would save {amount}.",
        Rule.MASS: f"{step} {'less than' if limit.sign > 0 else 'more than'} {bound} in all would save {amount}.",
    }
    if rule in more:
        return more[rule]
    side, way = ("least", "less") if limit.sign > 0 else ("most", "more")
    return f"{step} {way} of {of} than the {side} of {bound} would save {amount}."


def left_out(lot: str, more: Decimal | None, what: str, why: str) -> str:
    """Why a lot that goes in whole or not at all was left out."""
    if more is None:
        return f"{lot} was left out: {why or 'without it the charge is the cheapest that was found'}."
    if not more:
        return f"{lot} was left out: with all of it the charge would cost as much."
    return f"{lot} was left out: with all of it the charge would take {plain(more)} {what} more."


def shown(bound: Fraction, unit: str) -> str:
    """A bound as a person reads it; a share in percent."""
    if unit == SHARE:
        return f"{plain(fraction_to_decimal(bound * 100, 4))} %"
    return f"{plain(fraction_to_decimal(bound * _SCALE[unit], _DECIMALS[unit]))} {unit}"


def changes_for(asked: Problem, stepped: Problem, masses: Sequence[Decimal]) -> tuple[Change, ...]:
    """What must give for a recipe to be lawful: each limit that it breaks, moved just so far, rounded outward.

    Limits are broken as steps of the balance allow them, and told as they were asked.
    """
    recipe = Recipe.of(masses)
    pairs = zip((*asked.limits, *asked.implied), (*stepped.limits, *stepped.implied), strict=True)
    return tuple(_change(limit, to) for limit, allowed in pairs if (to := _reached(allowed, recipe)) is not None)


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
