"""The linear programme: least cost, and where that is impossible the least change.

Columns are the items' masses and the whole's, in units of the mass wanted, so that a gram and a kilogram are
solved alike. A whole lot is a column of 0 or 1.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from time import monotonic

from alloyref.domain.charge.highs import Column, Least, Row, least
from alloyref.domain.charge.model import Limit, Problem, Rule
from alloyref.domain.errors import NotAvailable

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
    found, proven, floor = cut, True, cut.floor
    if programme.has_whole:
        chosen = programme.choose_whole(costs, time.left(SECONDS))
        stands = None if chosen is None else programme.minimise(costs, whole=chosen.columns)
        if chosen is None or stands is None:
            return None
        found, proven, floor = stands, chosen.proven, max(floor, chosen.floor)
    total = found.columns[programme.count]
    limits = problem.limits
    savings = [
        max(0.0, -marginal) * scale * (total * programme.unit if limit.relative else 1.0)
        for marginal, limit in zip(found.marginals, limits, strict=False)
    ]
    return Best(
        programme.masses(found.columns),
        floor * scale * programme.unit,
        cut.cost * scale * programme.unit,
        tuple(room < BINDING for room in found.room[: len(limits)]),
        tuple(savings),
        tuple(max(0.0, one) * scale for one in cut.reduced[: programme.count]),
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
        if answer is None or answer.columns[programme.count] < LEAST_PART:
            continue
        found.append((answer.cost, Near(programme.masses(answer.columns), movable)))
    return tuple(near for _, near in sorted(found, key=lambda pair: pair[0]))


class _Programme:
    """The matrix of a problem; with `movable` each limit has a column by which it may be missed, if it may move."""

    def __init__(self, problem: Problem, movable: Sequence[bool] = ()) -> None:
        self.problem = problem
        self.count = len(problem.items)
        self.unit = float(problem.mass)
        self.whole = {place for place, one in enumerate(problem.items) if one.whole}
        self.has_whole = any(one.whole and not one.must for one in problem.items)
        self.scale = [
            float(one.available) / self.unit if one.whole and one.available is not None else 1.0
            for one in problem.items
        ]
        self.slacks = [
            Column(weight_of(limit), 0.0, inf if moves else 0.0)
            for limit, moves in zip(problem.limits, movable, strict=False)
        ]
        the_whole = Row({**dict(enumerate(self.scale)), self.count: -1.0}, 0.0, 0.0)
        self.rows = [*(self._row(place, limit) for place, limit in enumerate(problem.limits)), the_whole]

    def _row(self, place: int, limit: Limit) -> Row:
        """A limit as a sum that is at most something."""
        row = {one: -limit.sign * float(part) * self.scale[one] for one, part in (limit.parts or {}).items()}
        whole = (1.0 if limit.parts is None else 0.0) - (float(limit.bound) if limit.relative else 0.0)
        row[self.count] = -limit.sign * whole
        if self.slacks:
            row[self.count + 1 + place] = -1.0
        return Row(row, 0.0 if limit.relative else -limit.sign * float(limit.bound) / self.unit)

    def minimise(self, costs: Sequence[float], whole: Sequence[float] = ()) -> Least | None:
        """The least cost, or None where there is no recipe; whole lots as they were chosen, or cut if need be."""
        columns = self._columns(costs)
        for place in self.whole if whole else ():
            stands = float(round(whole[place]))
            columns[place] = Column(columns[place].cost, stands, stands)
        return least(columns, self.rows, OPTIONS, CUT_SHORT)

    def choose_whole(self, costs: Sequence[float], seconds: float) -> Least | None:
        """Which whole lots go in, by branch and bound; the best found when a bound on branches is reached."""
        options = {"mip_max_nodes": NODES, "time_limit": seconds, "mip_rel_gap": 0.0}
        return least(self._columns(costs), self.rows, options, CUT_SHORT, self.whole)

    def any_recipe(self, seconds: float) -> Least | None:
        """The recipe that misses the limits least, whatever it costs; None where the fixed ones allow none."""
        free = [0.0] * self.count
        return self.choose_whole(free, seconds) if self.has_whole else self.minimise(free)

    def _columns(self, costs: Sequence[float]) -> list[Column]:
        """The items, then the whole, then what limits are missed by; what must go in does."""
        items = [
            Column(cost * scale, float(one.must), 1.0 if one.whole else inf)
            for cost, scale, one in zip(costs, self.scale, self.problem.items, strict=True)
        ]
        return [*items, Column(0.0, 0.0, inf), *self.slacks]

    def masses(self, columns: Sequence[float]) -> tuple[float, ...]:
        """The items' masses in g."""
        return tuple(columns[place] * self.scale[place] * self.unit for place in range(self.count))
