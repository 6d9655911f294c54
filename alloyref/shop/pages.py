"""One page of a list, and how much there is in all."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Select, func, select


def page_of(connection: Connection, ordered: Select[Any], page: int, size: int) -> tuple[Sequence[Any], int]:
    """The rows of one page, from 1, and how many rows there are; counted only where the page does not tell."""
    before = (page - 1) * size
    rows = connection.execute(ordered.limit(size).offset(before)).all()
    if len(rows) < size and (rows or page == 1):
        return rows, before + len(rows)
    return rows, connection.scalar(select(func.count()).select_from(ordered.order_by(None).subquery())) or 0
