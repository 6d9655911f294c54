"""What keeps a command from starting is told in one line, with exit code 2 and no traceback."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from alloyref.catalogue.files import data_folder
from alloyref.cli import main
from alloyref.settings import Settings

Run = Callable[..., Result]
SECONDS = 60
COMMANDS = {
    "serve": ("serve", "--port", "8087"),
    "transfer": ("transfer", "--mass", "1 g", "--from-metal", "Ag", "--to-metal", "Au"),
    "alloys": ("alloys",),
    "dataset": ("dataset",),
    "explain": ("dataset", "explain", "sterling-silver"),
    "openapi": ("openapi",),
    "help": ("help", "units"),
}
WITH_DATA = """
import sys
from pathlib import Path
from alloyref.catalogue import files
broken = Path(sys.argv.pop(1))
files.shipped = lambda packaged, in_checkout, shipped=files.shipped: (
    broken if packaged == "_data" else shipped(packaged, in_checkout)
)
from alloyref.cli import main
main(sys.argv[1:], prog_name="alloyref")
"""


def in_one_line(done: subprocess.CompletedProcess[str], *words: str) -> None:
    """It ended with 2, printed nothing else, and told it in a line."""
    assert (done.returncode, done.stdout) == (2, ""), done.stderr
    assert re.fullmatch("Error: .+\n", done.stderr), done.stderr
    for word in words:
        assert word in done.stderr


def ran(*command: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A program of its own."""
    given = {"PATH": os.environ["PATH"], **environment}
    return subprocess.run(
        [sys.executable, *command], capture_output=True, text=True, check=False, env=given, timeout=SECONDS
    )


@pytest.fixture(scope="session")
def broken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data, with one row that is not as it must be."""
    folder = tmp_path_factory.mktemp("broken") / "data"
    shutil.copytree(data_folder(), folder, ignore=shutil.ignore_patterns("models", "deploy", "demo"))
    table = folder / "elements.csv"
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    lines[1] = re.sub(r"\d+\.\d+", "heavy", lines[1], count=1)
    table.write_text("".join(lines), encoding="utf-8")
    return folder


@pytest.mark.parametrize("name", COMMANDS)
def test_a_bad_row_of_the_data_is_named(name: str, broken: Path, tmp_path: Path) -> None:
    done = ran("-c", WITH_DATA, str(broken), *COMMANDS[name], ALLOYREF_DATA_DIR=str(tmp_path))
    in_one_line(done, "elements.csv:2")


def test_missing_data_are_named(tmp_path: Path) -> None:
    in_one_line(ran("-c", WITH_DATA, str(tmp_path), "alloys", ALLOYREF_DATA_DIR=str(tmp_path)), "dataset.toml")


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("no folder")
    for command in (("serve", "--port", "8087"), ("db", "upgrade")):
        in_one_line(ran("-m", "alloyref", *command, ALLOYREF_DATA_DIR=str(taken / "data")), str(taken))


def test_a_user_without_a_home_is_told_what_to_set(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("alloyref.settings.user_data_path", lambda *_, **__: Path("~/.local/share/alloyref"))
    with pytest.raises(ValueError, match="ALLOYREF_DATA_DIR"):
        Settings.from_environment({})
    for command in (("serve",), ("db", "check")):
        told = CliRunner().invoke(main, command, env={"ALLOYREF_DATA_DIR": ""})
        assert told.exit_code == 2
        assert re.fullmatch("Error: .*ALLOYREF_DATA_DIR.*\n", told.stderr)


def test_a_wrong_setting_is_told_in_a_line(tmp_path: Path) -> None:
    done = ran("-m", "alloyref", "serve", ALLOYREF_PORT="many", ALLOYREF_DATA_DIR=str(tmp_path))
    in_one_line(done, "ALLOYREF_PORT")


def test_a_description_is_written_whole_or_not_at_all(
    run: Run, tmp_path: Path, broken: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "openapi.yaml"
    target.write_text("old")
    done = ran("-c", WITH_DATA, str(broken), "openapi", "--output", str(target), ALLOYREF_DATA_DIR=str(tmp_path))
    in_one_line(done, "elements.csv:2")
    with monkeypatch.context() as patched:

        def full(path: Path, text: str, **_: object) -> None:
            path.write_bytes(text.encode()[:100])
            raise OSError(28, "No space left on device", str(path))

        patched.setattr(Path, "write_text", full)
        assert run("openapi", "--output", str(target)).exit_code == 2
    assert [one.name for one in tmp_path.iterdir() if "openapi" in one.name] == [target.name]
    assert target.read_text() == "old"
    assert run("openapi", "--output", str(target)).exit_code == 0
    assert target.read_text(encoding="utf-8") == run("openapi").stdout
