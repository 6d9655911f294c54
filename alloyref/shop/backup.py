"""Copies of a SQLite database while it is in use, proof that one holds, and putting one back."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, select
from sqlalchemy.engine import URL

from alloyref.shop import tables
from alloyref.shop.database import Database, open_database

COUNTED = (tables.alloys, tables.prices, tables.records, tables.changes, tables.keys)


class BackupError(Exception):
    """A copy that cannot be made, does not hold, or would be put over something."""


def backup(database: Database, target: Path) -> None:
    """Copy the database to a new file, whole, while others read and write; `BackupError` if the file exists."""
    if target.exists():
        raise BackupError(f"{target} exists; a backup never writes over another")
    if not database.file.is_file():
        raise BackupError(f"there is no database at {database.file}")
    building = target.with_name(f"{target.name}.{os.getpid()}")
    try:
        _copy(database.file, building)
        _prove(building)
        # A link, unlike a move, fails if the target has come to exist meanwhile.
        os.link(building, target)
    finally:
        building.unlink(missing_ok=True)


def restore(database: Database, source: Path, *, replace: bool = False) -> Path | None:
    """Put a backup in the place of the database, also while it is in use; the copy kept of what was there.

    Keys revoked since the backup stay revoked. Raises `BackupError` if the backup does not hold, or if there
    is a database already and `replace` was not said.
    """
    _prove(source)
    if not database.file.is_file():
        _copy(source, database.file)
        return None
    if not replace:
        raise BackupError(f"{database.file} exists; say --replace to put the backup in its place")
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
    kept = database.file.with_name(f"{database.file.stem}-before-restore-{stamp}.sqlite")
    backup(database, kept)
    _copy(source, database.file)
    _revoke_again(database.file, kept)
    return kept


def faults(database: Database) -> list[str]:
    """What is wrong with a SQLite database: damage, references to nothing."""
    with closing(sqlite3.connect(f"{database.file.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        return _faults(connection)


def counts(database: Database) -> dict[str, int]:
    """How many rows each table holds."""
    with database.read() as connection:
        return {
            table.name.removeprefix("shop_"): connection.scalar(select(func.count()).select_from(table)) or 0
            for table in COUNTED
        }


def _copy(source: Path, target: Path) -> None:
    """Copy page by page with SQLite's own backup, which takes the locks that make the copy whole."""
    try:
        with (
            closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as reading,
            closing(sqlite3.connect(target)) as writing,
        ):
            reading.backup(writing)
    except sqlite3.Error as error:
        raise BackupError(f"{source} could not be copied to {target}: {error}") from None


def _prove(path: Path) -> None:
    """Refuse a file that is no whole database of this program."""
    if not path.is_file():
        raise BackupError(f"there is no file {path}")
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        found = _faults(connection)
    if found:
        raise BackupError(f"{path} does not hold: {'; '.join(found)}")
    copy = open_database(URL.create("sqlite", database=str(path)))
    try:
        if copy.revision() is None:
            raise BackupError(f"{path} is a database, but none of this program's")
    finally:
        copy.close()


def _faults(connection: sqlite3.Connection) -> list[str]:
    try:
        found = [str(row[0]) for row in connection.execute("PRAGMA integrity_check") if row[0] != "ok"]
        dangling = connection.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.DatabaseError as error:  # too damaged to be looked through, or no database at all
        return [str(error)]
    return found + [f"row {row[1]} of {row[0]} refers to nothing in {row[2]}" for row in dangling]


def _revoke_again(restored: Path, kept: Path) -> None:
    """A restored backup must not bring back a key that was revoked after it was made."""
    with closing(sqlite3.connect(restored)) as connection, connection:
        connection.execute("ATTACH DATABASE ? AS kept", (str(kept),))
        connection.execute(
            "UPDATE shop_keys SET revoked = (SELECT revoked FROM kept.shop_keys AS old WHERE old.id = shop_keys.id) "
            "WHERE revoked IS NULL AND id IN (SELECT id FROM kept.shop_keys WHERE revoked IS NOT NULL)"
        )
