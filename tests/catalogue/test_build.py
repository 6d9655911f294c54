"""Building the reference database: whole or not at all, once for each content, and never written to again."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import Connection, delete, insert
from sqlalchemy.exc import OperationalError

from alloyref.catalogue import build, tables
from alloyref.catalogue.build import ensure_built, open_read_only
from alloyref.catalogue.files import content_hash, data_folder, table_files
from alloyref.catalogue.reader import Dataset
from alloyref.catalogue.repository import open_store
from alloyref.catalogue.text import DatasetError


def test_it_is_built_once_and_named_after_its_content(tmp_path: Path) -> None:
    first = ensure_built(data_folder(), tmp_path / "new" / "folder")
    assert content_hash(data_folder()) in first.name
    stamp = first.stat()
    second = ensure_built(data_folder(), tmp_path / "new" / "folder")
    assert second == first
    assert (second.stat().st_mtime_ns, second.stat().st_ino) == (stamp.st_mtime_ns, stamp.st_ino)
    assert [path.name for path in first.parent.iterdir()] == [first.name]


def test_two_builds_hold_the_same(tmp_path: Path) -> None:
    dumps = []
    for name in ("one", "two"):
        with closing(sqlite3.connect(ensure_built(data_folder(), tmp_path / name))) as database:
            dumps.append(sorted(database.iterdump()))
    assert dumps[0] == dumps[1]
    assert len(dumps[0]) > 500


def test_a_changed_cell_is_another_content(copy: Path, tmp_path: Path) -> None:
    before = ensure_built(copy, tmp_path / "data")
    path = copy / "alloys.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("Sterling silver", "Sterling", 1), encoding="utf-8")
    after = ensure_built(copy, tmp_path / "data")
    assert after != before
    assert before.is_file()
    assert open_store(copy, tmp_path / "data").load()[0].alloys["sterling-silver"].metal.name == "Sterling"


def test_line_ends_are_not_content_but_file_names_are(copy: Path) -> None:
    before = content_hash(copy)
    for path in table_files(copy):
        path.write_bytes(path.read_bytes().replace(b"\r\n", b"\n").replace(b"\n", b"\r\n"))
    assert content_hash(copy) == before
    (copy / "publications" / "its-90.csv").rename(copy / "publications" / "its-91.csv")
    assert content_hash(copy) != before


def test_data_that_do_not_hold_leave_nothing_behind(copy: Path, tmp_path: Path) -> None:
    path = copy / "sources.csv"
    path.write_text(path.read_text(encoding="utf-8") + "idle,trade,A leaflet,,C,yes,\n", encoding="utf-8")
    with pytest.raises(DatasetError, match="idle"):
        ensure_built(copy, tmp_path / "data")
    assert not (tmp_path / "data").exists() or list((tmp_path / "data").iterdir()) == []


def test_a_build_that_breaks_off_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks_off(connection: Connection, _: Dataset) -> None:
        tables.metadata.create_all(connection)
        raise OSError("no space left")

    with monkeypatch.context() as patched:
        patched.setattr(build, "write", breaks_off)
        with pytest.raises(OSError, match="no space left"):
            ensure_built(data_folder(), tmp_path)
    assert list(tmp_path.iterdir()) == []
    assert ensure_built(data_folder(), tmp_path).is_file()


def test_half_a_file_of_another_process_is_not_taken_for_a_database(tmp_path: Path) -> None:
    name = f"reference-{content_hash(data_folder())}.sqlite"
    (tmp_path / f"{name}.99999").write_bytes(b"half a file")
    assert len(open_store(data_folder(), tmp_path).load()[0].alloys) > 100


def test_many_starting_at_once_all_get_a_whole_database(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from alloyref.catalogue.files import data_folder; "
        "from alloyref.catalogue.repository import open_store; "
        "print(len(open_store(data_folder(), Path(sys.argv[1])).load()[0].alloys))"
    )
    command = [sys.executable, "-c", program, str(tmp_path)]
    started = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(4)]
    ended = [(process.communicate(timeout=60), process.returncode) for process in started]
    assert {(out.strip(), error, code) for (out, error), code in ended} == {(ended[0][0][0].strip(), b"", 0)}
    assert len(list(tmp_path.iterdir())) == 1


class TestReadOnly:
    """The built file cannot be written to through the engine that serves it."""

    @pytest.fixture
    def connection(self, tmp_path: Path) -> Iterator[Connection]:
        """A connection as the service has it."""
        engine = open_read_only(ensure_built(data_folder(), tmp_path))
        with engine.connect() as opened:
            yield opened
        engine.dispose()

    def test_rows_can_be_neither_added_nor_taken_away(self, connection: Connection) -> None:
        with pytest.raises(OperationalError, match="readonly"):
            connection.execute(insert(tables.uses).values(alloy="fine-gold", use="coin"))
        with pytest.raises(OperationalError, match="readonly"):
            connection.execute(delete(tables.alloys))

    def test_tables_can_be_neither_made_nor_dropped(self, connection: Connection) -> None:
        for statement in ("CREATE TABLE more (x)", "DROP TABLE reference_alloys"):
            with pytest.raises(OperationalError, match="readonly"):
                connection.exec_driver_sql(statement)

    def test_a_missing_file_is_not_made(self, tmp_path: Path) -> None:
        with pytest.raises(sqlite3.OperationalError):
            open_read_only(tmp_path / "absent.sqlite")
        assert not (tmp_path / "absent.sqlite").exists()

    @pytest.mark.parametrize("name", ["a folder", "50%", "what?", "ünï#1"])
    def test_the_folder_may_have_any_name(self, tmp_path: Path, name: str) -> None:
        assert len(open_store(data_folder(), tmp_path / name).load()[0].alloys) > 100
