"""What is shipped for running it: the unit, the container file and the text say only what is so."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from alloyref.catalogue.files import CODE, data_folder
from alloyref.cli import main
from alloyref.cli.serve import GRACE_SECONDS
from alloyref.settings import READERS, Settings

ROOT = Path(__file__).resolve().parents[2]
DEPLOY = data_folder() / "deploy"
PROGRAM = "/opt/alloyref/bin/alloyref"
VARIABLES = {f"ALLOYREF_{name.upper()}" for name in READERS}
# Of the client and the commands, not of the service: read where they are used.
CLIENTS = {
    found
    for path in CODE.rglob("*.py")
    for found in re.findall(r"\bALLOYREF_[A-Z_]+[A-Z]\b", path.read_text(encoding="utf-8"))
} - VARIABLES


def text(name: str) -> str:
    """A file of the folder."""
    return (DEPLOY / name).read_text(encoding="utf-8")


def unit(name: str) -> list[str]:
    """The values of a line of the unit."""
    return re.findall(rf"^{name}=(.*)$", text("alloyref.service"), re.MULTILINE)


def works(words: list[str]) -> bool:
    """Whether `alloyref` has such a command with such options and arguments."""
    command: Any = main
    context = command.context_class(command, info_name="alloyref")
    for place, word in enumerate(words):
        if not hasattr(command, "commands"):
            break
        command = command.commands.get(word)
        if command is None:
            return False
        rest = words[place + 1 :]
    command.make_context("alloyref", list(rest), parent=context)
    return True


def test_every_variable_named_anywhere_is_a_setting() -> None:
    for path in [*DEPLOY.iterdir(), ROOT / "README.md"]:
        named = set(re.findall(r"ALLOYREF_[A-Z_]+[A-Z]", path.read_text(encoding="utf-8")))
        assert named <= VARIABLES | CLIENTS, path.name


def test_the_table_of_settings_is_whole_and_its_defaults_are_the_programs() -> None:
    rows = re.findall(
        r"^\| `(ALLOYREF_\w+)` \| (.+) \| (.+) \|$", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE
    )
    assert {name for name, _, _ in rows} == VARIABLES | CLIENTS
    assert len(rows) == len(VARIABLES | CLIENTS)
    defaults = Settings()
    told = {
        "data_dir": "the user's data folder",
        "database_url": "`shop.sqlite` in the data folder",
        "cors_origins": "none",
        "rate_limit": "none",
        "max_memory": "the limit of its container, if it has one",
    }
    for name, _, default in rows:
        if name in CLIENTS:
            continue
        setting = name.removeprefix("ALLOYREF_").lower()
        expected = told.get(setting)
        if expected is None:
            # Written as the environment would have it, and read back.
            assert READERS[setting](default.strip("`")) == getattr(defaults, setting), name
        else:
            assert default == expected, name


def test_the_unit_runs_commands_that_there_are_and_stops_late_enough() -> None:
    for line in [*unit("ExecStart"), *unit("ExecStartPre")]:
        program, *words = shlex.split(line.removeprefix("-"))
        assert program == PROGRAM
        assert works(words), line
    assert unit("ExecStart") == [f"{PROGRAM} serve"]
    (patience,) = unit("TimeoutStopSec")
    assert int(patience) > GRACE_SECONDS


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not installed")
def test_systemd_reads_the_unit_and_finds_it_closed(tmp_path: Path) -> None:
    file = tmp_path / "alloyref.service"
    file.write_text(text("alloyref.service").replace(PROGRAM, sys.executable), encoding="utf-8")
    command = ["systemd-analyze", "verify", "--man=no", str(file)]
    verified = subprocess.run(command, capture_output=True, text=True, check=False)
    told = [line for line in (verified.stdout + verified.stderr).splitlines() if "alloyref" in line]
    assert (verified.returncode, told) == (0, [])
    # In tenths: exposed beyond this, and it fails.
    command = ["systemd-analyze", "security", "--offline=true", "--threshold=20", "--no-pager", str(file)]
    weighed = subprocess.run(command, capture_output=True, text=True, check=False)
    assert weighed.returncode == 0, weighed.stdout[-300:]


def instructions(name: str) -> list[str]:
    """What the container file says by one instruction, lines put together."""
    whole = re.sub(r"\\\n\s*", "", text("Containerfile"))
    return re.findall(rf"^{name} (.*)$", whole, re.MULTILINE)


def test_the_container_starts_a_command_that_there_is_and_not_as_root() -> None:
    (entry,), (arguments,) = instructions("ENTRYPOINT"), instructions("CMD")
    assert json.loads(entry) == ["alloyref"]
    assert works(json.loads(arguments))
    with (ROOT / "pyproject.toml").open("rb") as stream:
        project = tomllib.load(stream)["project"]
    assert json.loads(entry)[0] in project["scripts"]
    asked = re.findall(r"\[([a-z,]+)\]", " ".join(instructions("RUN")))
    wanted = set(",".join(asked).split(","))
    assert wanted
    assert wanted <= set(project["optional-dependencies"])
    (user,) = instructions("USER")
    assert int(user) > 0
    assert f"--uid {user} " in " ".join(instructions("RUN"))
    (environment,) = instructions("ENV")
    (volume,) = instructions("VOLUME")
    given = dict(one.split("=") for one in environment.split())
    assert given["ALLOYREF_DATA_DIR"] == volume
    assert Settings.from_environment(given).host == "0.0.0.0"  # noqa: S104 - only read, never bound
    assert instructions("EXPOSE") == [str(Settings().port)]
    least = tuple(map(int, project["requires-python"].removeprefix(">=").split(".")))
    for image in instructions("FROM"):
        found = re.match(r"python:(\d+)\.(\d+)-slim", image)
        assert found is not None
        assert (int(found[1]), int(found[2])) >= least


def test_the_health_check_tells_a_service_that_lives_from_one_that_does_not(start: Callable[..., Any]) -> None:
    (line,) = instructions("HEALTHCHECK")
    command = json.loads(line.partition(" CMD ")[2])
    assert command[0] == "python"

    def healthy(port: int) -> bool:
        words = [sys.executable, *(one.replace(f":{Settings().port}/", f":{port}/") for one in command[1:])]
        return subprocess.run(words, capture_output=True, check=False).returncode == 0

    with start() as service:
        assert healthy(service.port)
    assert not healthy(service.port)


def test_the_text_names_commands_and_files_that_there_are() -> None:
    readme = text("README.md")
    blocks = re.findall(r"^```sh.*?\n(.*?)^```", readme, re.MULTILINE | re.DOTALL)
    code = "\n".join([*blocks, *re.findall(r"`([^`\n]+)`", readme)])
    found = re.findall(r"(?:^|NAME )alloyref ([a-z].*)$", code, re.MULTILINE)
    assert len(found) > 8
    for line in found:
        assert works(shlex.split(line)), line
    for name in ("alloyref.service", "nginx.conf", "Containerfile"):
        assert f"`{name}`" in readme
        assert (DEPLOY / name).is_file()
    main_readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "data/deploy/README.md" in main_readme
