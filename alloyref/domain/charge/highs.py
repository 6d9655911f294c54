"""HiGHS, the solver of a charge: the least cost of some columns that keep some rows.

It is called by highspy, which HiGHS publishes itself (8 MB, and NumPy). That replaces SciPy's `linprog` and `milp`
(143 MB), which hand the same programme to the same solver. HiGHS gives up Python's lock while it searches.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate
from math import inf
from typing import TYPE_CHECKING

from alloyref.domain.errors import Issue, NotAvailable

if TYPE_CHECKING:
    from highspy import HighsLp

Option = bool | int | float | str
ALWAYS: Mapping[str, Option] = {"output_flag": False, "threads": 1, "parallel": "off"}
"""HiGHS prints nothing, and searches on the thread that calls it: more would take the cores of other requests."""


@dataclass(frozen=True, slots=True)
class Column:
    """A number from `low` to `high` that is looked for, and what each 1 of it costs."""

    cost: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Row:
    """What a sum lies between; `parts` weighs the columns in it, by their places."""

    parts: Mapping[int, float]
    most: float
    least: float = -inf


@dataclass(frozen=True, slots=True)
class Least:
    """The columns of least cost, that cost, and the floor: no columns that keep the rows cost less.

    `proven` is false where the search was cut short, and `late` says that the clock did it. `room` is how far each
    row is below its most. Where no column is whole, `marginals` is by how much the cost grows for 1 more of a row's
    most, and `reduced` for 1 more of a column that is at its low.
    """

    columns: Sequence[float]
    cost: float
    floor: float
    proven: bool
    late: bool
    room: Sequence[float]
    marginals: Sequence[float]
    reduced: Sequence[float]


def least(
    columns: Sequence[Column],
    rows: Sequence[Row],
    options: Mapping[str, Option],
    cut_short: str,
    whole: Collection[int] = (),
) -> Least | None:
    """The columns of least cost that keep the rows, or None if none do; those at the places `whole` take no fraction.

    `NotAvailable`, in the words given, if HiGHS stopped before it knew.
    """
    import highspy  # noqa: PLC0415 - at start it would cost every command 25 ms

    # Not `Highs`: that prints a line as it is made, before it can be told to print nothing.
    solver = highspy._core._Highs()
    asked = highspy.HighsOptions()
    for name, value in {**ALWAYS, **options}.items():
        setattr(asked, name, value)
    solver.passOptions(asked)
    solver.passModel(_programme(columns, rows, whole))
    solver.run()
    status, known = solver.getModelStatus(), highspy.HighsModelStatus
    # No column's cost is without end in a charge, so what HiGHS calls one or the other has no answer.
    if status in (known.kInfeasible, known.kUnboundedOrInfeasible):
        return None
    info, found = solver.getInfo(), solver.getSolution()
    is_feasible = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
    if not (status == known.kOptimal or (whole and is_feasible)):
        raise NotAvailable(Issue("cut-short", cut_short))
    cost = info.objective_function_value
    return Least(
        found.col_value,
        cost,
        info.mip_dual_bound if whole else cost,
        status == known.kOptimal,
        status == known.kTimeLimit,
        [row.most - value for row, value in zip(rows, found.row_value, strict=True)],
        found.row_dual,
        found.col_dual,
    )


def _programme(columns: Sequence[Column], rows: Sequence[Row], whole: Collection[int]) -> HighsLp:
    import highspy  # noqa: PLC0415 - see `least`

    made = highspy.HighsLp()
    made.num_col_, made.num_row_ = len(columns), len(rows)
    made.col_cost_ = [one.cost for one in columns]
    made.col_lower_, made.col_upper_ = [one.low for one in columns], [one.high for one in columns]
    made.row_lower_, made.row_upper_ = [one.least for one in rows], [one.most for one in rows]
    if whole:
        kinds = highspy.HighsVarType
        made.integrality_ = [kinds.kInteger if place in whole else kinds.kContinuous for place in range(len(columns))]
    matrix = made.a_matrix_
    matrix.format_ = highspy.MatrixFormat.kRowwise
    matrix.num_col_, matrix.num_row_ = len(columns), len(rows)
    matrix.start_ = list(accumulate((len(one.parts) for one in rows), initial=0))
    matrix.index_ = [place for one in rows for place in one.parts]
    matrix.value_ = [part for one in rows for part in one.parts.values()]
    return made
