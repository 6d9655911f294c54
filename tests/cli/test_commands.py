"""Every command: its exit code, its table and its JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import Result

from alloyref import __version__
from alloyref.catalogue.files import data_folder
from alloyref.cli import main
from alloyref.domain.reference import Reference

Run = Callable[..., Result]
MASS = ("mass", "--value", "4.82", "--from", "dwt", "--to", "g")
TRANSFER = ("transfer", "--mass", "4.82 g", "--from-metal", "sterling-silver", "--to-metal", "gold-585-yellow")
DEMO = str(data_folder() / "demo" / "order.json")
CHEAP = [
    MASS,
    TRANSFER,
    ("purity", "--value", "14", "--from", "karat", "--to", "permille"),
    ("order", "--input", DEMO),
    ("estimate", "--composition", "Au 750, Ag 125, Cu 125"),
    ("stock", "--form", "round-wire", "--metal", "Ag", "--gauge", "18", "--gauge-system", "B&S", "--mass", "5 dwt"),
    ("ring", "--action", "convert", "--size", "N 1/2", "--system", "UK"),
    ("ring", "--action", "blank", "--size", "7", "--system", "US", "--thickness", "1.5 mm", "--width", "8 mm"),
    ("density-test", "--weighings", '{"in_air": "10.0 g", "in_liquid": "9.04 g"}', "--temperature", "20 C"),
    ("alloys",),
    ("alloys", "sterling-silver"),
    ("dataset",),
    ("dataset", "check"),
    ("dataset", "explain", "gold-585-yellow"),
    ("openapi",),
    ("--version",),
]


def every_command(group: click.Group, *way: str) -> list[tuple[str, ...]]:
    """The ways to all commands that are no groups themselves."""
    found = []
    for name, command in group.commands.items():
        found += every_command(command, *way, name) if isinstance(command, click.Group) else [(*way, name)]
    return found


@pytest.mark.parametrize("arguments", CHEAP, ids=" ".join)
def test_it_ends_well_and_says_something(run: Run, arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert result.exit_code == 0, result.output
    assert result.stdout.strip()
    assert result.stderr == ""


def test_a_ring_shows_only_what_was_asked(run: Run) -> None:
    asked = ("ring", "--size", "7", "--system", "US", "--thickness", "1.5 mm")
    blank = run(*asked, "--action", "blank").stdout
    assert "blank: length" in blank
    assert "59.134 mm" in blank
    assert "band" not in blank
    assert "resize" not in blank


def test_the_commands_are_all_there() -> None:
    assert {
        "serve",
        "order",
        "stock",
        "ring",
        "transfer",
        "mass",
        "purity",
        "alloys",
        "dataset",
        "openapi",
        "demo",
    } <= set(main.commands)


@pytest.mark.parametrize("way", every_command(main), ids=" ".join)
def test_the_help_of_each_command_has_an_example(run: Run, way: tuple[str, ...]) -> None:
    result = run(*way, "--help")
    assert result.exit_code == 0
    assert "Example" in result.stdout
    assert f"alloyref {' '.join(way)}" in result.stdout.split("Example")[1]


def test_the_help_lists_commands_and_exit_codes(run: Run) -> None:
    text = run("--help").stdout
    assert all(name in text for name in main.commands)
    assert "0 fine, 1 no answer, 2 bad input" in text
    assert __version__ in run("--version").stdout


@pytest.mark.parametrize(
    "command", [MASS, TRANSFER, ("purity", "--value", "750", "--from", "permille", "--to", "karat")]
)
def test_json_is_the_whole_answer(run: Run, command: tuple[str, ...]) -> None:
    answer = json.loads(run(*command, "--json").stdout)
    assert set(answer) == {"result", "inputs", "assumptions", "cautions", "dataset"}


def test_numbers_are_exact(run: Run) -> None:
    assert json.loads(run(*MASS, "--json").stdout)["result"]["mass"] == {"value": 7.4959379088, "unit": "g"}
    assert "7.4959379088 g" in run(*MASS).stdout


def test_the_table_of_a_transfer_shows_mass_range_and_standing(run: Run) -> None:
    text = run(*TRANSFER).stdout
    answer = json.loads(run(*TRANSFER, "--json").stdout)
    mass = answer["result"]["mass"]
    assert f"{mass['value']} g" in text
    assert f"{mass['low']:g} to {mass['high']:g}" in text
    assert f"{mass['display']['dwt']} dwt" in text
    assert answer["dataset"]["hash"] in text
    assert answer["assumptions"][0]["source"] in text


def test_the_table_of_an_estimate_lists_neighbours_and_what_is_not_known(run: Run) -> None:
    command = ("estimate", "--composition", '{"Cu": 850, "Zn": 150}')
    lines = run(*command).stdout.splitlines()
    result = json.loads(run(*command, "--json").stdout)["result"]
    assert ["karat", "not", "available"] in [line.split() for line in lines]
    for one in result["nearest_alloys"]:
        assert any(line.split()[:1] == [one["id"]] and one["name"] in line for line in lines)
    for one in result["not_available"]:
        assert any(one["property"] in line and one["reason"] in line for line in lines)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("mass", "--value", "1", "--from", "oz", "--to", "g"), ["--from", "ozt", "oz_av"]),
        (("mass", "--value", "-1", "--from", "g", "--to", "g"), ["--value"]),
        (("mass", "--value", "1", "--to", "g"), ["--from"]),
        (("mass", "--value", "one", "--from", "g", "--to", "ozt"), ["--value"]),
        (("mass", "--weight", "1"), ["--weight"]),
        (("transfer", "--mass", "4.82", "--from-metal", "Ag", "--to-metal", "Au"), ["--mass"]),
        (("transfer", "--mass", "4.82 g", "--from-metal", "silvr", "--to-metal", "Au"), ["--from-metal"]),
        (
            ("transfer", "--mass", "1 g", "--from-metal", '{"composition": ', "--to-metal", "Au"),
            ["--from-metal", "JSON"],
        ),
        (("estimate", "--composition", "Au 75, Cu 25"), ["--composition", "percent"]),
        (("order", "--final-metal", "Au"), ["trial, pattern or volume"]),
        (("order", "--final-metal", "Au", "--trial-metal", "Ag"), ["--trial-mass"]),
        (("order", "--final-metal", "Au", "--others", "{"), ["--others"]),
        (("order", "--input", "no-such-file.json"), ["--input"]),
        (("alloys", "--karat", "30"), ["--karat"]),
        (("alloys", "--sort", "weight"), ["--sort"]),
        (("alloys", "--contains", "Xx"), ["--contains"]),
        (("nonsense",), ["nonsense"]),
    ],
)
def test_bad_input_ends_with_2_and_says_where(run: Run, arguments: tuple[str, ...], says: list[str]) -> None:
    result = run(*arguments)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    assert [word for word in says if word not in result.stderr] == []


@pytest.mark.parametrize(
    ("arguments", "near"),
    [
        (("alloys", "sterlng-silver"), "sterling-silver"),
        (("dataset", "explain", "gold-585-yelow"), "gold-585-yellow"),
    ],
)
def test_no_answer_ends_with_1_and_names_near_ones(run: Run, arguments: tuple[str, ...], near: str) -> None:
    result = run(*arguments)
    assert result.exit_code == 1
    assert result.stdout == ""
    assert near in result.stderr


class TestInput:
    """`--input`: a file, or standard input."""

    def test_a_file_and_standard_input_give_the_same(self, run: Run) -> None:
        text = Path(DEMO).read_text(encoding="utf-8")
        by_file = run("order", "--input", DEMO, "--json")
        assert by_file.exit_code == 0
        assert run("order", "--input", "-", "--json", stdin=text).stdout == by_file.stdout

    def test_options_go_over_the_file(self, run: Run) -> None:
        answer = json.loads(run("order", "--input", DEMO, "--pieces", "5", "--trial-mass", "7 g", "--json").stdout)
        assert answer["result"]["lines"][0]["pieces"] == 5
        assert answer["inputs"]["trial"]["mass"]["value"] == 7.0

    def test_an_option_goes_over_a_shorthand_of_the_file(self, run: Run) -> None:
        result = run("order", "--input", DEMO, "--spares-count", "2", "--json")
        assert result.exit_code == 0, result.output
        assert json.loads(result.stdout)["result"]["castings"] == 4

    @pytest.mark.parametrize(
        "text",
        [
            "",
            "{",
            "[]",
            "null",
            "7",
            '"order"',
            '{"pieces": NaN}',
            '{"pieces": Infinity}',
            '{"name": "\\ud800", "final_metal": "Au", "volume": "1 cm3"}',
            '{"\\ud800": 1}',
            '{"final_metal": "\\ud800"}',
            "[" * 100_000,
            '{"a":' * 100_000,
            '{"pieces": 1' + "0" * 5000 + "}",
            '{"trial": 1, "final_metal": "Au"}',
        ],
        ids=range(15),
    )
    def test_a_bad_document_ends_with_2(self, run: Run, text: str) -> None:
        result = run("order", "--input", "-", stdin=text)
        assert result.exit_code == 2, result.output
        assert result.stdout == ""
        assert 0 < len(result.stderr) < 4000

    @pytest.mark.parametrize("text", ["[]", "7", '{"trial": 1}'])
    def test_a_bad_document_with_options_over_it_ends_with_2(self, run: Run, text: str) -> None:
        result = run("order", "--input", "-", "--trial-mass", "1 g", "--final-metal", "Au", stdin=text)
        assert result.exit_code == 2, result.output

    def test_bytes_that_are_no_utf_8_end_with_2(self, run: Run) -> None:
        assert run("order", "--input", "-", stdin=b'{"name": "\xff"}').exit_code == 2


class TestAlloys:
    """`alloyref alloys`."""

    def test_the_table_holds_the_alloys_asked_for(self, run: Run, reference: Reference) -> None:
        text = run("alloys", "--base", "Pt", "--page-size", "500").stdout
        expected = {one.id for one in reference.alloys.values() if one.metal.base == "Pt"}
        lines = text.split("\n\n", maxsplit=1)[0].splitlines()[2:]
        assert sorted(line.split()[0] for line in lines) == sorted(expected)
        assert f"{len(expected)} of {len(expected)} alloys" in text

    def test_json_holds_the_same(self, run: Run, reference: Reference) -> None:
        found = json.loads(
            run("alloys", "--contains", "Ni,Cu", "--free-of", "Zn", "--page-size", "500", "--json").stdout
        )
        expected = [
            one.id
            for one in sorted(reference.alloys.values(), key=lambda one: one.id)
            if one.contains("Ni") and one.contains("Cu") and not one.contains("Zn")
        ]
        assert [one["id"] for one in found] == expected
        assert expected

    def test_one_alloy_is_shown_whole(self, run: Run, reference: Reference) -> None:
        text = run("alloys", "sterling-silver").stdout
        alloy = reference.alloys["sterling-silver"]
        assert text == run("dataset", "explain", "sterling-silver").stdout
        assert "Ag 925 Cu 75" in text
        assert f"{alloy.metal.density.value} g/cm3" in text
        assert alloy.metal.density.source in text
        held = text.partition("Figures held:")[2].splitlines()
        for one in alloy.published:
            lines = [line for line in held if one.row in line]
            assert lines
            assert all(("from-memory, not read" in line) == (one.status == "from-memory") for line in lines)
        assert json.loads(run("alloys", "sterling-silver", "--json").stdout)["id"] == "sterling-silver"


class TestOpenapi:
    """`alloyref openapi`."""

    def test_it_is_in_step_with_itself(self, run: Run, tmp_path: Path) -> None:
        path = tmp_path / "openapi.yaml"
        path.write_text(run("openapi").stdout, encoding="utf-8")
        result = run("openapi", "--check", str(path))
        assert (result.exit_code, result.stderr) == (0, "")

    def test_a_stale_copy_is_shown_with_the_difference_and_the_cure(self, run: Run, tmp_path: Path) -> None:
        path = tmp_path / "openapi.yaml"
        path.write_text(
            run("openapi").stdout.replace("operationId: mass\n", "operationId: weight\n"), encoding="utf-8"
        )
        result = run("openapi", "--check", str(path))
        assert result.exit_code == 1
        assert "operationId: weight" in result.stderr
        assert "+" in result.stderr
        assert "alloyref openapi --output" in result.stderr

    def test_the_checked_in_copy_is_in_step(self, run: Run) -> None:
        path = Path(__file__).resolve().parents[2] / "openapi" / "openapi.yaml"
        assert path.is_file(), "openapi/openapi.yaml is missing"
        assert run("openapi", "--check", str(path)).exit_code == 0


def test_nothing_is_read_or_built_for_help(run: Run, tmp_path: Path, monkeypatch: Any) -> None:
    monkeypatch.setenv("ALLOYREF_DATA_DIR", str(tmp_path / "untouched"))
    assert run("order", "--help").exit_code == 0
    assert not (tmp_path / "untouched").exists()


def test_digits_without_end_are_cut_on_paper_only(run: Run) -> None:
    asked = ("purity", "--value", "14", "--from", "karat", "--to", "permille")
    assert "583.333333 permille" in run(*asked).stdout
    assert "583.333333333" in run(*asked, "--json").stdout
    assert "12476.3821314 g" in run("mass", "--value", "401.125", "--from", "ozt", "--to", "g").stdout
