"""Migrations, up and down, on data, on both databases."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import URL, Table, delete, insert, inspect, select, text, update
from sqlalchemy.exc import IntegrityError

from alloyref.shop import tables
from alloyref.shop.database import Database, open_database
from alloyref.shop.errors import Unavailable
from alloyref.shop.migrate import MIGRATIONS, downgrade, upgrade

NOW = "2026-11-25T13:26:42.000001Z"
KEY = {"id": "0" * 16, "digest": "d" * 64, "name": "till ‰", "scopes": "read", "in_query": True, "created": NOW}
ALLOY = {"id": "saltmarsh-14", "version": 3, "document": '{"name": "ñ"}', "created": NOW, "changed": NOW}
PRICE = {
    "id": "p1",
    "version": 1,
    "metal": "Au",
    "currency": "EUR",
    "date": "2026-11-20",
    "document": "{}",
    "created": NOW,
    "changed": NOW,
}
CHANGE = {
    "kind": "alloys",
    "entry": "saltmarsh-14",
    "version": 3,
    "action": "replace",
    "at": NOW,
    "key_id": KEY["id"],
    "document": "{}",
}
RECORD = {
    "id": "r1",
    "calculation": "mass",
    "created": NOW,
    "key_id": KEY["id"],
    "dataset_version": "2026.11",
    "dataset_hash": "h",
    "program": "0.1.0",
    "request": "{}",
    "alloys": "{}",
    "answer": "{}",
    "digest": "d" * 64,
}
OLD: tuple[tuple[Table, Mapping[str, Any]], ...] = (
    (tables.keys, KEY),
    (tables.alloys, ALLOY),
    (tables.prices, PRICE),
    (tables.changes, CHANGE),
)


def fill(database: Database, *rows: tuple[Table, Mapping[str, Any]]) -> None:
    """Write rows, whatever the schema."""
    with database.migrating() as connection:
        for table, row in rows:
            connection.execute(insert(table), [row])


def held(database: Database, table: Table) -> list[dict[str, Any]]:
    """The rows of a table."""
    with database.migrating() as connection:
        return [dict(row) for row in connection.execute(select(table)).mappings()]


def test_the_newest_migration_is_the_one_the_program_works_with() -> None:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    config.set_main_option("path_separator", "os")
    assert ScriptDirectory.from_config(config).get_heads() == [tables.HEAD]


def test_the_migrations_make_the_tables_that_the_program_declares(database: Database) -> None:
    options = {"version_table": tables.VERSION_TABLE}
    with database.migrating() as connection:
        assert compare_metadata(MigrationContext.configure(connection, opts=options), tables.metadata) == []


def test_an_upgrade_from_nothing_and_again(empty: Database) -> None:
    assert empty.revision() is None
    assert upgrade(empty) == (None, tables.HEAD)
    assert upgrade(empty) == (tables.HEAD, tables.HEAD)


def test_data_come_through_an_upgrade_and_a_downgrade(empty: Database) -> None:
    upgrade(empty, "0001")
    fill(empty, *OLD)
    before = {table.name: held(empty, table) for table, _ in OLD}
    upgrade(empty)
    fill(empty, (tables.records, RECORD))
    assert {table.name: held(empty, table) for table, _ in OLD} == before
    assert downgrade(empty, "0001") == ("0002", "0001")
    assert {table.name: held(empty, table) for table, _ in OLD} == before
    upgrade(empty)
    assert held(empty, tables.records) == []
    assert {table.name: held(empty, table) for table, _ in OLD} == before


def test_the_way_back_to_nothing_leaves_nothing(database: Database) -> None:
    fill(database, *OLD, (tables.records, RECORD))
    assert downgrade(database, "base") == (tables.HEAD, None)
    assert set(inspect(database.engine).get_table_names()) <= {tables.VERSION_TABLE}
    upgrade(database)
    assert held(database, tables.alloys) == []


def test_two_upgrades_at_once_make_one(empty: Database, where: URL) -> None:
    others = [open_database(where, bounded=False) for _ in range(3)]
    with ThreadPoolExecutor(3) as pool:
        assert [after for _, after in pool.map(upgrade, others)] == [tables.HEAD] * 3
    for one in others:
        one.close()


def test_a_migration_that_fails_leaves_nothing_behind(empty: Database) -> None:
    upgrade(empty, "0001")
    with empty.migrating() as connection:
        connection.execute(text("CREATE TABLE shop_idempotency (a INTEGER)"))
    with pytest.raises(Exception, match=r"shop_idempotency.* already exists"):
        upgrade(empty)
    assert empty.revision() == "0001"
    assert "shop_records" not in inspect(empty.engine).get_table_names()


def test_a_database_of_a_newer_program_is_left_alone(database: Database) -> None:
    with database.migrating() as connection:
        connection.execute(text("UPDATE alloyref_version SET version_num = '9999'"))
    with pytest.raises(Unavailable, match="9999"):
        upgrade(database)
    with pytest.raises(Unavailable, match="9999"):
        database.check_ready()


def test_an_old_schema_is_not_ready_until_it_is_upgraded(empty: Database) -> None:
    for prepare in (lambda: None, lambda: upgrade(empty, "0001")):
        prepare()
        with pytest.raises(Unavailable, match="alloyref db upgrade"), empty.read():
            pass
    upgrade(empty)
    with empty.read() as connection:
        assert connection.execute(select(tables.alloys)).all() == []


@pytest.mark.parametrize(
    ("table", "row"), [(tables.changes, CHANGE), (tables.records, RECORD)], ids=["changes", "records"]
)
def test_history_and_records_cannot_be_changed_or_removed(database: Database, table: Table, row: Any) -> None:
    fill(database, (tables.keys, KEY), (table, row))
    before = held(database, table)
    for statement in (update(table).values(key_id=KEY["id"]), delete(table)):
        with pytest.raises(IntegrityError, match="never changed"), database.write() as connection:
            connection.execute(statement)
    assert held(database, table) == before


def test_a_reference_to_no_key_is_refused(database: Database) -> None:
    with pytest.raises(IntegrityError):
        fill(database, (tables.records, RECORD))
