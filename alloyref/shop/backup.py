"""Copies of a SQLite database while it is in use, proof that one holds, and putting one back."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from sqlalchemy import NullPool, create_engine, func, select
from sqlalchemy.exc import SQLAlchemyError

from alloyref.shop import tables
from alloyref.shop.database import Database
from alloyref.shop.sqlite_file import index_of, log_of, name_aside, set_aside

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

    Keys revoked since the backup stay revoked. What was there and does not hold is moved aside as it is. Raises
    `BackupError` if the backup does not hold, or if there is a database already and `replace` was not said.
    """
    _prove(source)
    file = database.file
    if not file.exists():
        _put(source, file)
        return None
    if not replace:
        raise BackupError(f"{file} exists; say --replace to put the backup in its place")
    if not holds(file):
        kept = set_aside(file)
        _put(source, file)
    else:
        kept = name_aside(file)
        backup(database, kept)
        _copy(source, file)
    # A database that was damaged cannot always tell.
    with suppress(sqlite3.DatabaseError):
        _revoke_again(file, kept)
    return kept


def holds(path: Path) -> bool:
    """Whether a file is a whole database of this program."""
    try:
        _prove(path)
    except BackupError:
        return False
    return True


def faults(database: Database) -> list[str]:
    """What is wrong with a SQLite database: damage, references to nothing."""
    with opened_to_read(database.file) as copy:
        return faults_of(copy)


def counts(database: Database) -> dict[str, int]:
    """How many rows each table holds."""
    with database.read() as connection:
        return {
            table.name.removeprefix("shop_"): connection.scalar(select(func.count()).select_from(table)) or 0
            for table in COUNTED
        }


@contextmanager
def opened_to_read(path: Path) -> Iterator[Database]:
    """A SQLite database to read, also where nothing may be written, and with nothing left beside it.

    Where a service uses it, its locks are kept; a file with no log is read as it lies there; a log that was copied
    along is read from a copy, since reading it takes one more file.
    """
    log, index = log_of(path), index_of(path)
    left = [one for one in (log, path.with_name(f"{path.name}-journal")) if one.exists() and one.stat().st_size]
    with tempfile.TemporaryDirectory(prefix="alloyref-") as folder:
        if not left:
            where, mode = path, "mode=ro&immutable=1"
        elif log.exists() and index.exists():
            where, mode = path, "mode=ro"
        else:
            where, mode = Path(folder) / path.name, "mode=rw"
            for one in (path, *left):
                shutil.copyfile(one, where.with_name(one.name))
        uri = f"{where.absolute().as_uri()}?{mode}"
        engine = create_engine("sqlite://", creator=lambda: sqlite3.connect(uri, uri=True), poolclass=NullPool)
        yield Database(engine)


def _copy(source: Path, target: Path) -> None:
    """Copy page by page with SQLite's own backup, which takes the locks that make the copy whole."""
    try:
        with opened_to_read(source) as reading, closing(sqlite3.connect(target)) as writing:
            taken = reading.engine.raw_connection()
            with closing(taken):
                taken.driver_connection.backup(writing)  # type: ignore[union-attr]
    except (sqlite3.Error, SQLAlchemyError) as error:
        raise BackupError(f"{source} could not be copied to {target}: {_cause(error)}") from None


def _put(source: Path, target: Path) -> None:
    """Copy a backup to a place where nothing is; it gets its name once it is whole."""
    target.absolute().parent.mkdir(parents=True, exist_ok=True)
    set_aside(target)
    building = target.with_name(f"{target.name}.{os.getpid()}")
    try:
        _copy(source, building)
        os.link(building, target)
    finally:
        building.unlink(missing_ok=True)


def _prove(path: Path) -> None:
    """Refuse a file that is no whole database of this program."""
    if not path.is_file():
        raise BackupError(f"there is no file {path}")
    with opened_to_read(path) as copy:
        found = faults_of(copy)
        if found:
            raise BackupError(f"{path} does not hold: {'; '.join(found)}")
        if copy.revision() is None:
            raise BackupError(f"{path} is a database, but none of this program's")


def faults_of(copy: Database) -> list[str]:
    """As `faults`, of a database that is open to read."""
    try:
        with copy.engine.connect() as connection:
            rows = connection.exec_driver_sql("PRAGMA integrity_check").scalars()
            found = [str(row) for row in rows if row != "ok"]
            dangling = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    except SQLAlchemyError as error:  # too damaged to be looked through, or no database at all
        return [_cause(error)]
    return found + [f"row {row[1]} of {row[0]} refers to nothing in {row[2]}" for row in dangling]


def _cause(error: Exception) -> str:
    """What SQLite said, without the statement."""
    return str(getattr(error, "orig", error))


def _revoke_again(restored: Path, kept: Path) -> None:
    """A restored backup must not bring back a key that was revoked after it was made."""
    with closing(sqlite3.connect(restored)) as connection, connection:
        connection.execute("ATTACH DATABASE ? AS kept", (str(kept),))
        connection.execute(
            "UPDATE shop_keys SET revoked = (SELECT revoked FROM kept.shop_keys AS old WHERE old.id = shop_keys.id) "
            "WHERE revoked IS NULL AND id IN (SELECT id FROM kept.shop_keys WHERE revoked IS NOT NULL)"
        )
