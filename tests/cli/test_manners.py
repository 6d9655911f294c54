"""How every command behaves: near matches, where errors go, exit codes, colour, Ctrl-C."""

from __future__ import annotations

import json
import os
import pty
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import Result

from alloyref.cli import main
from alloyref.cli.main import STOPPED
from alloyref.services.calculations import CALCULATIONS

Run = Callable[..., Result]
CAUTIONED = ("estimate", "--composition", "Au 750, Ni 110, Zn 40, Cu 100")
ESCAPE = "\x1b["


@pytest.mark.parametrize(
    ("arguments", "near"),
    [
        (("ordr",), "order"),
        (("dataset", "chek"), "check"),
        (("db", "updgrade"), "upgrade"),
        (("transfer", "--from-metl", "Ag"), "--from-metal"),
        (("serve", "--prt", "80"), "--port"),
        (("dataset", "check", "--foldr", "."), "--folder"),
    ],
    ids=" ".join,
)
def test_a_misspelt_word_ends_with_2_and_names_the_right_one(run: Run, arguments: tuple[str, ...], near: str) -> None:
    result = run(*arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert f"'{near}'" in result.stderr


@pytest.mark.parametrize("name", CALCULATIONS)
def test_every_calculation_without_input_says_on_stderr_what_is_missing(run: Run, name: str) -> None:
    result = run(name)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr


@pytest.mark.parametrize("name", [name for name in main.commands if name != "help"])
def test_every_command_refuses_an_option_it_does_not_have(run: Run, name: str) -> None:
    result = run(name, "--no-such-option")
    assert (result.exit_code, result.stdout) == (2, "")
    assert "--no-such-option" in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("transfer", "--mass", "1 g", "--from-metal", '{"composition": {"Au": 500, "Al": 500}}', "--to-metal", "Au"),
        ("alloys", "no-such-alloy"),
        ("dataset", "explain", "no-such-alloy", "--json"),
    ],
    ids=" ".join,
)
def test_no_answer_ends_with_1_and_a_reason_on_stderr(run: Run, arguments: tuple[str, ...]) -> None:
    result = run(*arguments)
    assert result.exit_code == 1
    assert result.stderr


class TestColour:
    """Cautions and problems stand out on a terminal, and nowhere else."""

    @staticmethod
    def on_terminal(folder: Path, *arguments: str, **environment: str) -> str:
        """What a command writes when its output is a terminal."""
        ours, theirs = pty.openpty()
        given = {name: value for name, value in os.environ.items() if name != "NO_COLOR"}
        given |= {"ALLOYREF_DATA_DIR": str(folder), **environment}
        command = [sys.executable, "-m", "alloyref", *arguments]
        with subprocess.Popen(command, stdout=theirs, stderr=theirs, stdin=theirs, env=given) as process:
            os.close(theirs)
            parts = []
            while True:
                try:
                    part = os.read(ours, 65536)
                except OSError:  # what a closed terminal gives on Linux
                    break
                if not part:
                    break
                parts.append(part)
            process.wait(60)
        os.close(ours)
        return b"".join(parts).decode()

    def test_only_on_a_terminal_and_never_with_no_color(self, run: Run, tmp_path: Path) -> None:
        plain = run(*CAUTIONED).stdout
        assert "CAUTIONS" in plain
        assert ESCAPE not in plain
        shown = self.on_terminal(tmp_path, *CAUTIONED)
        assert f"{ESCAPE}33m{ESCAPE}1mCAUTIONS" in shown
        assert re.sub(r"\x1b\[\d+m", "", shown).replace("\r\n", "\n") == plain
        assert self.on_terminal(tmp_path, *CAUTIONED, NO_COLOR="1").replace("\r\n", "\n") == plain

    def test_problems_too(self, tmp_path: Path) -> None:
        asked = ("mass", "--value", "1", "--from", "oz", "--to", "g")
        assert f"{ESCAPE}31m{ESCAPE}1m--from:" in self.on_terminal(tmp_path, *asked)
        assert ESCAPE not in self.on_terminal(tmp_path, *asked, NO_COLOR="1")


def test_ctrl_c_ends_quietly_with_130(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def stopped(*_: Any, **__: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(main.commands["mass"], "callback", stopped)
    result = run("mass")
    assert (result.exit_code, result.output) == (STOPPED, "")


def test_a_real_ctrl_c(tmp_path: Path) -> None:
    program = (
        "import os, signal; from alloyref.cli import main\n"
        # A test run in the background may hand down an ignored SIGINT.
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "main.commands['mass'].callback = lambda **_: os.kill(os.getpid(), signal.SIGINT)\n"
        "main(['mass'], prog_name='alloyref')"
    )
    given = {**os.environ, "ALLOYREF_DATA_DIR": str(tmp_path)}
    done = subprocess.run([sys.executable, "-c", program], env=given, capture_output=True, timeout=60, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (STOPPED, b"", b"")


class TestNumbers:
    """Numbers stand under one another."""

    def test_values_point_under_point(self, run: Run) -> None:
        lines = run("estimate", "--composition", "Au 750, Ag 125, Cu 125").stdout.splitlines()
        points = {line.index(".") for line in lines[: lines.index("")] if re.match(r"\w+ +\d+\.\d", line)}
        assert len(points) == 1

    def test_the_alloys_columns_end_together(self, run: Run) -> None:
        lines = run("alloys", "--base", "Au").stdout.splitlines()
        rule = lines[1]
        ends = [match.end() for match in re.finditer("-+", rule)]
        for line in lines[2 : lines.index("")]:
            for column in (2, 3, 4):
                assert line[ends[column] - 1 : ends[column] + 1].strip() == line[ends[column] - 1]


class TestJson:
    """What --json adds where there is an answer."""

    def test_the_standings(self, run: Run) -> None:
        document = json.loads(run("dataset", "--json").stdout)
        assert document["dataset"]["hash"] in run("dataset").stdout
        assert document["standings"]["alloys.density"]

    def test_every_command_with_an_answer_takes_it(self) -> None:
        without = {"serve", "demo", "openapi", "help", "workbook", "upgrade", "backup", "restore", "check", "seal"}

        def those(group: click.Group) -> list[str]:
            found = []
            for name, one in group.commands.items():
                if isinstance(one, click.Group):
                    found += those(one)
                elif not any("--json" in parameter.opts for parameter in one.params):
                    found.append(name)
            return found

        pictures = set(main.commands["picture"].commands)  # type: ignore[attr-defined]
        assert set(those(main)) - pictures - {"bulk", "create", "revoke"} <= without
