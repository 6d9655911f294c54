"""A database of one's own, on SQLite and on PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import URL

from alloyref.shop.database import Database, address, open_database
from alloyref.shop.migrate import upgrade


@pytest.fixture
def empty(where: URL) -> Iterator[Database]:
    """A database without a schema."""
    database = open_database(where)
    yield database
    database.close()


@pytest.fixture
def database(empty: Database) -> Database:
    """A database of the newest schema."""
    upgrade(empty)
    return empty


@pytest.fixture
def file(tmp_path: Path) -> Iterator[Database]:
    """A SQLite database of the newest schema."""
    made = open_database(address("", tmp_path))
    upgrade(made)
    yield made
    made.close()
