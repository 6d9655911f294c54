"""A charge solved from end to end, and solved again with one thing changed: what a change is said to do was tried."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.charge.inputs import LEAST_MASS
from alloyref.domain.charge.model import Limit, Problem, Rule, fine_bought, in_steps, spent_on, tightest
from alloyref.domain.charge.results import BindingLimit, LeftOut
from alloyref.domain.charge.rounding import SECONDS, Balance, Weighed, weighed
from alloyref.domain.charge.solve import Best, SearchTime, least_cost
from alloyref.domain.charge.words import GRAM, PERMILLE, SHARE, bound_in, left_out, saving, told_bound, unit_of
from alloyref.domain.errors import NotAvailable
from alloyref.domain.numbers import Rounding, fraction_to_decimal, plain, round_to

MOST_TRIED = 8
"""So many limits, and whole lots, are tried: each is a charge of its own."""
ONE = {PERMILLE: Fraction(1), SHARE: Fraction(1, 100), GRAM: Fraction(1)}
"""The room that is tried: a permille, a percent of the charge, a gram."""


@dataclass(frozen=True, slots=True)
class Solution:
    """The optimum before weighing and the cheapest recipe in steps, as far as there are any."""

    best: Best | None
    found: Weighed | None


@dataclass(frozen=True, slots=True)
class Asked:
    """A charge as it is solved: its limits, the step in g, whether money or fine metal (g) is saved, and the time."""

    problem: Problem
    step: Decimal
    currency: str | None
    time: SearchTime

    @property
    def decimals(self) -> int:
        """To how many decimals a cost is told: cents, or tenths of a milligram of fine metal."""
        return 4 if self.currency is None else 2

    @property
    def gap(self) -> float:
        """A recipe this much above the least possible is as good as the cheapest: a tenth of the last decimal."""
        return float(Decimal("0.1").scaleb(-self.decimals))

    @property
    def unit_of_cost(self) -> str:
        """What is made least: money, or fine metal."""
        return self.currency or "g of fine metal bought"

    def within(self, found: Weighed) -> Decimal:
        """How much more than the least possible in such steps a recipe may cost, as it is told."""
        more = found.cost - found.floor
        return Decimal(0) if more <= 4 * self.gap else round_to(Decimal(repr(more)), self.decimals, Rounding.UP)

    def balance(self, step: Decimal) -> Balance:
        """A balance of a step in g to weigh the recipe with."""
        return Balance(step, self.gap, self.time)

    def solved(self) -> Solution:
        """The charge solved; raises `NotAvailable` where a search was cut short that might have found a recipe."""
        problem = in_steps(self.problem, self.step)
        best = least_cost(problem, self.time)
        return Solution(best, None if best is None else weighed(problem, best, self.balance(self.step)))

    def cost(self, found: Weighed) -> Decimal:
        """What a recipe costs, or the fine metal it buys, as it is told."""
        total = fine_bought if self.currency is None else spent_on
        return round_to(total(self.problem.items, found.masses), self.decimals)

    def tried(self, problem: Problem) -> tuple[bool, Weighed | None]:
        """Whether another problem was solved as it would be if it were asked, and the recipe if it has one."""
        if self.time.left(SECONDS) < SECONDS:
            return False, None
        try:
            found = replace(self, problem=problem).solved().found
        except NotAvailable:
            return False, None
        return found is None or not found.stopped, found


def binding(asked: Asked, best: Best, found: Weighed) -> tuple[BindingLimit, ...]:
    """The limits that bind, those that cost most first, each with what a little room in it was found to save.

    A limit is left out where nothing is saved, where it has no room to give, or where there was no time to try it.
    """
    told = []
    limits = zip(asked.problem.limits, best.binds, best.savings, strict=True)
    dear = [(cost, limit) for limit, binds, cost in limits if binds]
    for _, limit in sorted(dear, key=lambda pair: -pair[0])[: 0 if found.stopped else MOST_TRIED]:
        to = _moved_to(limit)
        if to is None:
            continue
        sure, other = asked.tried(_with_room(asked.problem, limit, to))
        saves = asked.cost(found) - asked.cost(other) if other is not None else Decimal(0)
        if sure and saves > 0:
            told.append(_told(asked, limit, to, saves))
    return tuple(sorted(told, key=lambda one: -one.saves))


def _moved_to(limit: Limit) -> Decimal | None:
    """A limit's bound with a permille, percent or gram more room, in its own unit; None where it has no room."""
    unit = unit_of(limit)
    bound = bound_in(limit)
    if limit.rule is Rule.MASS and limit.sign < 0 and limit.pointer == LEAST_MASS:
        return None
    most = None if unit == GRAM else bound_in(replace(limit, bound=Fraction(1)))
    to = max(bound - limit.sign * ONE[unit], Fraction(0))
    if most is not None:
        to = min(to, most)
    if to == bound or (limit.rule is Rule.MASS and not to):
        return None
    return told_bound(to, unit, Rounding.UP if limit.sign > 0 else Rounding.DOWN)


def _with_room(problem: Problem, limit: Limit, to: Decimal) -> Problem:
    """The problem as it would be read if the input at the limit's pointer said `to`."""
    bound = Fraction(to) / (1000 if unit_of(limit) == PERMILLE else 1)
    items, mass = list(problem.items), problem.mass
    if limit.rule is Rule.AVAILABLE and limit.parts is not None:
        (place,) = limit.parts
        items[place] = replace(items[place], available=to)
    if limit.rule is Rule.MASS and limit.sign > 0:
        mass = to

    def eased(one: Limit) -> Limit:
        # The mass is the least and the most at once, unless a most was given.
        same_mass = one.rule is limit.rule is Rule.MASS and one.pointer == limit.pointer
        return replace(one, bound=bound) if one == limit or same_mass else one

    kept, implied = tightest([*map(eased, problem.limits), *problem.implied])
    return replace(problem, items=tuple(items), limits=kept, implied=implied, mass=mass)


def _told(asked: Asked, limit: Limit, to: Decimal, saves: Decimal) -> BindingLimit:
    unit = unit_of(limit)
    by = fraction_to_decimal(abs(bound_in(limit) - Fraction(to)), 6)
    room, each = (by * 100, "percent") if unit == SHARE else (by, unit)
    what = asked.unit_of_cost
    per = each if room == 1 else f"{plain(room)} {each}"
    words = saving(limit, to, room, f"{plain(saves)} {what}")
    return BindingLimit(limit.rule.value, limit.of, limit.pointer, saves, f"{what} per {per}", words, by, to, unit)


def whole_lots_left(asked: Asked, found: Weighed) -> Iterator[LeftOut]:
    """Each lot that could only go in whole and does not, with what it would cost more, or why it cannot go in."""
    items = asked.problem.items
    most = max(limit.bound for limit in asked.problem.limits if limit.rule is Rule.MASS)
    tried = 0
    for place, (one, mass) in enumerate(zip(items, found.masses, strict=True)):
        if not one.whole or mass or one.available is None:
            continue
        more, why = None, ""
        if one.available > most:
            why = "it weighs more than the whole charge"
        elif tried < MOST_TRIED and not found.stopped:
            tried += 1
            forced = (*items[:place], replace(one, must=True), *items[place + 1 :])
            sure, other = asked.tried(replace(asked.problem, items=forced))
            if other is not None and sure:
                more = max(asked.cost(other) - asked.cost(found), Decimal(0))
            elif sure:
                why = "with all of it no recipe keeps every limit"
        yield LeftOut(
            one.id, one.available, more, asked.unit_of_cost, left_out(one.id, more, asked.unit_of_cost, why)
        )
