"""A version stands for its tables: changed data under it are refused, and `dataset seal` raises it."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from alloyref.catalogue.files import tables_hash, tables_of

Run = Callable[..., Result]
LATER, LATEST = "2999-01-31.1", "2999-01-31.10"


def about(folder: Path) -> dict[str, object]:
    """What `dataset.toml` says."""
    return tomllib.loads((folder / "dataset.toml").read_text(encoding="utf-8"))


def change(path: Path) -> None:
    """Another note, which no check of the tables minds."""
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("varies with treatment", "differs with treatment", 1), encoding="utf-8")


def check(run: Run, folder: Path) -> Result:
    return run("dataset", "check", "--folder", str(folder))


def test_the_tables_are_those_of_their_version(copy: Path) -> None:
    assert about(copy)["hash"] == tables_hash(copy)


def test_changed_data_under_an_unchanged_version_are_refused(run: Run, copy: Path) -> None:
    version = str(about(copy)["version"])
    change(copy / "stones.csv")
    result = check(run, copy)
    assert result.exit_code == 1
    assert f"the tables are not those of version {version}" in result.stderr
    assert "alloyref dataset seal FOLDER VERSION" in result.stderr
    for same in (version, "2001-01-01.1"):
        refused = run("dataset", "seal", str(copy), same)
        assert refused.exit_code == 1
        assert f"give a later one than {same}" in refused.stderr
    assert about(copy)["version"] == version
    assert run("dataset", "seal", str(copy), LATER).exit_code == 0
    assert check(run, copy).exit_code == 0
    assert about(copy)["version"] == LATER


@pytest.mark.parametrize("name", ["publications/its-90.csv", "melting_nodes.csv", "density_residuals.csv"])
def test_every_table_counts_but_line_ends_do_not(copy: Path, name: str) -> None:
    before = tables_hash(copy)
    for path in tables_of(copy):
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert tables_hash(copy) == before
    (copy / name).write_bytes((copy / name).read_bytes() + b" ")
    assert tables_hash(copy) != before


def test_the_text_about_the_changes_is_not_sealed(run: Run, copy: Path) -> None:
    path = copy / "dataset.toml"
    path.write_text(path.read_text(encoding="utf-8").replace("First issue", "The first issue"), encoding="utf-8")
    assert check(run, copy).exit_code == 0


def test_what_was_never_given_out_may_be_sealed_again(run: Run, copy: Path) -> None:
    assert run("dataset", "seal", str(copy), LATER).exit_code == 0
    assert run("dataset", "seal", str(copy), LATER).exit_code == 0
    change(copy / "stones.csv")
    assert run("dataset", "seal", str(copy), LATER).exit_code == 1
    assert run("dataset", "seal", str(copy), LATER, "--unissued").exit_code == 0
    assert check(run, copy).exit_code == 0


def test_numbers_of_a_day_are_numbers(run: Run, copy: Path) -> None:
    for version in (LATER, LATEST):
        assert run("dataset", "seal", str(copy), version).exit_code == 0
    change(copy / "stones.csv")
    assert run("dataset", "seal", str(copy), "2999-01-31.9").exit_code == 1


@pytest.mark.parametrize("version", ["1", "2999-01-31", "tomorrow.1", '2999-01-31.1"'])
def test_a_version_is_a_date_and_a_number(run: Run, copy: Path, version: str) -> None:
    result = run("dataset", "seal", str(copy), version)
    assert result.exit_code == 1
    assert "a version is a date and a number" in result.stderr


def test_a_folder_that_is_no_dataset_is_not_sealed(run: Run, tmp_path: Path) -> None:
    result = run("dataset", "seal", str(tmp_path / "nowhere"), LATER)
    assert result.exit_code == 1
    assert "dataset.toml" in result.stderr
    assert not (tmp_path / "nowhere").exists()


def test_the_rest_of_the_file_stays(run: Run, copy: Path) -> None:
    before = about(copy)
    assert run("dataset", "seal", str(copy), LATER).exit_code == 0
    assert about(copy) == {**before, "version": LATER}
