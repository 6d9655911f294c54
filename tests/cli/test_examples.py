"""The examples that --help shows are run as they stand."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import click
import pytest
from click.testing import Result

from alloyref.catalogue.files import data_folder
from alloyref.cli import main
from alloyref.services.calculations import CALCULATIONS

Run = Callable[..., Result]
NEEDS_MORE = {"serve": "runs until stopped", "demo": "starts a service"}


def examples(command: click.Command, *way: str) -> Iterator[tuple[str, ...]]:
    """The example lines of a command and of those below it, each as its arguments."""
    lines = (command.help or "").partition("Example:")[2].splitlines()
    for line in lines:
        words = shlex.split(line.partition(" < ")[0].partition(" > ")[0], comments=True)
        if words[:1] == ["alloyref"] and words[1:2] and words[1] not in NEEDS_MORE:
            yield tuple(words[1:])
    if isinstance(command, click.Group):
        for name, inner in command.commands.items():
            yield from examples(inner, *way, name)


EXAMPLES = sorted(set(examples(main)))


def test_every_calculation_has_one() -> None:
    assert set(CALCULATIONS) <= {words[0] for words in EXAMPLES}


@pytest.fixture(scope="module")
def at_hand(run: Run, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What the examples speak of: a database, files in a folder, and a key for the one that is shown."""
    folder = tmp_path_factory.mktemp("examples")
    (folder / "openapi").mkdir()
    (folder / "openapi" / "openapi.yaml").write_text(run("openapi").stdout, encoding="utf-8")
    shutil.copy(data_folder() / "demo" / "order.json", folder)
    shutil.copytree(data_folder(), folder / "data")
    assert run("db", "upgrade").exit_code == 0
    made = run("keys", "create", "to-be-revoked", "--scope", "read")
    return {"folder": str(folder), "0123456789abcdef": made.stdout.split("_")[1]}


@pytest.mark.parametrize("arguments", EXAMPLES, ids=lambda words: words[0])
def test_it_runs(
    run: Run, monkeypatch: pytest.MonkeyPatch, at_hand: dict[str, str], arguments: tuple[str, ...]
) -> None:
    monkeypatch.chdir(at_hand["folder"])
    if arguments[:2] == ("db", "restore") and not Path(arguments[2]).is_file():
        assert run("db", "backup", arguments[2]).exit_code == 0
    stdin = "mass,unit,from_metal,to_metal\n1,g,Ag,Au\n" if arguments[0] == "bulk" else None
    result = run(*(at_hand.get(word, word) for word in arguments), stdin=stdin)
    assert result.exit_code == 0, result.output
