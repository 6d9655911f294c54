"""`alloyref db`: the database of the shop's own data: its schema, backups, and whether it holds."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from alloyref.cli.data import settings_or_end
from alloyref.shop import backup as copies
from alloyref.shop.database import Database, open_database
from alloyref.shop.errors import ShopError
from alloyref.shop.migrate import upgrade
from alloyref.shop.sqlite_file import EMPTY
from alloyref.shop.tables import HEAD

ON_POSTGRES = (
    "This command is for SQLite. PostgreSQL has its own tools: pg_dump --format=custom makes a copy while the "
    "service runs, pg_restore --clean puts it back; after that run alloyref db check."
)


@contextmanager
def opened(*, bounded: bool = True) -> Iterator[Database]:
    """The database of the settings; what goes wrong with it ends the command with 1 and a message."""
    database = open_database(settings_or_end().database, bounded=bounded)
    try:
        yield database
    except (ShopError, copies.BackupError) as error:
        click.echo(str(error), err=True)
        sys.exit(1)
    finally:
        database.close()


@contextmanager
def opened_file() -> Iterator[Database]:
    """The same, refusing PostgreSQL."""
    with opened() as database:
        if not database.is_sqlite:
            raise click.UsageError(ON_POSTGRES)
        yield database


@click.group()
def db() -> None:
    """Keep the database of the shop's own data.

    \b
    Example:
      alloyref db check
    """


@db.command("upgrade")
def upgrade_schema() -> None:
    """Bring the schema up to what this program works with.

    `alloyref serve` does so by itself for SQLite. For PostgreSQL run this once for all hosts, before their services
    are started anew; a service on an older schema says in /readyz that it is not ready.

    \b
    Example:
      alloyref db upgrade
    """
    with opened(bounded=False) as database:
        before, after = upgrade(database)
    click.echo(f"schema {after}" if before == after else f"schema {before or 'none'} -> {after}")


@db.command("backup")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
def backup_file(file: Path) -> None:
    """Copy the database to FILE while the service runs; the copy is checked before it gets its name.

    \b
    Example:
      alloyref db backup shop-2026-11-25.sqlite
    """
    with opened_file() as database:
        copies.backup(database, file)
    click.echo(f"{file} holds")


@db.command("restore")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--replace", is_flag=True, help="Put it in the place of the present database, a copy of which is kept.")
def restore_file(file: Path, replace: bool) -> None:
    """Put the backup FILE in the place of the database. Keys revoked since then stay revoked.

    \b
    Example:
      alloyref db restore shop-2026-11-25.sqlite --replace
    """
    with opened_file() as database:
        kept = copies.restore(database, file, replace=replace)
        before, after = upgrade(database)
    if kept is not None:
        click.echo(f"what was there is kept in {kept}")
        if not copies.holds(kept):
            click.echo("it was damaged: see alloyref keys list for keys that were revoked since the backup", err=True)
    click.echo(f"restored{'' if before == after else f', schema {before} -> {after}'}")


@db.command("check")
def check() -> None:
    """Prove that the database answers, has the schema of this program and, for SQLite, is whole.

    \b
    Example:
      alloyref db check
    """
    with opened() as database:
        rows = _checked_file(database.file) if database.is_sqlite else copies.counts(database)
    click.echo(f"schema {HEAD} holds: {', '.join(f'{count} {name}' for name, count in rows.items())}")


def _checked_file(file: Path) -> dict[str, int]:
    """The rows of a SQLite database that holds, read without writing to it; faults end the command with 1."""
    if not file.is_file():
        raise copies.BackupError(f"there is no database at {file}: run alloyref db upgrade")
    if file.stat().st_size == 0:
        raise copies.BackupError(EMPTY)
    with copies.opened_to_read(file) as copy:
        found = copies.faults_of(copy)
        for fault in found:
            click.echo(f"fault: {fault}", err=True)
        if found:
            sys.exit(1)
        return copies.counts(copy)
