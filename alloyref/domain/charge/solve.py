"""The linear programme: least cost, and where that is impossible the least change. SciPy's HiGHS does the work.

Columns are the items' masses and the whole's, in units of the mass wanted, so that a gram and a kilogram are
solved alike. A whole lot is a column of 0 or 1. SciPy is imported at first use: it is large.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from time import monotonic
from typing import Any

from alloyref.domain.charge.model import Limit, Problem, Rule
from alloyref.domain.errors import Issue, NotAvailable

FEASIBLE = 1e-9
"""How far HiGHS may miss a row; recipes are checked in exact arithmetic afterwards."""
OPTIONS = {"primal_feasibility_tolerance": FEASIBLE, "dual_feasibility_tolerance": FEASIBLE}
BINDING = 1e-7
LEAST_PART = 0.5
"""A smaller charge that is less than this of what was wanted is no answer."""
NODES = 3_000
"""Branches looked at before a search is given up: a bound on time that does not hang on the machine."""
SECONDS = 3.0
"""And a bound that does: branches over two hundred whole lots took up to 17 s."""
CHANGE_SECONDS = 1.0
"""The same for a least change, which is sooner good enough than proven."""
ALL_SECONDS = 5.0
"""What all searches of one charge may take together: for the lots, the steps of the balance, and what could give."""
CUT_SHORT = (
    "Whether a recipe exists was not found in the time there is: offer fewer whole lots, or let some be used in part."
)
INFEASIBLE = 2
"""HiGHS's status, as SciPy gives it, of a programme that nothing satisfies."""
WINDOW_WEIGHT, FIRM_WEIGHT = 10.0, 10_000.0
"""What a gram of change counts: more metal or another mass 1, a window of composition 10, law and health most."""


class SearchTime:
    """What is left of the time that all searches of one charge share."""

    def __init__(self) -> None:
        self._ends = monotonic() + ALL_SECONDS

    def left(self, most: float) -> float:
        """How many seconds a search may take that should not take more than `most`."""
        return max(0.0, min(most, self._ends - monotonic()))


@dataclass(frozen=True, slots=True)
class Best:
    """An optimal recipe before weighing: masses in g, which limits bind, and what each would save at the margin.

    No recipe costs less than `cost`. A saving is for one unit of bound given up, a whole (share) or a gram. `proven`
    is false where the search for the best whole lots was cut short. As if whole lots could be cut, none costs less
    than `relaxed`, nor one with a gram of an item than that and `reduced` of the item.
    """

    masses: tuple[float, ...]
    cost: float
    relaxed: float
    binds: tuple[bool, ...]
    savings: tuple[float, ...]
    reduced: tuple[float, ...]
    proven: bool


def was_found(answer: Any, cut_short: str) -> bool:
    """Whether HiGHS found a recipe; `NotAvailable`, in the words given, if it was stopped before it knew."""
    if answer.x is None and answer.status != INFEASIBLE:
        raise NotAvailable(Issue("cut-short", cut_short))
    return answer.x is not None


def weight_of(limit: Limit) -> float:
    """What a gram of change of this limit counts in the least change."""
    if limit.firm:
        return FIRM_WEIGHT
    return WINDOW_WEIGHT if limit.relative else 1.0


def least_cost(problem: Problem, time: SearchTime) -> Best | None:
    """The recipe of least cost in masses of g, or None if the limits allow none.

    With whole lots, which of them go in is found first; savings then hold with those lots as chosen. `NotAvailable`
    if that search was cut short before it found a recipe, or that there is none.
    """
    programme = _Programme(problem)
    scale = max((float(cost) for cost in problem.costs), default=0.0) or 1.0
    costs = [float(cost) / scale for cost in problem.costs]
    cut = programme.minimise(costs)
    if cut is None:
        return None
    found, proven, floor = cut, True, float(cut.fun)
    if programme.has_whole:
        chosen = programme.choose_whole(costs, time.left(SECONDS))
        found = None if chosen is None else programme.minimise(costs, whole=chosen.x)
        if found is None:
            return None
        proven = chosen.status == 0
        floor = max(floor, float(chosen.mip_dual_bound))
    slack = [float(one) for one in found.ineqlin.residual]
    total = float(found.x[programme.count])
    savings = [
        max(0.0, -float(marginal)) * scale * (total * programme.unit if limit.relative else 1.0)
        for marginal, limit in zip(found.ineqlin.marginals, problem.limits, strict=True)
    ]
    return Best(
        programme.masses(found.x),
        floor * scale * programme.unit,
        float(cut.fun) * scale * programme.unit,
        tuple(one < BINDING for one in slack),
        tuple(savings),
        tuple(float(one) * scale for one in cut.lower.marginals[: programme.count]),
        proven,
    )


@dataclass(frozen=True, slots=True)
class Near:
    """A recipe that breaks some limits as little as can be: masses in g, and which limits were free to move."""

    masses: tuple[float, ...]
    movable: tuple[bool, ...]


def all_but_mass(problem: Problem) -> tuple[bool, ...]:
    """Which limits may move when the charge is not to be smaller: all but the least mass."""
    return tuple(limit.rule is not Rule.MASS or limit.sign < 0 for limit in problem.limits)


def least_change(problem: Problem, time: SearchTime) -> tuple[Near, ...]:
    """The recipes, masses in g, that come nearest to keeping the limits, the nearest first.

    One keeps the mass and lets all else give way, each gram counted by `weight_of`; the other keeps all else and
    is smaller, by half at most: a charge of nothing would break no rule.
    """
    others = all_but_mass(problem)
    found = []
    for movable in (others, tuple(not one for one in others)):
        programme = _Programme(problem, movable)
        try:
            answer = programme.any_recipe(time.left(CHANGE_SECONDS))
        except NotAvailable:
            continue
        if answer is None or answer.x[programme.count] < LEAST_PART:
            continue
        found.append((float(answer.fun), Near(programme.masses(answer.x), movable)))
    return tuple(near for _, near in sorted(found, key=lambda pair: pair[0]))


class _Programme:
    """The matrix of a problem; with `movable` each limit has a column by which it may be missed, if it may move."""

    def __init__(self, problem: Problem, movable: Sequence[bool] = ()) -> None:
        from scipy.sparse import csr_array  # noqa: PLC0415 - large; see the module

        self.problem = problem
        self.count = len(problem.items)
        self.unit = float(problem.mass)
        self.has_whole = any(one.whole and not one.must for one in problem.items)
        self.scale = [
            float(one.available) / self.unit if one.whole and one.available is not None else 1.0
            for one in problem.items
        ]
        rows, columns, values, right = [], [], [], []
        for row, limit in enumerate(problem.limits):
            for place, part in (limit.parts or {}).items():
                rows.append(row)
                columns.append(place)
                values.append(-limit.sign * float(part) * self.scale[place])
            whole = (1.0 if limit.parts is None else 0.0) - (float(limit.bound) if limit.relative else 0.0)
            rows.append(row)
            columns.append(self.count)
            values.append(-limit.sign * whole)
            right.append(0.0 if limit.relative else -limit.sign * float(limit.bound) / self.unit)
            if movable:
                rows.append(row)
                columns.append(self.count + 1 + row)
                values.append(-1.0)
        self.slacks = [weight_of(limit) for limit in problem.limits] if movable else []
        self.room = [inf if moves else 0.0 for moves in movable]
        width = self.count + 1 + len(self.slacks)
        self.rows: Any = csr_array((values, (rows, columns)), shape=(len(right), width))
        self.right = right
        self.sum: Any = csr_array([[*self.scale, -1.0, *[0.0] * len(self.slacks)]])

    def minimise(self, costs: Sequence[float], whole: Any = None) -> Any:
        """HiGHS's answer, or None where there is no recipe; whole lots as they were chosen, or cut if need be."""
        from scipy.optimize import linprog  # noqa: PLC0415 - large; see the module

        low, high = self._bounds()
        for place, one in enumerate(self.problem.items):
            if one.whole and whole is not None:
                low[place] = high[place] = float(round(whole[place]))
        found = linprog(
            self._objective(costs),
            A_ub=self.rows,
            b_ub=self.right,
            A_eq=self.sum,
            b_eq=[0.0],
            bounds=list(zip(low, high, strict=True)),
            options=OPTIONS,
        )
        return found if found.x is not None else None

    def choose_whole(self, costs: Sequence[float], seconds: float) -> Any:
        """Which whole lots go in, by branch and bound; the best found when a bound on branches is reached."""
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - large; see the module

        found = milp(
            self._objective(costs),
            integrality=[int(one.whole) for one in self.problem.items] + [0] * (1 + len(self.slacks)),
            bounds=Bounds(*self._bounds()),
            constraints=[LinearConstraint(self.rows, -inf, self.right), LinearConstraint(self.sum, 0.0, 0.0)],
            options={"node_limit": NODES, "time_limit": seconds, "mip_rel_gap": 0.0},
        )
        return found if was_found(found, CUT_SHORT) else None

    def any_recipe(self, seconds: float) -> Any:
        """The recipe that misses the limits least, whatever it costs; None where the fixed ones allow none."""
        free = [0.0] * self.count
        return self.choose_whole(free, seconds) if self.has_whole else self.minimise(free)

    def _objective(self, costs: Sequence[float]) -> list[float]:
        return [cost * scale for cost, scale in zip(costs, self.scale, strict=True)] + [0.0, *self.slacks]

    def _bounds(self) -> tuple[list[float], list[float]]:
        """Least and most of each column; what must go in does."""
        items = self.problem.items
        low = [float(one.must) for one in items] + [0.0] * (1 + len(self.slacks))
        return low, [*(1.0 if one.whole else inf for one in items), inf, *self.room]

    def masses(self, columns: Any) -> tuple[float, ...]:
        """The items' masses in g."""
        return tuple(float(columns[place]) * self.scale[place] * self.unit for place in range(self.count))
