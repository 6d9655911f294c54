"""`alloyref dataset check`: spoilt data of the density model are caught and named."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

Run = Callable[..., Result]
SILICON = "copper-alloy-data-pages/c65500-silicon-bronze-wrought"
CASES = [
    ("density_measured.csv", f"{SILICON},Cu 970 Si 30,fit,\n", "", "c65500-silicon-bronze-wrought has a density"),
    ("density_measured.csv", "Cu 970 Si 30,fit", "Cu 970 Si 31,fit", "sums to 1001"),
    ("density_measured.csv", "Cu 970 Si 30,fit", "Cu 970 Si 30,perhaps", "'perhaps'"),
    ("density_measured.csv", "Cu 970 Si 30,fit", "Cu 970 Si 30,out", "needs a note"),
    ("density_measured.csv", SILICON, "copper-alloy-data-pages/unicorn", "no publication has the row"),
    ("density_measured.csv", SILICON, "its-90/gold", "density is empty"),
    ("density_measured.csv", SILICON, "karmarsch-1877/ag-925", "karmarsch-1877/ag-925 stands twice"),
    ("density_measured.csv", "Au 583 Ag 104 Cu 313,out", "Au 583 Ag 104 Cu 313,fit", "is no measurement"),
    ("density_terms.csv", "Cu,Si,", "Cu,Xx,", "Cu-Xx is no pair of elements"),
    ("density_terms.csv", "Cu,Si,", "Cu,Zn,", "Cu-Zn is no pair of elements of its own"),
    ("density_terms.csv", SILICON, "karmarsch-1877/ag-925", "Cu-Si cannot rest on karmarsch-1877/ag-925"),
    ("density_terms.csv", "Au,Cu,0.0045,50,", "Au,Cu,0.0045,0,", "cannot fade over 0 permille"),
    ("density_terms.csv", "calculated,density-model", "calculated,hearsay", "'hearsay'"),
    ("density_terms.csv", "calculated,density-model", "guessed,density-model", "'guessed'"),
    ("density_limits.csv", "beside,,,,0.1", "beside,,,,1.1", "an error of 1.1 cannot be"),
    ("density_limits.csv", "beside,,,,0.1", "beside,Xx,,,0.1", "exactly one limit"),
    ("density_limits.csv", "Au;Ag;Cu", "Au;Ag;Xx", "names an element"),
    ("density_limits.csv", "within,Au;Ag;Cu", "inside,Au;Ag;Cu", "'inside'"),
    ("density_limits.csv", ",34,", ",3.4,", "rows is a count"),
    ("density_reasons.csv", "alloy,reason\n", "alloy,reason\nbronze-c90500,heavy\n", "bronze-c90500 needs no reason"),
    ("density_reasons.csv", "platinum-950-co,", "platinum-950-ru,", "20.8 from platinum-density-tables/950-pt-co"),
]


def test_the_data_hold_before_they_are_spoilt(run: Run, copy: Path) -> None:
    assert run("dataset", "check", "--folder", str(copy)).exit_code == 0


@pytest.mark.parametrize("case", CASES)
def test_a_spoilt_table_of_the_density_model(run: Run, copy: Path, case: tuple[str, str, str, str]) -> None:
    table, old, new, says = case
    text = (copy / table).read_text(encoding="utf-8")
    assert old in text
    (copy / table).write_text(text.replace(old, new, 1), encoding="utf-8")
    result = run("dataset", "check", "--folder", str(copy))
    assert result.exit_code == 1
    assert says in result.stderr
