"""The cheapest recipe that a balance can weigh: whole steps, lawful in exact arithmetic, and a bound on any cheaper.

Steps, whole lots and the rest of a lot that is used up are columns of an integer programme. It is asked of the items
of the optimum and those next to come in; what the others could save is bounded by the linear programme. What comes
back is checked with fractions, and a recipe that fails is never given.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil, inf

from alloyref.domain.charge.highs import Column, Least, Option, Row, least
from alloyref.domain.charge.model import Limit, Problem, Recipe, Rule, in_steps
from alloyref.domain.charge.solve import Best, Near, SearchTime, weight_of
from alloyref.domain.errors import NotAvailable
from alloyref.domain.numbers import EXACT

REACH = 4
"""So many steps from a recipe that breaks limits are tried for those that break them least."""
OTHERS = (8, 40, None)
"""So many items that are not in the optimum may come in: few at first, all of them only if nothing else can be."""
NODES = 400
"""Branches looked at before a search is given up; see `solve`."""
SECONDS = 1.0
CUT_SHORT = (
    "Whether a recipe can be weighed in such steps was not found in the time there is: give a finer step, or offer "
    "fewer lots."
)
ALL = 1e-9
"""A lot of which no more than this share would stay is used up."""
CLOSE = 1e-3
"""Limits that come as near as a thousandth of a step to being broken are counted with those that are."""
MARGINS = (0.0, 2e-6, 1e-4, 1e-2)
"""By how many steps rows are tightened when the solver's tolerance let a recipe slip."""
LEAST_GAP, MOST_GAP = 1e-7, 1e-3
"""As a share of the cost: what the solver's numbers can tell, and where to go on though next to nothing is paid."""
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Balance:
    """What is weighed with: its step in g, from which gap in cost on a search goes on, and the time for it."""

    step: Decimal
    gap: float
    time: SearchTime


@dataclass(frozen=True, slots=True)
class Weighed:
    """A recipe that can be weighed, masses in g, what it costs, and what none in such steps costs less than.

    `stopped` says that the clock cut a search short, so that asking again may find another recipe.
    """

    masses: tuple[Decimal, ...]
    cost: float
    floor: float
    stopped: bool


@dataclass(frozen=True, slots=True)
class _Column:
    """So many g of an item, taken between `low` and `high` times."""

    place: int
    unit: Decimal
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class _Start:
    """Masses in g to begin with, what may be added, and which limits are rows.

    A rest is the columns of a lot's whole steps and of its rest, how many steps it has, and how many are begun with.
    """

    begun: Sequence[Decimal]
    columns: Sequence[_Column]
    limits: Sequence[int]
    rests: Sequence[tuple[int, int, int, int]] = ()


def weighed(problem: Problem, best: Best, balance: Balance, others: Sequence[int | None] = OTHERS) -> Weighed | None:
    """The least-cost recipe that a balance can weigh and that keeps every limit exactly, in g.

    Masses are whole steps; a lot used up needs no weighing. A recipe is good enough if none costs less by the gap.
    None if there is no recipe, and `NotAvailable` if a search was cut short that might have found one.
    """
    used = [place for place, mass in enumerate(best.masses) if mass > 0 or problem.items[place].whole]
    spare = sorted(_floors(problem, best, set(used), balance.step))
    found: Weighed | None = None
    cut_short = None
    for count in others:
        if found is not None and (count is None or found.cost - found.floor <= balance.gap):
            break
        # Once there is a recipe, what cannot make a cheaper one need not come in.
        most = inf if found is None else found.cost - balance.gap
        among = [place for floor, place in spare[:count] if floor < most]
        search = _Search(problem, balance, _from_optimum(problem, best, balance.step, (*used, *among)))
        try:
            recipe = search.lawful(best.cost)
        except NotAvailable as error:
            cut_short = error
            continue
        if recipe is not None:
            rest = spare[len(among) : len(among) + 1]
            found = _better(found, recipe, rest[0][0] if rest else inf)
    if found is None and cut_short is not None:
        raise cut_short
    return found


def _floors(problem: Problem, best: Best, used: set[int], step: Decimal) -> Iterator[tuple[float, int]]:
    """For each item that is not used, what no recipe with any of it costs less than.

    It is the optimum's cost, or that with whole lots cut and the least of the item that can be had.
    """
    each = float(step)
    for place, (one, reduced) in enumerate(zip(problem.items, best.reduced, strict=True)):
        if place not in used:
            least = each if one.available is None else min(each, float(one.available))
            yield max(best.cost, best.relaxed + reduced * least), place


def _better(before: Weighed | None, after: Weighed, floor: float) -> Weighed:
    """The cheaper of two recipes with the higher floor; that of the later search holds only above `floor`."""
    bound = min(after.floor, floor)
    if before is None:
        return Weighed(after.masses, after.cost, min(bound, after.cost), after.stopped)
    kept = after if after.cost < before.cost else before
    return Weighed(kept.masses, kept.cost, min(max(bound, before.floor), kept.cost), after.stopped or before.stopped)


def nearest_weighed(problem: Problem, near: Near, balance: Balance) -> Iterator[tuple[Problem, tuple[Decimal, ...]]]:
    """Recipes in whole steps near one that breaks limits that break them least, masses in g; lots used up, then not.

    With each the problem as steps allow it.
    """
    stepped = in_steps(problem, balance.step)
    for used_up in (True, False):
        search = _Search(stepped, balance, _from_near(stepped, near.masses, balance.step, used_up))
        try:
            found = search.least_broken(near.movable)
        except NotAvailable:
            continue
        if found is not None:
            yield stepped, found


def _from_optimum(problem: Problem, best: Best, step: Decimal, among: Sequence[int]) -> _Start:
    """All steps of some items, from the whole steps below the optimum."""
    most = next(limit.bound for limit in problem.limits if limit.rule is Rule.MASS and limit.sign < 0)
    most_steps = ceil(most / Fraction(step))
    begun, columns, rests = [ZERO] * len(problem.items), [], []
    for place in among:
        one, there = problem.items[place], problem.items[place].available
        if one.whole and there is not None:
            columns.append(_Column(place, there, float(one.must), 1.0))
            continue
        steps, rest = divmod(there, step) if there is not None else (Decimal(most_steps), ZERO)
        start = min(int(best.masses[place] / float(step) + 1e-6), int(steps))
        begun[place] = start * step
        columns.append(_Column(place, step, float(-start), float(min(int(steps), most_steps) - start)))
        if rest and steps <= most_steps:
            # The rest of a lot goes in only on top of all its whole steps.
            rests.append((len(columns) - 1, len(columns), int(steps), start))
            columns.append(_Column(place, rest, 0.0, 1.0))
    limits = [place for place, limit in enumerate(problem.limits) if limit.rule is not Rule.AVAILABLE]
    return _Start(begun, columns, limits, rests)


def _from_near(problem: Problem, masses: Sequence[float], step: Decimal, used_up: bool) -> _Start:
    """A few steps up or down from masses; whole lots stand, and with `used_up` so do lots that are all taken."""
    begun, columns = [], []
    for place, (one, mass) in enumerate(zip(problem.items, masses, strict=True)):
        there = one.available or ZERO
        stays = mass > float(there) / 2 if one.whole else used_up and mass > 0 and mass > float(there) * (1 - ALL)
        if one.available is not None and stays:
            begun.append(there)
            continue
        steps = 0 if one.whole else int(mass / float(step) + 1e-6)
        begun.append(steps * step)
        if steps:
            columns.append(_Column(place, step, float(-min(steps, REACH)), float(REACH)))
    return _Start(begun, columns, range(len(problem.limits)))


class _Search:
    """An integer programme over columns on top of masses begun with, in g; rows are in steps."""

    def __init__(self, problem: Problem, balance: Balance, start: _Start) -> None:
        self.problem, self.balance = problem, balance
        self.begun, self.columns = start.begun, start.columns
        self.limits: list[int] = []
        self.rows: list[Mapping[int, float]] = []
        self.right: list[float] = []
        recipe = Recipe.of(start.begun)
        for place in start.limits:
            limit = problem.limits[place]
            row = _row(limit, self.columns, balance.step)
            right = float(limit.surplus(recipe) / Fraction(balance.step))
            # A limit that no step here can break is no concern of this search: of hundreds, few are.
            if self._most(row) > right - CLOSE:
                self.limits.append(place)
                self.rows.append(row)
                self.right.append(right)
        self.rests = [
            Row({whole: -1.0, rest: float(steps)}, float(begun)) for whole, rest, steps, begun in start.rests
        ]

    def _most(self, row: Mapping[int, float]) -> float:
        """The most that steps here take from a limit's surplus."""
        ends = ((part, self.columns[place]) for place, part in row.items())
        return sum(part * (one.high if part > 0 else one.low) for part, one in ends)

    def lawful(self, about: float) -> Weighed | None:
        """The cheapest that keeps every limit in exact arithmetic, by the least margin that brings it there.

        It costs about `about`, and may cost more than the least by half of the gap.
        """
        floor, stopped = None, False
        share = min(MOST_GAP, max(LEAST_GAP, self.balance.gap / 2 / about)) if about > 0 else 0.0
        for margin in MARGINS:
            found = self._cheapest(margin, share)
            if found is None:
                return None
            recipe, bound, late = found
            floor, stopped = bound if floor is None else floor, stopped or late
            exact = Recipe.of(recipe)
            if self.problem.keeps_all(exact):
                cost = sum((self.problem.costs[place] * mass for place, mass in exact.masses.items()), Fraction(0))
                return Weighed(recipe, float(cost), floor, stopped)
        return None

    def _cheapest(self, margin: float, gap: float) -> tuple[tuple[Decimal, ...], float, bool] | None:
        """The cheapest within all limits, each tightened by the margin, not yet checked exactly; its floor; how."""
        costs = [float(self.problem.costs[one.place]) * float(one.unit) for one in self.columns]
        begun = sum(
            float(cost) * float(mass) for cost, mass in zip(self.problem.costs, self.begun, strict=True) if mass
        )
        scale = max([*costs, begun]) or 1.0
        # What is begun with costs too, as a column that stands still: a gap is a share of all.
        stands = Column(begun / scale, 1.0, 1.0)
        rows = [
            *(Row(row, most - margin) for row, most in zip(self.rows, self.right, strict=True)),
            *self.rests,
        ]
        found = self._solve([*self._steps(cost / scale for cost in costs), stands], rows, gap)
        return None if found is None else (self._masses(found.columns), found.floor * scale, found.late)

    def least_broken(self, movable: Sequence[bool]) -> tuple[Decimal, ...] | None:
        """The recipe that breaks the movable limits least, by a column for each by which it may be missed."""
        room = [inf if movable[place] else 0.0 for place in self.limits]
        if not self.columns:
            kept = all(one >= 0 or move for one, move in zip(self.right, room, strict=True))
            return tuple(self.begun) if kept else None
        rows = [
            Row({**row, len(self.columns) + place: -1.0}, most)
            for place, (row, most) in enumerate(zip(self.rows, self.right, strict=True))
        ]
        missed = [
            Column(weight_of(self.problem.limits[place]), 0.0, most)
            for place, most in zip(self.limits, room, strict=True)
        ]
        found = self._solve([*self._steps(0.0 for _ in self.columns), *missed], rows, 0.0)
        return None if found is None else self._masses(found.columns)

    def _steps(self, costs: Iterable[float]) -> Iterator[Column]:
        """The columns as HiGHS takes them."""
        for one, cost in zip(self.columns, costs, strict=True):
            yield Column(cost, one.low, one.high)

    def _solve(self, columns: Sequence[Column], rows: Sequence[Row], gap: float) -> Least | None:
        """HiGHS's answer, or None where there is none, within the time that is left."""
        options: dict[str, Option] = {
            "mip_max_nodes": NODES,
            "time_limit": self.balance.time.left(SECONDS),
            "mip_rel_gap": gap,
            "presolve": "off",
        }
        return least(columns, rows, options, CUT_SHORT, range(len(self.columns)))

    def _masses(self, values: Sequence[float]) -> tuple[Decimal, ...]:
        masses = list(self.begun)
        for one, times in zip(self.columns, values, strict=False):
            masses[one.place] = EXACT.add(masses[one.place], EXACT.multiply(one.unit, round(times)))
        return tuple(masses)


def _row(limit: Limit, columns: Sequence[_Column], step: Decimal) -> dict[int, float]:
    """What one more of each column takes from the limit's surplus, in steps."""
    bound = limit.bound if limit.relative else Fraction(0)
    whole = (Fraction(1) if limit.parts is None else Fraction(0)) - bound
    parts = limit.parts or {}
    # Most limits are about one item of hundreds: for the others the sum is made once.
    others, each = float(-limit.sign * whole), float(step)
    taken = (
        (float(-limit.sign * (parts[one.place] + whole)) if one.place in parts else others) * (float(one.unit) / each)
        for one in columns
    )
    return {place: part for place, part in enumerate(taken) if part}
