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
from alloyref.domain.charge.solve import Best, Near, SearchTime, was_found, weight_of
from alloyref.domain.errors import NotAvailable

REACH = 4
"""So many steps from the optimum are tried first; a lawful recipe is nearly always within them."""
OTHERS = 8
"""So many items that are not in the optimum may come in when it alone cannot be weighed."""
NODES = 1_000
"""Branches looked at before a search is given up; see `solve`."""
SECONDS = 1.0
CUT_SHORT = (
    "Whether a recipe can be weighed in such steps was not found in the time there is: give a finer step, or offer "
    "fewer lots."
)
ALL = 1e-9
"""A lot of which no more than this share would stay is used up."""
CLOSE = 1.0
"""Limits that come as near as a thousandth of a step to being broken are counted with those that are."""
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


def weighed(
    problem: Problem, best: Best, step: Decimal, time: SearchTime, far: bool = True
) -> tuple[Decimal, ...] | None:
    """The least-cost recipe near the optimum that a balance can weigh and that keeps every limit exactly, in g.

    Masses are whole steps; a lot used up needs no weighing. With `far`, where there is none within a few steps, any
    number of steps is tried and the items that would have come in next. None if that finds none either, and
    `NotAvailable` if a search was cut short that might have found one.
    """
    here = _used(best.masses)
    others = sorted(set(range(len(best.masses))).difference(here), key=lambda place: best.reduced[place])
    wider = (*here, *others[:OTHERS])
    cut_short = None
    for used_up, among, reach in ((True, here, REACH), (False, here, REACH), (False, wider, None))[: 3 if far else 2]:
        stepped, start = _in_steps(problem, best.masses, step, used_up)
        try:
            found = _Search(stepped, start, among, reach, time).lawful()
        except NotAvailable as error:
            cut_short = error
            continue
        if found is not None:
            return found
    if cut_short is not None:
        raise cut_short
    return None


def _used(masses: Sequence[float]) -> tuple[int, ...]:
    """The places of the items that a recipe takes something of."""
    return tuple(place for place, mass in enumerate(masses) if mass > 0)


def nearest_weighed(
    problem: Problem, near: Near, step: Decimal, time: SearchTime
) -> Iterator[tuple[Problem, tuple[Decimal, ...]]]:
    """Recipes in whole steps near one that breaks limits that break them least, masses in g; lots used up, then not.

    With each the problem as steps allow it: its most mass is the first that they can make.
    """
    for used_up in (True, False):
        stepped, start = _in_steps(problem, near.masses, step, used_up)
        try:
            found = _Search(stepped, start, _used(near.masses), REACH, time).least_broken(near.movable)
        except NotAvailable:
            continue
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

    def __init__(
        self, problem: Problem, start: _Start, among: Sequence[int], reach: int | None, time: SearchTime
    ) -> None:
        self.problem, self.start, self.step, self.time = problem, start, start.step, time
        self.free = [
            place
            for place in among
            if not problem.items[place].whole and not start.fixed[place] and (reach is None or start.steps[place] > 0)
        ]
        steps = [start.steps[place] for place in self.free]
        self.low = [float(-one if reach is None else -min(one, reach)) for one in steps]
        self.high = [inf if reach is None else float(reach)] * len(self.free)
        begun = Recipe.of(start.masses)
        self.limits, self.rows, self.right = [], [], []
        for place, limit in enumerate(problem.limits):
            row = _row(limit, self.free)
            right = float(limit.surplus(begun) / Fraction(self.step)) * 1000
            # A limit that no step here can break is no concern of this search: of hundreds, few are.
            if self._most(row) > right - CLOSE:
                self.limits.append(place)
                self.rows.append(row)
                self.right.append(right)
        # Presolve finds what lies far off, but costs time near by, and there HiGHS may print a line of its own.
        self.far = reach is None

    def _most(self, row: list[float]) -> float:
        """The most that steps here take from a limit's surplus."""
        ends = zip(row, self.low, self.high, strict=True)
        return sum(part * (high if part > 0 else low) for part, low, high in ends if part)

    def lawful(self) -> tuple[Decimal, ...] | None:
        """The cheapest that keeps every limit in exact arithmetic, by the least margin that brings it there."""
        for margin in MARGINS:
            found = self._cheapest(margin)
            if found is None or self.problem.keeps_all(Recipe.of(found)):
                return found
        return None

    def _cheapest(self, margin: float) -> tuple[Decimal, ...] | None:
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
            options={
                "node_limit": NODES,
                "time_limit": self.time.left(SECONDS),
                "mip_rel_gap": 0.0,
                "presolve": self.far,
            },
        )
        if not was_found(found, CUT_SHORT):
            return None
        masses = list(self.start.masses)
        for place, moved in zip(self.free, found.x, strict=False):
            masses[place] += round(float(moved)) * self.step
        return tuple(masses)


def _row(limit: Limit, free: Sequence[int]) -> list[float]:
    """What a step more of each free item takes from the limit's surplus, in thousandths of a step."""
    bound = limit.bound if limit.relative else Fraction(0)
    whole = (Fraction(1) if limit.parts is None else Fraction(0)) - bound
    parts = limit.parts or {}
    # Most limits are about one item of hundreds: for the others the sum is made once.
    others = float(-limit.sign * 1000 * whole)
    return [float(-limit.sign * 1000 * (parts[place] + whole)) if place in parts else others for place in free]
