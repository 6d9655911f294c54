"""The report on both models, by the one command that data/README gives."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from alloyref.catalogue.files import data_folder

REPORT = data_folder() / "models" / "report.py"


def test_it_writes_a_figure_and_a_table_of_each_model(tmp_path: Path) -> None:
    command = [sys.executable, str(REPORT), str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stderr
    assert {path.name for path in tmp_path.iterdir()} == {
        f"{model}.{kind}" for model in ("density", "melting") for kind in ("svg", "png", "csv")
    }
    assert "kept aside" in done.stdout
    for model in ("density", "melting"):
        assert len((tmp_path / f"{model}.csv").read_text(encoding="utf-8").splitlines()) > 10


def test_without_a_folder_it_says_how_it_is_used() -> None:
    done = subprocess.run([sys.executable, str(REPORT)], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "usage" in done.stdout
