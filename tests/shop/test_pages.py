"""Pages of what is stored: the same lists and totals whether or not the database had to count."""

from __future__ import annotations

import pytest

from alloyref.shop import keys
from alloyref.shop.database import Database
from alloyref.shop.entries import ALLOYS
from tests.shop.asked import asked

IDS = [f"house-{number}" for number in range(5)]


@pytest.fixture
def stored(database: Database) -> Database:
    """A database with five alloys."""
    key, _ = keys.create(database, "till", ("write",))
    with database.write() as connection:
        for id_ in IDS:
            ALLOYS.create(connection, id_, "{}", key.id)
    return database


@pytest.mark.parametrize("size", range(1, 8))
def test_every_page_knows_how_many_there_are(stored: Database, size: int) -> None:
    for page in range(1, 8):
        with stored.read() as connection:
            found, total = ALLOYS.page(connection, page, size)
        assert [one.id for one in found] == IDS[(page - 1) * size :][:size]
        assert total == len(IDS)


def test_what_a_page_tells_is_not_counted(stored: Database) -> None:
    for page, size, statements in ((1, 6, 1), (2, 3, 1), (1, 5, 2), (2, 5, 2), (1, 2, 2)):
        with asked(stored) as found, stored.read() as connection:
            ALLOYS.page(connection, page, size)
        assert len(found) == 1 + statements, (page, size)


def test_an_empty_list_has_no_entries(database: Database) -> None:
    keys.listed(database)  # the schema is looked at once
    with asked(database) as found, database.read() as connection:
        assert ALLOYS.page(connection, 1, 5) == ((), 0)
    assert len(found) == 2
