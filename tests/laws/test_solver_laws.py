"""Laws of the solver: an answer keeps the rows, and its margins of a row or a column bound what the cost becomes."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.charge.highs import Column, Least, Row, least

LAW = settings(max_examples=60, derandomize=True, deadline=None)
CLOSE = 1e-6
Programme = tuple[list[Column], list[Row]]


@st.composite
def programmes(draw: st.DrawFn) -> Programme:
    """Some columns that cost something, under rows of small whole numbers."""
    highs = st.sampled_from([1.0, 4.0, 9.0, inf])
    columns = [Column(float(draw(st.integers(0, 9))), 0.0, draw(highs)) for _ in range(draw(st.integers(1, 5)))]
    parts = st.lists(st.integers(-4, 4), min_size=len(columns), max_size=len(columns))
    rows = [
        Row({place: float(part) for place, part in enumerate(draw(parts)) if part}, float(draw(st.integers(-9, 9))))
        for _ in range(draw(st.integers(1, 4)))
    ]
    return columns, rows


def solved(columns: list[Column], rows: list[Row], whole: range = range(0)) -> Least | None:
    """The least cost, searched to its end."""
    return least(columns, rows, {"mip_rel_gap": 0.0}, "cut short", whole)


@LAW
@given(programme=programmes())
def test_an_answer_keeps_the_rows_and_costs_what_it_says(programme: Programme) -> None:
    columns, rows = programme
    cut, whole = solved(*programme), solved(*programme, whole=range(len(columns)))
    for found in (cut, whole):
        if found is None:
            continue
        pairs = list(zip(columns, found.columns, strict=True))
        assert all(one.low - CLOSE <= value <= one.high + CLOSE for one, value in pairs)
        for row, room in zip(rows, found.room, strict=True):
            reached = sum(part * found.columns[place] for place, part in row.parts.items())
            assert reached <= row.most + CLOSE
            assert abs(row.most - reached - room) <= CLOSE
        assert abs(sum(one.cost * value for one, value in pairs) - found.cost) <= CLOSE
        assert found.floor <= found.cost + CLOSE
    if whole is not None:
        assert cut is not None
        assert cut.cost <= whole.floor + CLOSE
        assert all(abs(value - round(value)) <= CLOSE for value in whole.columns)


@LAW
@given(programme=programmes(), by=st.integers(-3, 3))
def test_a_row_moved_costs_no_less_than_its_margin_says(programme: Programme, by: int) -> None:
    columns, rows = programme
    before = solved(columns, rows)
    if before is None:
        return
    for place, (row, marginal) in enumerate(zip(rows, before.marginals, strict=True)):
        after = solved(columns, [*rows[:place], replace(row, most=row.most + by), *rows[place + 1 :]])
        assert marginal <= CLOSE
        assert after is None or after.cost >= before.cost + marginal * by - CLOSE


@LAW
@given(programme=programmes(), by=st.integers(1, 3))
def test_a_column_brought_in_costs_no_less_than_it_was_said_to(programme: Programme, by: int) -> None:
    columns, rows = programme
    before = solved(columns, rows)
    if before is None:
        return
    for place, (one, value, reduced) in enumerate(zip(columns, before.columns, before.reduced, strict=True)):
        if value > CLOSE or one.high < by:
            continue
        after = solved([*columns[:place], replace(one, low=float(by)), *columns[place + 1 :]], rows)
        assert reduced >= -CLOSE
        assert after is None or after.cost >= before.cost + reduced * by - CLOSE
