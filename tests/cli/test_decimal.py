"""`--decimal`: commas in what is given and on the sheet."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from click.testing import Result

Run = Callable[..., Result]
POINT = ("transfer", "--mass", "4.82 dwt", "--from-metal", "sterling-silver", "--to-metal", "gold-585-yellow")
COMMA = tuple(one.replace(".", ",") for one in POINT)


@pytest.mark.parametrize("way", [("--decimal", ","), ("--decimal=,",)])
def test_commas_go_in_and_out(run: Run, way: tuple[str, ...]) -> None:
    point, comma = run(*POINT), run(*COMMA, *way)
    assert (point.exit_code, comma.exit_code) == (0, 0)
    assert comma.stdout.replace(",", ".") == point.stdout.replace(",", ".")
    mass = next(line for line in comma.stdout.splitlines() if line.startswith("mass"))
    assert "," in mass
    assert "." not in mass


def test_the_environment_says_it_too(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ALLOYREF_DECIMAL", ",")
    assert run(*COMMA).stdout == run(*COMMA, "--decimal", ",").stdout


def test_json_keeps_the_point(run: Run) -> None:
    assert json.loads(run(*COMMA, "--decimal", ",", "--json").stdout) == json.loads(run(*POINT, "--json").stdout)


def test_unless_it_is_said_a_comma_must_be_clear(run: Run) -> None:
    assert run(*COMMA).stdout == run(*POINT).stdout
    unclear = run("mass", "--value", "1,234", "--from", "g", "--to", "dwt")
    assert unclear.exit_code == 2
    assert "--value: '1,234' could be 1.234 or 1234" in unclear.stderr
    assert run("mass", "--value", "4,18", "--from", "g", "--to", "dwt", "--decimal", ".").exit_code == 2


def test_numbers_within_json_and_compositions_may_have_commas(run: Run) -> None:
    weighing = '{"in_air": "4,87 g", "in_liquid": "4,51 g"}'
    same = run("density-test", "--weighings", weighing.replace(",8", ".8").replace(",5", ".5"))
    assert run("density-test", "--weighings", weighing, "--decimal", ".").exit_code == 2
    assert run("density-test", "--weighings", weighing).stdout == same.stdout
    line = run("estimate", "--composition", "Au 585,5; Ag 204,5; Cu 210")
    assert line.stdout == run("estimate", "--composition", "Au 585.5, Ag 204.5, Cu 210").stdout


def test_the_catalogue_is_printed_with_commas(run: Run) -> None:
    point, comma = run("alloys", "--karat", "14"), run("alloys", "--karat", "14", "--decimal", ",")
    assert point.stdout != comma.stdout
    assert comma.stdout.replace(",", ".") == point.stdout.replace(",", ".")


@pytest.mark.parametrize("way", [(), ("--decimal", ",")])
def test_what_is_words_in_a_metal_keeps_its_comma(run: Run, way: tuple[str, ...]) -> None:
    """The inputs of an answer come back as a file; of a metal they show names and notes beside the figures."""
    metal = {"name": "1,234 lot", "composition": {"Au": "585,5", "Ag": "414,5"}, "density": "14,1 g/cm3"}
    first = run(*POINT[:5], "--to-metal", json.dumps(metal), *way, "--json")
    assert first.exit_code == 0, first.stderr
    answer = json.loads(first.stdout)
    assert answer["inputs"]["to_metal"]["name"] == "1,234 lot"
    again = run("transfer", "--input", "-", *way, "--json", stdin=json.dumps(answer["inputs"]))
    assert json.loads(again.stdout) == answer
