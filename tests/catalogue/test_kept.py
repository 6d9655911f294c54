"""The kept text of the data: whole or not there, once for each content, and read back as what it was."""

from __future__ import annotations

import logging
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from zipfile import ZipFile

import pytest

from alloyref.catalogue.files import content_hash, data_folder, table_files
from alloyref.catalogue.kept import ensure_kept, open_dataset, open_held
from alloyref.catalogue.text import DatasetError
from alloyref.domain.citations import tables_of
from alloyref.domain.reference import Reference

HASH = content_hash(data_folder())


def test_it_is_kept_once_and_named_after_its_content(tmp_path: Path) -> None:
    first = ensure_kept(data_folder(), tmp_path / "new" / "folder")
    assert first.name == f"reference-{HASH}.zip"
    stamp = first.stat()
    second = ensure_kept(data_folder(), tmp_path / "new" / "folder")
    assert second == first
    assert (second.stat().st_mtime_ns, second.stat().st_ino) == (stamp.st_mtime_ns, stamp.st_ino)
    assert [path.name for path in first.parent.iterdir()] == [first.name]


def test_two_copies_are_the_same_and_hold_every_table(tmp_path: Path) -> None:
    first, second = (ensure_kept(data_folder(), tmp_path / name) for name in ("one", "two"))
    assert first.read_bytes() == second.read_bytes()
    with ZipFile(first) as archive:
        held = {name: archive.read(name) for name in archive.namelist()}
    assert held == {
        path.relative_to(data_folder()).as_posix(): path.read_bytes() for path in table_files(data_folder())
    }


def test_a_changed_cell_is_another_content(copy: Path, tmp_path: Path) -> None:
    before = ensure_kept(copy, tmp_path / "data")
    path = copy / "alloys.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("Sterling silver", "Sterling", 1), encoding="utf-8")
    assert open_dataset(copy, tmp_path / "data").reference.alloys["sterling-silver"].metal.name == "Sterling"
    assert before.is_file()
    assert len(list((tmp_path / "data").iterdir())) == 2
    held = open_held(tmp_path / "data", HASH)
    assert held is not None
    assert held.alloys["sterling-silver"].metal.name == "Sterling silver"


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
    for open_ in (ensure_kept, open_dataset):
        with pytest.raises(DatasetError, match="idle"):
            open_(copy, tmp_path / "data")
    assert not (tmp_path / "data").exists() or list((tmp_path / "data").iterdir()) == []


def test_a_copy_that_breaks_off_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks_off(_: int) -> None:
        (written,) = tmp_path.iterdir()
        assert written.name.startswith(f"reference-{HASH}.zip.")
        raise OSError("no space left")

    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", breaks_off)
        with pytest.raises(OSError, match="no space left"):
            ensure_kept(data_folder(), tmp_path)
    assert list(tmp_path.iterdir()) == []
    assert ensure_kept(data_folder(), tmp_path).is_file()


def test_half_a_file_of_another_process_is_not_taken_for_the_copy(tmp_path: Path) -> None:
    whole = ensure_kept(data_folder(), tmp_path / "elsewhere").read_bytes()
    (tmp_path / f"reference-{HASH}.zip.99999").write_bytes(whole[: len(whole) // 2])
    assert open_held(tmp_path, HASH) is None
    assert ensure_kept(data_folder(), tmp_path).read_bytes() == whole
    assert open_held(tmp_path, HASH) is not None


def test_many_starting_at_once_all_get_the_data_and_leave_one_whole_copy(tmp_path: Path) -> None:
    program = (
        "import sys; from pathlib import Path; from alloyref.catalogue.files import data_folder; "
        "from alloyref.catalogue.kept import open_dataset; "
        "print(len(open_dataset(data_folder(), Path(sys.argv[1])).alloys))"
    )
    command = [sys.executable, "-c", program, str(tmp_path)]
    started = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(4)]
    ended = [(process.communicate(timeout=60), process.returncode) for process in started]
    assert {(out.strip(), error, code) for (out, error), code in ended} == {(ended[0][0][0].strip(), b"", 0)}
    assert len(list(tmp_path.iterdir())) == 1
    assert open_held(tmp_path, HASH) is not None


@pytest.mark.parametrize("name", ["a folder", "50%", "what?", "ünï#1"])
def test_the_folder_may_have_any_name(tmp_path: Path, name: str) -> None:
    ensure_kept(data_folder(), tmp_path / name)
    assert open_held(tmp_path / name, HASH) is not None


def test_what_is_held_is_what_was_served(tmp_path: Path, reference: Reference) -> None:
    ensure_kept(data_folder(), tmp_path)
    held = open_held(tmp_path, HASH)
    assert held is not None
    assert held.dataset == reference.dataset
    for (name, then), (_, now) in zip(tables_of(held), tables_of(reference), strict=True):
        assert list(then) == list(now), name


def test_a_copy_of_a_program_with_other_code_is_read_by_todays(
    copy: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as earlier:
        for module in ("files", "kept"):
            earlier.setattr(f"alloyref.catalogue.{module}.code_hash", lambda: "fedcba9876543210")
        then = ensure_kept(copy, tmp_path).stem.removeprefix("reference-")
    assert then != HASH
    held, now = open_held(tmp_path, then), open_dataset(copy, tmp_path).reference
    assert held is not None
    assert held.dataset == replace(now.dataset, hash=then)
    assert held.alloys == now.alloys


DAMAGES = {
    "no archive at all": lambda whole: b"no archive at all" * 100,
    "cut off": lambda whole: whole[:-2000],
    "a byte changed": lambda whole: whole[:5000] + bytes([whole[5000] ^ 1]) + whole[5001:],
    "empty": lambda whole: b"",
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_what_cannot_be_read_is_not_held_and_is_logged(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, damage: str
) -> None:
    path = ensure_kept(data_folder(), tmp_path)
    path.write_bytes(DAMAGES[damage](path.read_bytes()))
    refused(tmp_path, HASH, caplog)


def test_other_data_under_the_name_are_not_held(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    path = ensure_kept(data_folder(), tmp_path)
    shutil.copy(path, tmp_path / "reference-0123456789abcdef.zip")
    refused(tmp_path, "0123456789abcdef", caplog)


def test_an_archive_of_something_else_is_not_held(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    with ZipFile(tmp_path / f"reference-{HASH}.zip", "w") as archive:
        archive.writestr("../alloys.csv", "id\n")
    refused(tmp_path, HASH, caplog)
    assert not (tmp_path.parent / "alloys.csv").exists()


def test_what_is_not_there_is_not_held_and_no_fault(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    (tmp_path / f"reference-{HASH}.sqlite").write_bytes(b"of an earlier program")
    assert open_held(tmp_path, HASH) is None
    assert caplog.records == []


def refused(folder: Path, hash_: str, caplog: pytest.LogCaptureFixture) -> None:
    """Nothing is held under that hash, and the log says which file is in the way."""
    with caplog.at_level(logging.ERROR, "alloyref"):
        assert open_held(folder, hash_) is None
    assert [record.getMessage() for record in caplog.records] == [
        f"the data of {folder / f'reference-{hash_}.zip'} cannot be read"
    ]
