"""A backup is whole, holds, and can be put back; nothing is written over by chance."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import insert, select, update

from alloyref.shop import tables
from alloyref.shop.backup import BackupError, backup, counts, faults, restore
from alloyref.shop.database import Database, address, open_database

KEY = {"id": "0" * 16, "digest": "d" * 64, "name": "till", "scopes": "read", "in_query": False, "created": "t"}


def add(database: Database, *names: str) -> None:
    """Write alloys."""
    with database.write() as connection:
        for name in names:
            row = {"id": name, "version": 1, "document": "{}", "created": "t", "changed": "t"}
            connection.execute(insert(tables.alloys), [row])


def names(database: Database) -> list[str]:
    """The alloys there are."""
    with database.read() as connection:
        return list(connection.scalars(select(tables.alloys.c.id).order_by(tables.alloys.c.id)))


def test_a_backup_made_while_others_write_is_whole_and_comes_back(file: Database, tmp_path: Path) -> None:
    add(file, "a", "b")
    copy = tmp_path / "copy.sqlite"
    with file.write() as writing:
        writing.execute(update(tables.alloys).values(version=2))
        backup(file, copy)
    add(file, "c")
    kept = restore(file, copy, replace=True)
    # The same open database, as a running service has it, sees what was put back.
    assert names(file) == ["a", "b"]
    assert faults(file) == []
    assert kept is not None
    before = open_database(address(f"sqlite:///{kept}", tmp_path))
    assert names(before) == ["a", "b", "c"]
    before.close()


def test_it_comes_back_on_another_machine(file: Database, tmp_path: Path) -> None:
    add(file, "a")
    backup(file, tmp_path / "copy.sqlite")
    elsewhere = open_database(address("", tmp_path / "new"))
    assert restore(elsewhere, tmp_path / "copy.sqlite") is None
    assert names(elsewhere) == ["a"]
    assert counts(elsewhere) == {"alloys": 1, "prices": 0, "records": 0, "changes": 0, "keys": 0}
    elsewhere.close()


def test_a_key_revoked_since_then_stays_revoked(file: Database, tmp_path: Path) -> None:
    with file.write() as connection:
        connection.execute(insert(tables.keys), [KEY])
    backup(file, tmp_path / "copy.sqlite")
    with file.write() as connection:
        connection.execute(update(tables.keys).values(revoked="then"))
    restore(file, tmp_path / "copy.sqlite", replace=True)
    with file.read() as connection:
        assert connection.scalar(select(tables.keys.c.revoked)) == "then"


def test_nothing_is_written_over(file: Database, tmp_path: Path) -> None:
    copy = tmp_path / "copy.sqlite"
    backup(file, copy)
    before = copy.read_bytes()
    add(file, "a")
    with pytest.raises(BackupError, match="exists"):
        backup(file, copy)
    with pytest.raises(BackupError, match="--replace"):
        restore(file, copy)
    assert copy.read_bytes() == before
    assert names(file) == ["a"]
    assert [one.name for one in tmp_path.iterdir() if not one.name.startswith(("shop.sqlite", "copy.sqlite"))] == []


def test_a_damaged_backup_is_refused_and_changes_nothing(file: Database, tmp_path: Path) -> None:
    add(file, *(f"a{number}" for number in range(200)))
    copy = tmp_path / "copy.sqlite"
    backup(file, copy)
    content = bytearray(copy.read_bytes())
    content[len(content) // 2 : len(content) // 2 + 3000] = b"\x07" * 3000
    copy.write_bytes(content)
    with pytest.raises(BackupError):
        restore(file, copy, replace=True)
    assert len(names(file)) == 200


def test_what_is_no_backup_is_refused(file: Database, tmp_path: Path) -> None:
    other, noise = tmp_path / "other.sqlite", tmp_path / "noise"
    connection = sqlite3.connect(other)
    connection.execute("CREATE TABLE t (a)")
    connection.close()
    noise.write_bytes(b"noise" * 1000)
    for wrong in (other, noise, tmp_path / "missing"):
        with pytest.raises(BackupError):
            restore(file, wrong, replace=True)


def test_rows_that_refer_to_nothing_are_told(file: Database) -> None:
    connection = sqlite3.connect(file.file)
    connection.execute("PRAGMA foreign_keys = OFF")
    connection.execute(
        "INSERT INTO shop_changes (kind, entry, version, action, at, key_id) VALUES ('a', 'b', 1, 'c', 'd', 'none')"
    )
    connection.commit()
    connection.close()
    assert faults(file) == ["row 1 of shop_changes refers to nothing in shop_keys"]
