"""`alloyref bulk`: rows through standard input and output, and the exit code."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from click.testing import CliRunner, Result

from alloyref.cli import main

HEAD = "mass,from_metal,to_metal\n"
GOOD = "4.82 dwt,sterling-silver,gold-750-yellow\n"


@pytest.fixture
def run(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Result]:
    """Run the command with rows on its standard input."""
    folder = str(tmp_path_factory.getbasetemp() / "bulk-data")

    def ran(rows: str | bytes, *arguments: Any) -> Result:
        return CliRunner().invoke(main, ["bulk", *arguments], input=rows, env={"ALLOYREF_DATA_DIR": folder})

    return ran


def test_answered_rows_end_with_0(run: Callable[..., Result]) -> None:
    done = run(HEAD + GOOD, "transfer")
    assert (done.exit_code, done.stderr) == (0, "")
    assert done.stdout.splitlines()[1].startswith("4.82 dwt,sterling-silver,gold-750-yellow,11.1831,")


def test_a_row_without_an_answer_ends_with_1(run: Callable[..., Result]) -> None:
    done = run(f"sku,{HEAD}A,{GOOD}B,x,Ag,Au\n", "transfer", "--keep", "sku", "--summary")
    assert done.exit_code == 1
    assert "summary: rows=2 errors=1 sha256=" in done.stdout.splitlines()[-1]


@pytest.mark.parametrize(
    ("rows", "arguments", "words"),
    [
        ("mas,from_metal,to_metal\n", ("transfer",), "Did you mean mass?"),
        ("", ("transfer",), "empty"),
        (HEAD, ("transfer", "--keep", "mass"), "cannot be a column of your own"),
        (HEAD, ("order",), "order"),
    ],
)
def test_a_wrong_whole_ends_with_2(
    run: Callable[..., Result], rows: str, arguments: tuple[str, ...], words: str
) -> None:
    done = run(rows, *arguments)
    assert done.exit_code == 2
    assert words in done.stderr
    assert done.stdout == ""


def test_a_table_with_decimal_commas(run: Callable[..., Result]) -> None:
    done = run((HEAD + GOOD).replace(",", ";").replace(".", ","), "transfer", "--decimal", ",")
    assert done.exit_code == 0
    assert done.stdout.splitlines()[1].startswith("4,82 dwt;sterling-silver;gold-750-yellow;11,1831;")


def test_json_rows(run: Callable[..., Result]) -> None:
    done = run('{"value": 1, "from": "ozt", "to": "g"}\n', "mass", "--format", "ndjson")
    assert done.exit_code == 0
    assert done.stdout.startswith('{"value": 1, "from": "ozt", "to": "g","result":{"mass":{"value":31.1034768,')
