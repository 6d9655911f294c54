"""A charge as items and limits in exact numbers, before any solver sees it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from functools import reduce
from math import ceil

from alloyref.domain.composition import PRECIOUS
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import EXACT


class Rule(StrEnum):
    """What a limit is about."""

    ELEMENT = "element"
    MARK = "mark"
    FINENESS = "fineness"
    FREE_OF = "free-of"
    SCRAP = "scrap-share"
    SHARE = "lot-share"
    AVAILABLE = "available"
    MASS = "mass"
    STEP = "step"


SHY = Fraction(1, 10_000)
LEAST_SHARES = (Rule.ELEMENT, Rule.FINENESS, Rule.MARK)


@dataclass(frozen=True, slots=True)
class Item:
    """Something that can be weighed in; `price` is for a gram, `available` in g, None without end.

    A `whole` lot goes in wholly or not at all, and one that `must` go in does.
    """

    id: str
    metal: Metal
    available: Decimal | None
    price: Decimal | None
    scrap: bool
    whole: bool
    shelf: bool
    pointer: str
    must: bool = False


@dataclass(frozen=True, slots=True)
class Recipe:
    """Masses in g by the place of their item, those that are not nothing, and their sum."""

    masses: Mapping[int, Fraction]
    total: Fraction

    @classmethod
    def of(cls, masses: Sequence[Decimal]) -> Recipe:
        """The recipe of a mass for each item."""
        exact = {place: Fraction(mass) for place, mass in enumerate(masses) if mass}
        return cls(exact, sum(exact.values(), Fraction(0)))


@dataclass(frozen=True, slots=True)
class Limit:
    """One rule that a recipe keeps: the weighted sum of its masses is at least or at most a bound.

    `parts` weighs each item's mass; None counts every mass alike. With `relative` the bound is a share of the
    whole, else g. `sign` is 1 for at least and -1 for at most. `of` is an element, an item's id, or empty;
    `pointer` is where the input says so. A firm limit is law or health: it is given up only if all else fails.
    """

    rule: Rule
    of: str
    sign: int
    bound: Fraction
    relative: bool
    parts: Mapping[int, Fraction] | None
    pointer: str
    firm: bool = False

    def surplus(self, recipe: Recipe) -> Fraction:
        """By how many g the recipe keeps the limit; negative if it breaks it."""
        value = recipe.total
        if self.parts is not None:
            value = sum(
                (mass * self.parts[place] for place, mass in recipe.masses.items() if place in self.parts),
                Fraction(0),
            )
        return self.sign * (value - self.bound * (recipe.total if self.relative else 1))


@dataclass(frozen=True, slots=True)
class Problem:
    """A whole charge: what there is, what must hold, how much of it is wanted, in g, and what a gram of each costs.

    `implied` are limits that a tighter one of the same kind holds already; they matter once that one moves.
    """

    items: tuple[Item, ...]
    limits: tuple[Limit, ...]
    mass: Decimal
    costs: tuple[Fraction, ...]
    implied: tuple[Limit, ...] = ()

    def keeps_all(self, recipe: Recipe) -> bool:
        """Whether a recipe keeps every limit, in exact arithmetic."""
        return all(limit.surplus(recipe) >= 0 for limit in self.limits)


def in_steps(problem: Problem, step: Decimal) -> Problem:
    """The problem as a balance can weigh it, in steps of so many g: it may weigh nearly a step more than the least.

    What weighs a whole step more could have weighed a step less; so the last ten-thousandth of a step is left out.
    """
    least, each = Fraction(problem.mass), Fraction(step)
    reach = max(each * ceil(least / each), least + each * (1 - SHY))
    limits = tuple(
        replace(limit, bound=max(limit.bound, reach)) if limit.rule is Rule.MASS and limit.sign < 0 else limit
        for limit in problem.limits
    )
    return replace(problem, limits=limits)


def tightest(limits: Iterable[Limit]) -> tuple[tuple[Limit, ...], tuple[Limit, ...]]:
    """Of the least shares of one element only the highest, the firm one among equals; and apart, those it implies."""
    kept: dict[object, Limit] = {}
    implied = []
    for place, limit in enumerate(limits):
        least_share = limit.rule in LEAST_SHARES and limit.sign > 0
        key: object = limit.of if least_share else place
        other = kept.get(key)
        if other is None:
            kept[key] = limit
            continue
        loose, kept[key] = sorted((other, limit), key=lambda one: (one.bound, one.firm))
        implied.append(loose)
    return tuple(kept.values()), tuple(implied)


def element_parts(items: Sequence[Item], symbol: str) -> dict[int, Fraction]:
    """The share of an element in each item that holds it, as fractions of one."""
    return {
        place: Fraction(share) / 1000
        for place, one in enumerate(items)
        if (share := one.metal.composition.fineness(symbol))
    }


def exact_sum(amounts: Iterable[Decimal]) -> Decimal:
    """A sum that loses no digit of what a caller may send."""
    return reduce(EXACT.add, amounts, Decimal(0))


def contents_of(items: Sequence[Item], masses: Sequence[Decimal]) -> dict[str, Decimal]:
    """The mass of each element in a recipe, exactly, in g; the metals in most of it first."""
    total: dict[str, Decimal] = {}
    for one, mass in zip(items, masses, strict=True):
        if mass:
            for symbol, fraction in one.metal.composition.fractions:
                total[symbol] = EXACT.fma(mass, fraction, total.get(symbol, Decimal(0)))
    return dict(sorted(total.items(), key=lambda pair: -pair[1]))


def spent_on(items: Sequence[Item], masses: Sequence[Decimal]) -> Decimal:
    """What a recipe costs at the prices of its items, exactly."""
    return exact_sum(EXACT.multiply(mass, one.price or Decimal(0)) for one, mass in zip(items, masses, strict=True))


def fine_bought(items: Sequence[Item], masses: Sequence[Decimal]) -> Decimal:
    """The precious metal in what a recipe takes from the shelf, in g."""
    bought = [mass if one.shelf else Decimal(0) for one, mass in zip(items, masses, strict=True)]
    return exact_sum(mass for symbol, mass in contents_of(items, bought).items() if symbol in PRECIOUS)


def without(items: Iterable[Item], symbols: Mapping[str, str]) -> tuple[tuple[Item, ...], tuple[str, ...]]:
    """The items that hold none of some elements, and a sentence about each that does."""
    kept, said = [], []
    for one in items:
        held = [why for symbol, why in symbols.items() if one.metal.composition.fineness(symbol)]
        if held:
            said.append(f"{one.id}: {' '.join(held)}")
        else:
            kept.append(one)
    return tuple(kept), tuple(said)
