"""Adding a row unless there is one of its key already, also while another is being added at the same time."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Table
from sqlalchemy.dialects import postgresql, sqlite


def insert_once(connection: Connection, table: Table, row: Mapping[str, Any]) -> bool:
    """Whether the row was added. On PostgreSQL a row of the same key that is being added is waited for."""
    dialect = postgresql if connection.dialect.name == "postgresql" else sqlite
    adding = dialect.insert(table).values(dict(row)).on_conflict_do_nothing()
    # What comes back is counted, for the count of rows that the driver tells is not the same on both.
    return connection.execute(adding.returning(*table.primary_key)).first() is not None
