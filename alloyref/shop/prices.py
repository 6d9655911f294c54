"""Questions to the dated quotes."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import ColumnElement, func, select

from alloyref.shop.tables import prices


def conditions(metal: str | None, currency: str | None, at: str | None) -> list[ColumnElement[bool]]:
    """Of one metal, in one currency, and with `at` only the latest quote of each that was made by that day."""
    column = prices.c
    found: list[ColumnElement[bool]] = [
        one == value for one, value in ((column.metal, metal), (column.currency, currency)) if value is not None
    ]
    if at is not None:
        latest_first = (column.date.desc(), column.created.desc(), column.id.desc())
        place = func.row_number().over(partition_by=(column.metal, column.currency), order_by=latest_first)
        ranked = select(column.id, place.label("place")).where(column.deleted.is_(None), column.date <= at).subquery()
        found.append(column.id.in_(select(ranked.c.id).where(ranked.c.place == 1)))
    return found


def newest_first() -> Sequence[ColumnElement[str]]:
    """The order quotes are listed in."""
    return (prices.c.date.desc(), prices.c.metal, prices.c.created.desc())
