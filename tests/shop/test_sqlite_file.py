"""The file of a SQLite database: what is taken for a shop, and what happens when it is taken away or damaged."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from sqlalchemy import insert, select

from alloyref.shop import tables
from alloyref.shop.backup import backup, counts, faults, restore
from alloyref.shop.database import Database, address, open_database
from alloyref.shop.errors import Unavailable
from alloyref.shop.migrate import upgrade
from alloyref.shop.sqlite_file import index_of, log_of

ROW = {"version": 1, "document": "{}", "created": "t", "changed": "t"}


def add(database: Database, *names: str) -> None:
    """Write alloys."""
    with database.write() as connection:
        connection.execute(insert(tables.alloys), [{**ROW, "id": name} for name in names])


def names(database: Database) -> list[str]:
    """The alloys there are."""
    with database.read() as connection:
        return list(connection.scalars(select(tables.alloys.c.id).order_by(tables.alloys.c.id)))


def unavailable(database: Database, reason: str) -> None:
    """Reading, writing and readiness are all refused for a reason."""
    for use in (lambda: names(database), lambda: add(database, "lost"), database.check_ready):
        with pytest.raises(Unavailable, match=reason):
            use()


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """Nothing may be written in a folder, by root either: it is mounted over itself."""
    if os.geteuid() != 0:
        modes = {one: one.stat().st_mode for one in (folder, *folder.iterdir())}
        for one in modes:
            one.chmod(0o555)
        try:
            yield
        finally:
            for one, mode in modes.items():
                one.chmod(mode)
        return
    for command in (["mount", "--bind", folder, folder], ["mount", "-o", "remount,bind,ro", folder]):
        if subprocess.run([str(word) for word in command], capture_output=True, check=False).returncode:
            pytest.skip("nothing can be mounted here")
    try:
        yield
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


@pytest.fixture
def copy(file: Database, tmp_path: Path) -> Path:
    """A backup with one alloy, in a folder of its own."""
    add(file, "a")
    (tmp_path / "kept").mkdir()
    backup(file, tmp_path / "kept" / "copy.sqlite")
    return tmp_path / "kept" / "copy.sqlite"


def test_a_backup_is_read_where_nothing_may_be_written(copy: Path, tmp_path: Path) -> None:
    elsewhere = open_database(address("", tmp_path / "new"))
    with read_only(copy.parent):
        assert faults(open_database(address(f"sqlite:///{copy}", tmp_path))) == []
        restore(elsewhere, copy)
    assert names(elsewhere) == ["a"]
    assert [one.name for one in copy.parent.iterdir()] == [copy.name]


def test_nothing_is_left_beside_a_backup(copy: Path, tmp_path: Path) -> None:
    for folder in ("one", "two"):
        restore(open_database(address("", tmp_path / folder)), copy)
    assert [one.name for one in copy.parent.iterdir()] == [copy.name]


def test_what_is_still_in_a_log_that_was_copied_along_comes_back_too(file: Database, tmp_path: Path) -> None:
    add(file, "a")
    assert log_of(file.file).stat().st_size
    kept = tmp_path / "kept" / "copy.sqlite"
    kept.parent.mkdir()
    shutil.copy(file.file, kept)
    shutil.copy(log_of(file.file), log_of(kept))
    elsewhere = open_database(address("", tmp_path / "new"))
    with read_only(kept.parent):
        restore(elsewhere, kept)
    assert names(elsewhere) == ["a"]
    assert sorted(one.name for one in kept.parent.iterdir()) == [kept.name, log_of(kept).name]


def test_an_empty_file_is_no_shop_and_stays_as_it_is(copy: Path, tmp_path: Path) -> None:
    empty = tmp_path / "data" / "shop.sqlite"
    empty.parent.mkdir()
    empty.touch()
    database = open_database(address("", empty.parent))
    unavailable(database, "empty file")
    with pytest.raises(Unavailable, match="empty file"):
        upgrade(database)
    assert [(one.name, one.stat().st_size) for one in empty.parent.iterdir()] == [(empty.name, 0)]
    restore(database, copy, replace=True)
    assert names(database) == ["a"]


def test_a_program_killed_while_it_makes_the_file_leaves_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "link", killed)
    database = open_database(address("", tmp_path))
    with pytest.raises(KeyboardInterrupt):
        upgrade(database)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("page", [0, 1, -2], ids=["first", "second", "late"])
def test_a_damaged_file_is_unavailable_until_a_backup_is_put_back(file: Database, copy: Path, page: int) -> None:
    add(file, *(f"b{number}" for number in range(2000)))
    with closing(sqlite3.connect(file.file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    pages = file.file.stat().st_size // 4096
    with file.file.open("r+b") as stream:
        stream.seek(page % pages * 4096)
        stream.write(b"\x07" * 4096)
    with pytest.raises(Unavailable, match="damaged"):
        file.check_ready()
    unavailable(file, "damaged")
    fresh = open_database(file.engine.url)
    unavailable(fresh, "damaged")
    fresh.close()
    restore(file, copy, replace=True)
    file.check_ready()
    assert names(file) == ["a"]


def test_damage_that_only_a_statement_meets_is_told_as_such(file: Database) -> None:
    add(file, *(f"b{number}" for number in range(2000)))
    file.close()
    content = file.file.read_bytes()
    file.file.write_bytes(content[: len(content) // 2])
    with pytest.raises(Unavailable, match="damaged"), file._open() as connection:
        connection.execute(select(tables.alloys)).all()
    unavailable(file, "damaged")


def test_nothing_is_written_into_a_file_that_was_taken_away(file: Database, tmp_path: Path) -> None:
    add(file, "a")
    file.file.rename(tmp_path / "away")
    unavailable(file, "no longer in its place")
    assert not file.file.exists()
    (tmp_path / "away").rename(file.file)
    assert names(file) == ["a"]
    add(file, "b")


def test_a_file_taken_away_during_a_write_is_not_acknowledged(file: Database) -> None:
    def written() -> None:
        with file.write() as connection:
            connection.execute(insert(tables.alloys), [{**ROW, "id": "a"}])
            file.file.unlink()

    with pytest.raises(Unavailable, match="no longer in its place"):
        written()


def test_a_file_moved_over_the_one_in_use_is_not_taken_with_the_log_of_the_old(file: Database, copy: Path) -> None:
    add(file, "b")
    before = copy.read_bytes()
    copy.replace(file.file)
    unavailable(file, "replaced")
    assert file.file.read_bytes() == before


@pytest.mark.parametrize("left", [(), (log_of, index_of)], ids=["with-its-log", "without"])
def test_after_a_restore_a_file_that_was_taken_away_is_used_again(
    file: Database, copy: Path, left: tuple[Callable[[Path], Path], ...]
) -> None:
    add(file, "b")
    file.file.unlink()
    for beside in left:
        beside(file.file).unlink()
    unavailable(file, "no longer in its place")
    restore(open_database(file.engine.url), copy)
    assert names(file) == ["a"]
    add(file, "c")
    other = open_database(file.engine.url)
    assert names(other) == ["a", "c"]
    assert counts(other)["alloys"] == 2
    other.close()


def test_a_log_taken_away_is_noticed(file: Database) -> None:
    add(file, "a")
    log_of(file.file).unlink()
    unavailable(file, "-wal file")


@pytest.mark.postgres
def test_a_database_made_anew_under_the_service_is_noticed(database: Database) -> None:
    if database.is_sqlite:
        pytest.skip("a file is looked at by itself")
    add(database, "a")
    with database.migrating() as connection:
        for table in reversed(tables.metadata.sorted_tables):
            connection.exec_driver_sql(f"DROP TABLE {table.name} CASCADE")
    with pytest.raises(Unavailable):
        add(database, "b")
