"""From an optimal recipe to one that a balance can weigh: whole steps, lawful in exact arithmetic, still cheap.

The steps up or down from the optimum are found by a small integer programme over the few items in it; what comes
back is checked with fractions, and a recipe that fails is never given.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import zip_longest
from math import inf

from alloyref.domain.charge.model import Limit, Problem, Recipe, Rule, exact_sum
from alloyref.domain.charge.solve import Best, Near, weight_of

REACH = 4
"""So many steps from the optimum are tried first; a lawful recipe is nearly always within them."""
OTHERS = 8
"""So many items that are not in the optimum may come in when it alone cannot be weighed."""
NODES = 1_000
"""Branches looked at before a search is given up; see `solve`."""
SECONDS = 1.0
ALL = 1e-9
"""A lot of which no more than this share would stay is used up."""
MARGINS = (0.0, 1e-6, 1e-4, 1e-2)
"""By how much, in thousandths of a step, rows are tightened when the solver's tolerance let a recipe slip."""


@dataclass(frozen=True, slots=True)
class _Start:
    """Where the search begins: whole steps below the optimum, and whole lots as they are."""

    step: Decimal
    steps: tuple[int, ...]
    fixed: tuple[Decimal, ...]

    @property
    def masses(self) -> tuple[Decimal, ...]:
        """The masses of the start in g."""
        return tuple(fixed + steps * self.step for fixed, steps in zip(self.fixed, self.steps, strict=True))


def weighed(problem: Problem, best: Best, step: Decimal, far: bool = True) -> tuple[Decimal, ...] | None:
    """The least-cost recipe near the optimum that a balance can weigh and that keeps every limit exactly, in g.

    Masses are whole steps; a lot used up needs no weighing. With `far`, where there is none within a few steps, any
    number of steps is tried and the items that would have come in next. None if that finds none either.
    """
    here = _used(best.masses)
    others = sorted(set(range(len(best.masses))).difference(here), key=lambda place: best.reduced[place])
    wider = (*here, *others[:OTHERS])
    for used_up, among, reach in ((True, here, REACH), (False, here, REACH), (False, wider, None))[: 3 if far else 2]:
        stepped, start = _in_steps(problem, best.masses, step, used_up)
        search = _Search(stepped, start, among, reach)
        for margin in MARGINS:
            found = search.cheapest(margin)
            if found is None:
                break
            if stepped.keeps_all(Recipe.of(found)):
                return found
    return None


def _used(masses: Sequence[float]) -> tuple[int, ...]:
    """The places of the items that a recipe takes something of."""
    return tuple(place for place, mass in enumerate(masses) if mass > 0)


def nearest_weighed(problem: Problem, near: Near, step: Decimal) -> Iterator[tuple[Problem, tuple[Decimal, ...]]]:
    """Recipes in whole steps near one that breaks limits that break them least, masses in g; lots used up, then not.

    With each the problem as steps allow it: its most mass is the first that they can make.
    """
    for used_up in (True, False):
        stepped, start = _in_steps(problem, near.masses, step, used_up)
        found = _Search(stepped, start, _used(near.masses), REACH).least_broken(near.movable)
        if found is not None:
            yield stepped, found


def _in_steps(problem: Problem, optimum: Sequence[float], step: Decimal, used_up: bool) -> tuple[Problem, _Start]:
    """The problem with its most mass raised to the first that steps can make, and the floor of the optimum.

    Whole lots stand fixed, and with `used_up` so do lots of which the optimum takes all.
    """
    fixed, steps = [], []
    for one, mass in zip(problem.items, optimum, strict=True):
        there = one.available or Decimal(0)
        stays = mass > float(there) / 2 if one.whole else used_up and mass > 0 and mass > float(there) * (1 - ALL)
        stays = stays and one.available is not None
        fixed.append(there if stays else Decimal(0))
        steps.append(0 if stays or one.whole else int(mass / float(step) + 1e-6))
    lots = exact_sum(fixed)
    short = (Fraction(problem.mass) - Fraction(lots)) / Fraction(step)
    reachable = Fraction(lots) + Fraction(step) * max(-(-short.numerator // short.denominator), 0)
    limits = tuple(
        replace(limit, bound=max(limit.bound, reachable)) if limit.rule is Rule.MASS and limit.sign < 0 else limit
        for limit in problem.limits
    )
    return replace(problem, limits=limits), _Start(step, tuple(steps), tuple(fixed))


class _Search:
    """An integer programme over steps up or down from a start; rows are in thousandths of a step."""

    def __init__(self, problem: Problem, start: _Start, among: Sequence[int], reach: int | None) -> None:
        self.problem, self.start, self.step = problem, start, start.step
        self.free = [
            place
            for place in among
            if not problem.items[place].whole and not start.fixed[place] and (reach is None or start.steps[place] > 0)
        ]
        begun = Recipe.of(start.masses)
        self.limits, self.rows, self.right = [], [], []
        for place, limit in enumerate(problem.limits):
            row, surplus = _row(limit, self.free), limit.surplus(begun)
            # A limit that no step here touches and nothing breaks is no concern of this search.
            if surplus < 0 or any(row):
                self.limits.append(place)
                self.rows.append(row)
                self.right.append(float(surplus / Fraction(self.step)) * 1000)
        # Presolve finds what lies far off, but costs time near by, and there HiGHS may print a line of its own.
        self.far = reach is None
        steps = [start.steps[place] for place in self.free]
        self.low = [float(-one if reach is None else -min(one, reach)) for one in steps]
        self.high = [inf if reach is None else float(reach)] * len(self.free)

    def cheapest(self, margin: float) -> tuple[Decimal, ...] | None:
        """The cheapest within all limits, each tightened by the margin; not yet checked exactly."""
        costs = [float(self.problem.costs[place]) for place in self.free]
        scale = max(costs, default=0.0) or 1.0
        right = [one - margin for one in self.right]
        return self._solve([cost / scale for cost in costs], self.rows, right, [])

    def least_broken(self, movable: Sequence[bool]) -> tuple[Decimal, ...] | None:
        """The recipe that breaks the movable limits least, by a column for each by which it may be missed."""
        slacks = len(self.limits)
        rows = [
            [*row, *(-1.0 if other == place else 0.0 for other in range(slacks))]
            for place, row in enumerate(self.rows)
        ]
        weights = [weight_of(self.problem.limits[place]) for place in self.limits]
        room = [inf if movable[place] else 0.0 for place in self.limits]
        return self._solve([0.0] * len(self.free) + weights, rows, self.right, room)

    def _solve(
        self, objective: list[float], rows: list[list[float]], right: list[float], room: list[float]
    ) -> tuple[Decimal, ...] | None:
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - large; see `solve`

        if not self.free:
            return self.start.fixed if all(one >= 0 or move for one, move in zip_longest(right, room)) else None
        found = milp(
            objective,
            integrality=[1] * len(self.free) + [0] * len(room),
            bounds=Bounds([*self.low, *[0.0] * len(room)], [*self.high, *room]),
            constraints=LinearConstraint(rows, -inf, right),
            options={"node_limit": NODES, "time_limit": SECONDS, "mip_rel_gap": 0.0, "presolve": self.far},
        )
        if found.x is None:
            return None
        masses = list(self.start.masses)
        for place, moved in zip(self.free, found.x, strict=False):
            masses[place] += round(float(moved)) * self.step
        return tuple(masses)


def _row(limit: Limit, free: Sequence[int]) -> list[float]:
    """What a step more of each free item takes from the limit's surplus, in thousandths of a step."""
    bound = limit.bound if limit.relative else Fraction(0)
    whole = Fraction(1) if limit.parts is None else Fraction(0)
    parts = limit.parts or {}
    return [float(-limit.sign * 1000 * (parts.get(place, Fraction(0)) + whole - bound)) for place in free]
