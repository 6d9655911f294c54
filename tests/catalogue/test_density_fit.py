"""The fit of the density model can be run again by anyone: same rows, same tables, to the last digit."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MADE = ["density_terms.csv", "density_candidates.csv", "density_residuals.csv", "density_limits.csv"]


def fit(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run the script that lies in this data folder."""
    command = [sys.executable, str(folder / "models" / "density_fit.py"), *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(command, capture_output=True, text=True, env=environment, timeout=60, check=False)


def test_the_tables_are_what_the_script_makes(copy: Path) -> None:
    held = {name: (copy / name).read_bytes() for name in MADE}
    for name in MADE:
        (copy / name).unlink()
    ran = fit(copy)
    assert ran.returncode == 0, ran.stderr
    assert {name: (copy / name).read_bytes() for name in MADE} == held
    assert fit(copy, "--check").returncode == 0


def test_another_measurement_makes_other_tables(copy: Path) -> None:
    pages = copy / "publications" / "copper-alloy-data-pages.csv"
    text = pages.read_text(encoding="utf-8")
    assert text.count(",8.53,916") == 1
    pages.write_text(text.replace(",8.53,916", ",8.43,916"), encoding="utf-8")
    before = (copy / "density_terms.csv").read_text(encoding="utf-8")
    checked = fit(copy, "--check")
    assert checked.returncode == 1
    assert "out of step: density_terms.csv" in checked.stdout
    assert (copy / "density_terms.csv").read_text(encoding="utf-8") == before
    assert fit(copy).returncode == 0
    assert (copy / "density_terms.csv").read_text(encoding="utf-8") != before


def test_only_terms_that_beat_the_model_without_them_are_kept(copy: Path) -> None:
    """On rows left out; a pair that a term stands for lowered their error by a tenth or more."""
    with (copy / "density_candidates.csv").open(encoding="utf-8") as stream:
        trials = list(csv.DictReader(stream))
    with (copy / "density_terms.csv").open(encoding="utf-8") as stream:
        terms = {f"{row['first']}-{row['second']}" for row in csv.DictReader(stream)}
    kept = {trial["pair"] for trial in trials if trial["kept"] == "yes"}
    assert kept == terms
    for trial in trials:
        gain = 1 - float(trial["rms_percent_with"]) / float(trial["rms_percent_without"])
        assert (trial["kept"] == "yes") <= (gain >= 0.1)
    last = max(trials, key=lambda trial: int(trial["step"]))["step"]
    assert all(trial["kept"] == "no" for trial in trials if trial["step"] == last)


@pytest.mark.skipif(find_spec("matplotlib") is None, reason="the figure needs the extra `data`")
def test_the_report_is_a_figure_and_a_table(copy: Path, tmp_path: Path) -> None:
    ran = fit(copy, "--report", str(tmp_path / "report"))
    assert ran.returncode == 0, ran.stderr
    assert (tmp_path / "report" / "density.csv").read_bytes() == (copy / "density_residuals.csv").read_bytes()
    assert (tmp_path / "report" / "density.svg").read_text(encoding="utf-8").count("<svg") == 1
    assert (tmp_path / "report" / "density.png").read_bytes().startswith(b"\x89PNG")
