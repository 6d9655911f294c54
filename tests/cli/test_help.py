"""`alloyref help`: the topics say what is true, and README points at them rather than telling them again."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import Result

from alloyref.cli import calculate, main
from alloyref.cli.help import TEXTS, told, topics
from alloyref.cli.main import STOPPED
from alloyref.domain.errors import InvalidInput
from alloyref.domain.order.inputs import OrderInputs
from alloyref.domain.provenance import Status
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension
from alloyref.settings import READERS
from alloyref.web.schemas.options import flat, option_name

Run = Callable[..., Result]
ROOT = Path(__file__).resolve().parents[2]


def commands(command: click.Command, *way: str) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    """Every command and group with the way to it."""
    yield way, command
    if isinstance(command, click.Group):
        for name, inner in command.commands.items():
            yield from commands(inner, *way, name)


def examples(command: click.Command) -> list[str]:
    """The lines of its help that show a command."""
    return re.findall(r"^ +(alloyref .*)$", (command.help or "").partition("Example")[2], re.MULTILINE)


EVERY = list(commands(main))
SHOWN = [(line, way) for way, command in EVERY for line in examples(command)]


@pytest.mark.parametrize(("way", "command"), EVERY, ids=lambda one: " ".join(one) if isinstance(one, tuple) else "")
def test_every_command_and_group_shows_an_example_of_itself(way: tuple[str, ...], command: click.Command) -> None:
    assert any(line.startswith(" ".join(("alloyref", *way))) for line in examples(command))


@pytest.mark.parametrize("line", [line for line, _ in SHOWN])
def test_every_example_is_read_by_its_command(line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    words = shlex.split(line.partition(" < ")[0])[1:]
    for word in words:
        if re.search(r"\.(json|yaml)$", word):
            (tmp_path / word).parent.mkdir(parents=True, exist_ok=True)
            (tmp_path / word).write_text("{}", encoding="utf-8")
    command: click.Command = main
    while isinstance(command, click.Group) and words and words[0] in command.commands:
        command = command.commands[words.pop(0)]
    with command.make_context("alloyref", words) as context:
        assert context.args == []


@pytest.mark.parametrize("topic", topics())
def test_each_topic_is_told(run: Run, topic: str) -> None:
    result = run("help", topic)
    assert result.exit_code == 0
    assert result.stdout.startswith((TEXTS / f"{topic}.txt").read_text(encoding="utf-8").rstrip())
    assert max(map(len, result.stdout.splitlines())) <= 120
    assert topic in run("help").stdout


def test_a_command_is_told_of_too(run: Run) -> None:
    assert run("help", "transfer").stdout.splitlines()[2:] == run("transfer", "--help").stdout.splitlines()[2:]


def test_an_unknown_topic_names_near_ones(run: Run) -> None:
    result = run("help", "unit")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "units" in result.stderr


class TestTrue:
    """What the topics claim holds."""

    def test_the_units_that_are_refused(self, reference: Reference) -> None:
        text = told("units")
        refused = re.search(r"^([a-z, ]+) and the like are refused", text, re.MULTILINE)
        assert refused is not None
        for name in refused[1].split(", "):
            with pytest.raises(InvalidInput):
                reference.units.find(name, Dimension.MASS)
        for given in re.findall(r"'([\d.]+ \w+)'", text):
            assert reference.units.parse(given, Dimension.MASS) > 0
        assert all(f" {one.symbol} " in text for one in reference.units.all)
        assert "1.55517384 g" in text

    def test_the_metals(self, run: Run) -> None:
        given = re.findall(r"^  .{28} (.+)$", told("metals"), re.MULTILINE)
        ids, names, trade, symbol, line, whole, of_the_shop = (
            one.partition(":")[0].split(", in")[0] for one in given
        )
        metals = [*ids.partition(" (")[0].split(", "), *names.replace("'", "").split(", "), symbol.split(",")[0]]
        metals += [*trade.replace("'", "").split(", "), line.strip("'"), given[5].strip("'")]
        assert len(metals) == 11
        assert (whole, of_the_shop) == ('\'{"composition"', "shop")
        for metal in metals:
            assert run("transfer", "--mass", "1 g", "--from-metal", metal, "--to-metal", "Ag").exit_code == 0

    def test_every_standing_is_there_best_first(self) -> None:
        assert re.findall(r"^  ([a-z-]+)  ", told("standings"), re.MULTILINE) == [one.value for one in Status]

    def test_the_exit_codes(self) -> None:
        codes = [int(code) for code in re.findall(r"^  (\d+) ", told("exit-codes"), re.MULTILINE)]
        assert codes == [0, calculate.NO_ANSWER, calculate.BAD_INPUT, STOPPED]

    def test_every_option_of_an_order(self) -> None:
        assert [option_name(path) for path, _ in flat(OrderInputs) if option_name(path) not in told("order")] == []

    def test_every_setting(self) -> None:
        assert [name for name in READERS if f"ALLOYREF_{name.upper()} " not in told("environment")] == []

    def test_the_options_and_commands_that_are_named_exist(self) -> None:
        for topic in topics():
            text = (TEXTS / f"{topic}.txt").read_text(encoding="utf-8")
            for line in re.findall(r"alloyref ((?:[a-z-]+ ?)+)", text):
                assert line.split()[0] in main.commands
            options = {word for _, one in EVERY for parameter in one.params for word in parameter.opts}
            assert set(re.findall(r"--[a-z-]+", text)) <= options

    def test_the_rounding(self, run: Run) -> None:
        convert = ("mass", "--value", "2.675", "--from", "g", "--to", "g", "--decimals", "2")
        assert "2.68 g" in run(*convert).stdout
        assert "2.67 g" in run(*convert, "--rounding", "down").stdout


def test_readme_points_at_every_topic() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [topic for topic in topics() if f"`alloyref help {topic}`" not in readme] == []


def test_no_sentence_of_a_topic_is_told_again() -> None:
    documents: Any = "".join((ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md"))
    flowing = " ".join(documents.split())
    for topic in topics():
        text = " ".join((TEXTS / f"{topic}.txt").read_text(encoding="utf-8").split())
        assert [one for one in re.split(r"(?<=[.:]) ", text) if len(one) > 40 and one in flowing] == []


def test_the_help_of_an_option_that_takes_json_names_the_fields(run: Run) -> None:
    text = " ".join(run("order", "--help").stdout.split())
    assert "Each an object with mass, count, kind, density." in text
    assert "Each an object with metal, mass, kind." in text


def test_what_an_option_takes_is_named_by_a_word_of_the_trade() -> None:
    options = [one for _, command in commands(main) for one in command.params if isinstance(one, click.Option)]
    said = {one.metavar for one in options if one.metavar and "|" not in one.metavar}
    assert {"METAL", "COMPOSITION", "FINENESS", "QUANTITY"} <= said
    assert not [one for one in said if re.search(r"^CATALOGUE|(OF|NAME|LIST)$", one)]
