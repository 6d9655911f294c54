"""The charge as a bench reads it, and the exit code where there is no recipe."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from alloyref.domain.charge import CHARGE

Run = Callable[..., Result]


@pytest.fixture
def question(tmp_path: Path) -> Callable[..., str]:
    """Write a question to a file, some of it replaced, and give its name."""

    def write(**changes: Any) -> str:
        path = tmp_path / "charge.json"
        path.write_text(json.dumps({**CHARGE.example, **changes}), encoding="utf-8")
        return str(path)

    return write


def test_the_sheet_holds_what_the_json_holds(run: Run, question: Callable[..., str]) -> None:
    ran = run("charge", "--input", question())
    assert ran.exit_code == 0
    result = json.loads(run("charge", "--input", question(), "--json").stdout)["result"]
    parts = ["CHARGE", "Made least", "RECIPE", "WHAT COMES OF IT", "WHAT BINDS", "RESTS ON", "CAUTIONS", "Dataset"]
    places = [ran.stdout.index(part) for part in parts]
    assert places == sorted(places)
    for line in result["recipe"]:
        row = next(row for row in ran.stdout.splitlines() if row.startswith(f"  {line['id']} "))
        assert f"{line['mass']['value']:g}" in row.split()
        assert f"{line['cost']['value']:.2f}" in row
    for limit in result["limits"]:
        assert limit["words"] in ran.stdout


def test_without_prices_no_money_is_shown(run: Run, question: Callable[..., str]) -> None:
    bare = {
        name: [{key: value for key, value in one.items() if key != "price"} for one in CHARGE.example[name]]
        for name in ("lots", "shelf")
    }
    out = run("charge", "--input", question(**bare)).stdout
    assert "No prices were given" in out
    assert "fine metal bought" in out


def test_an_alloy_off_the_shelf_is_named_with_its_id_and_a_fine_metal_by_its_symbol(
    run: Run, question: Callable[..., str]
) -> None:
    shelf = [*CHARGE.example["shelf"], {"metal": "gold-750-yellow", "price": 70}]
    out = run("charge", "--input", question(shelf=shelf)).stdout
    recipe = out[out.index("RECIPE") : out.index("WHAT COMES")].splitlines()
    assert [line for line in recipe if line.startswith("  18 ct yellow 12.5/12.5 (gold-750-yellow) ")]
    assert [line for line in recipe if line.startswith("  Cu ")]


def test_no_recipe_ends_with_1_and_says_what_to_change(run: Run, question: Callable[..., str]) -> None:
    for form in ((), ("--json",)):
        ran = run("charge", "--input", question(shelf=[{"metal": "Cu", "price": 1}]), *form)
        assert ran.exit_code == 1
        assert "No recipe keeps every limit." in ran.stdout
    assert ran.stderr == ""


def test_a_wrong_question_ends_with_2(run: Run, question: Callable[..., str]) -> None:
    ran = run("charge", "--input", question(currency="euros"))
    assert ran.exit_code == 2
    assert "--currency" in ran.stderr


def test_a_charge_by_options_alone(run: Run) -> None:
    options = ["--target-mass", "24 g", "--target-fineness", "18 karat"]
    options += ["--lots", '{"id": "rings", "mass": "30 g", "metal": {"composition": {"Au": 500, "Cu": 500}}}']
    options += ["--shelf", '{"metal": "Au"}']
    assert "12 g rings, 12 g Au" in run("charge", *options).stdout


def lot(number: int, mass: float, gold: int, silver: int, **more: str) -> dict[str, Any]:
    """A lot of so many g."""
    composition = {"Au": gold, "Ag": silver, "Cu": 1000 - gold - silver}
    return {"id": f"lot {number}", "mass": f"{mass:.2f} g", "metal": {"composition": composition}, **more}


@pytest.mark.parametrize(
    ("target", "lots", "scrap", "code"),
    [
        (
            {"mass": "200 g", "most_mass": "210 g", "windows": [{"elements": "Au", "least": 549.9, "most": 550.1}]},
            [lot(one, 7 + one * 37 % 101 / 100, 400 + one * 61 % 300, 100, use="whole") for one in range(60)],
            1,
            0,
        ),
        (
            {"mass": "48.41 g", "mark": 585, "jurisdiction": "UK"},
            [lot(0, 4.59, 580, 124), lot(1, 29.46, 765, 156), lot(2, 16.02, 506, 280)],
            0.3,
            1,
        ),
    ],
    ids=["many choices", "no recipe"],
)
def test_nothing_but_the_answer_is_on_standard_output(
    tmp_path: Path, target: dict[str, Any], lots: list[dict[str, Any]], scrap: float, code: int
) -> None:
    """A solver's own code may print a line: earlier versions of HiGHS did where there was no recipe."""
    path = tmp_path / "asked.json"
    path.write_text(json.dumps({"target": target, "lots": lots, "max_scrap_share": scrap}), encoding="utf-8")
    command = [sys.executable, "-m", "alloyref", "charge", "--json", "--input", str(path)]
    environment = {**os.environ, "ALLOYREF_DATA_DIR": str(tmp_path)}
    ran = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    assert (ran.returncode, ran.stderr) == (code, "")
    assert json.loads(ran.stdout)["result"]["possible"] is (code == 0)
