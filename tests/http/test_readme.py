"""README is tested: each command pasted from it works against a live service, and says what README says it does."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from alloyref.services.calculations import CALCULATIONS
from alloyref.web.routes.tables import TABLES

README = Path(__file__).parents[2] / "README.md"
ADDRESS = "http://127.0.0.1:8087"


def commands() -> list[str]:
    """Every shell block of README."""
    return re.findall(r"^```sh\n(.*?)^```", README.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


def run(command: str, server: Any, folder: Path) -> str:
    """Run a command as pasted, but for the address and data of the service and the place of the environment."""
    if "curl" in command and shutil.which("curl") is None:
        pytest.skip("curl is not installed")
    python = sys.executable
    here = command.replace(ADDRESS, server.address)
    programs = {".venv/bin/alloyref": f"{python} -m alloyref", ".venv/bin/python": python}
    here = re.sub("|".join(map(re.escape, programs)), lambda found: programs[found.group()], here)
    environment = {**os.environ, "ALLOYREF_DATA_DIR": str(server.log.parent / "data")}
    if "PYTHONPATH" in environment:
        environment["PYTHONPATH"] = str(Path(environment["PYTHONPATH"]).resolve())
    shell = ["bash", "-euo", "pipefail", "-c", here]
    done = subprocess.run(shell, capture_output=True, text=True, cwd=folder, env=environment, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_there_are_commands_for_each_use() -> None:
    assert len(commands()) >= 8


@pytest.mark.parametrize("command", commands())
def test_a_pasted_command_works(command: str, server: Any, tmp_path_factory: pytest.TempPathFactory) -> None:
    out = run(command, server, tmp_path_factory.mktemp("data"))
    assert out.strip()
    if "sterlng" in command:
        problem = json.loads(out)
        assert problem["status"] == 422
        codes = {one["code"] for one in problem["errors"]}
        assert codes == {"unit-ambiguous", "unknown-metal", "unknown-field", "missing"}
    elif "curl" in command:
        assert "/v1/problems/" not in out


def test_the_order_and_the_sheet_agree(server: Any, tmp_path: Path) -> None:
    order, printed = (one for one in commands() if "reed-pattern band" in one)
    answer = json.loads(run(order, server, tmp_path))
    assert answer["result"]["balance"]["total"]["difference"] == 0
    assert f"{answer['result']['piece_mass']['display']['g']:.2f}" in run(printed, server, tmp_path)


def test_the_cell_gets_a_bare_number(server: Any, tmp_path: Path) -> None:
    (cell,) = (one for one in commands() if "density?format=text" in one)
    assert re.fullmatch(r"\d+\.\d+", run(cell, server, tmp_path))


def test_every_table_and_calculation_is_named() -> None:
    text = README.read_text(encoding="utf-8")
    for table in TABLES:
        assert f"/v1/{table.name}" in text
    for name in CALCULATIONS:
        assert f"/v1/{name}" in text


def test_every_field_of_an_order_is_named() -> None:
    text = README.read_text(encoding="utf-8")
    for field in ("trial", "pattern", "volume", "final_metal", "spares", "others", "stones", "allowances", "on_hand"):
        assert f"`{field}`" in text
