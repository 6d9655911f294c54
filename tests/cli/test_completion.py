"""Completion, by the shells themselves where they are installed."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.shell_completion import ShellComplete

from alloyref.cli import main
from alloyref.cli.help import told
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

Offered = Callable[[str], dict[str, str | None]]


@pytest.fixture(scope="module")
def environment(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """An environment in which `alloyref` is this program."""
    folder = tmp_path_factory.mktemp("completion")
    program = folder / "alloyref"
    program.write_text(f'#!/bin/sh\nexec {sys.executable} -m alloyref "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    given = {name: value for name, value in os.environ.items() if not name.startswith(("ALLOYREF", "_ALLOYREF"))}
    return {
        **given,
        "PATH": f"{folder}{os.pathsep}{os.environ['PATH']}",
        "PYTHONPATH": os.pathsep.join(
            path for path in (str(Path(__file__).parents[2]), os.environ.get("PYTHONPATH")) if path
        ),
        "ALLOYREF_DATA_DIR": str(folder / "data"),
        "HOME": str(folder),
    }


@pytest.fixture
def completed(environment: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> Offered:
    """What is offered for a line, with what is said of each."""
    monkeypatch.setenv("ALLOYREF_DATA_DIR", environment["ALLOYREF_DATA_DIR"])

    def offered(line: str) -> dict[str, str | None]:
        *words, begun = line.split(" ")
        shell = ShellComplete(main, {}, "alloyref", "_ALLOYREF_COMPLETE")
        return {one.value: one.help for one in shell.get_completions(words[1:], begun)}

    return offered


def test_metals(completed: Offered, reference: Reference) -> None:
    found = completed("alloyref transfer --from-metal sterl")
    assert found == {one.id: one.metal.name for one in reference.alloys.values() if one.id.startswith("sterl")}
    assert "sterling-silver" in found
    assert completed("alloyref transfer --to-metal A").keys() >= {"Au", "Ag"}
    assert "sterling-silver" in completed("alloyref alloys sterl")


def test_units_of_the_right_kind(completed: Offered, reference: Reference) -> None:
    masses = {one.symbol for one in reference.units.all if one.dimension is Dimension.MASS}
    assert set(completed("alloyref transfer --to-unit ")) == masses


@pytest.mark.parametrize(
    ("line", "word"),
    [
        ("alloyref order --trial-stage as", "as-cast"),
        ("alloyref mark-check --soldered t", "true"),
        ("alloyref alloys --family g", "gold"),
        ("alloyref help st", "standings"),
        ("alloyref ord", "order"),
        ("alloyref order --pattern-material ", "injection-wax"),
    ],
)
def test_words(completed: Offered, line: str, word: str) -> None:
    assert any(one.startswith(word) for one in completed(line))


BASH = """
set -u
{line}
COMP_WORDS=(alloyref transfer --from-metal sterl); COMP_CWORD=3
_alloyref_completion alloyref
printf '%s\\n' "${{COMPREPLY[@]}}"
complete -p alloyref
"""
ZSH = """
autoload -Uz compinit; compinit -u -D
{line}
compdef | grep -q x; print -r -- $_comps[alloyref]
"""
FISH = """
{line}
complete -C 'alloyref transfer --from-metal sterl'
"""


@pytest.mark.parametrize(
    ("shell", "script", "says"),
    [("bash", BASH, "sterling-silver"), ("zsh", ZSH, "_alloyref_completion"), ("fish", FISH, "sterling-silver")],
)
def test_the_line_that_is_documented_works(environment: dict[str, str], shell: str, script: str, says: str) -> None:
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} is not installed")
    (shown,) = (one for one in told("completion").splitlines() if one.startswith(f"  {shell} "))
    line = shown[shown.index("eval" if "eval" in shown else "_ALLOYREF") :]
    command = [shell, "-c", script.format(line=line)]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=60, check=False)
    assert says in done.stdout, done.stderr
