"""Pictures from the command line."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from alloyref.catalogue.files import data_folder
from alloyref.cli.main import main
from alloyref.pictures.kinds import PICTURES


@pytest.mark.parametrize("suffix", ["svg", "png"])
@pytest.mark.parametrize("name", PICTURES)
def test_each_picture_is_written_and_told_in_words(tmp_path: Path, name: str, suffix: str) -> None:
    target = tmp_path / f"one.{suffix}"
    order = ["--input", str(data_folder() / "demo" / "order.json")] if name == "charge-flow" else []
    done = CliRunner().invoke(main, ["picture", name, str(target), *order])
    assert done.exit_code == 0, done.output
    assert len(done.output) > 60
    assert target.read_bytes()[:8] == (b"\x89PNG\r\n\x1a\n" if suffix == "png" else b"<?xml ve")


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["alloy-triangle", "one.gif"], 2),
        (["alloy-triangle", "missing/one.svg"], 2),
        (["alloy-triangle", "one.svg", "--composition", "Au 750, Pd 250"], 2),
        (["charge-flow", "one.svg"], 2),
    ],
)
def test_what_cannot_be_drawn_ends_with_two(tmp_path: Path, arguments: list[str], code: int) -> None:
    name, target, *rest = arguments
    assert CliRunner().invoke(main, ["picture", name, str(tmp_path / target), *rest]).exit_code == code
