"""The example workbook as a file; what a spreadsheet makes of it is tested with one."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner

from alloyref.cli.main import main


def test_it_is_written_and_its_cells_ask_the_address_given(tmp_path: Path) -> None:
    target = tmp_path / "bench.xlsx"
    done = CliRunner().invoke(main, ["workbook", str(target), "--address", "http://127.0.0.1:9/"])
    assert done.exit_code == 0, done.output
    with zipfile.ZipFile(target) as book:
        inside = "".join(book.read(name).decode() for name in book.namelist() if name.endswith(".xml"))
    assert "http://127.0.0.1:9<" in inside
    assert inside.count("_xlfn.WEBSERVICE") == 2 * 10 + 3 * 3
    assert inside.count("_xlfn.NUMBERVALUE") == 2 * 10 + 3


@pytest.mark.parametrize("name", ["bench.ods", "missing/bench.xlsx"])
def test_a_target_that_cannot_be_is_bad_input(tmp_path: Path, name: str) -> None:
    done = CliRunner().invoke(main, ["workbook", str(tmp_path / name)])
    assert done.exit_code == 2
