"""What a database is asked, counted."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import event

from alloyref.shop.database import Database


@contextmanager
def asked(database: Database) -> Iterator[list[str]]:
    """The statements sent within, and `begin` for each transaction, in their order."""
    found: list[str] = []

    def begun(_: Any) -> None:
        found.append("begin")

    def sent(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if not statement.startswith("BEGIN"):
            found.append(statement)

    event.listen(database.engine, "begin", begun)
    event.listen(database.engine, "before_cursor_execute", sent)
    try:
        yield found
    finally:
        event.remove(database.engine, "begin", begun)
        event.remove(database.engine, "before_cursor_execute", sent)
