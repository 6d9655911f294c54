"""LibreOffice Calc, headless, in a country of its own; without it these tests are skipped, or fail if required."""

from __future__ import annotations

import csv
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from uuid import uuid4

import pytest

RECALCULATE = Path(__file__).with_name("recalculate.py")
# The office's Python bindings belong to the system's Python, not to the environment of the tests.
SYSTEM_PYTHON = "/usr/bin/python3"
SECONDS = 240
ATTEMPTS = 3
# The office itself dies now and then while it draws, on a loaded machine; that says nothing of the service.
OFFICE_CRASHED = "Unspecified Application Error"

Sheet = list[list[str]]
Recalculate = Callable[[Path, str], dict[str, Sheet]]


def _missing() -> str | None:
    if shutil.which("soffice") is None:
        return "LibreOffice is not installed"
    bound = subprocess.run([SYSTEM_PYTHON, "-c", "import uno"], capture_output=True, check=False, env={})
    return None if bound.returncode == 0 else "LibreOffice's Python bindings are not installed"


@pytest.fixture(scope="session")
def office() -> str:
    """The program, or the reason to skip."""
    reason = _missing()
    if reason is None:
        return "soffice"
    if os.environ.get("CI_REQUIRES_CALC") == "1":
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture
def recalculate(office: str, tmp_path: Path) -> Recalculate:
    """Open a workbook, work every cell out anew, and read each sheet as it is shown."""

    def run(file: Path, locale: str) -> dict[str, Sheet]:
        for attempt in range(ATTEMPTS):
            folder = tmp_path / f"{locale}-{attempt}"
            (out := folder / "out").mkdir(parents=True)
            arguments = [folder / "profile", f"alloyref-{uuid4().hex}", out, file, locale]
            done = _run([SYSTEM_PYTHON, str(RECALCULATE), *map(str, arguments)], tmp_path)
            if OFFICE_CRASHED not in done.stderr:
                break
        assert done.returncode == 0, done.stderr
        return {path.stem.removeprefix("book-"): _rows(path) for path in out.glob("*.csv")}

    return run


def _run(command: list[str], home: Path) -> subprocess.CompletedProcess[str]:
    environment = {"PATH": os.environ["PATH"], "HOME": str(home)}
    return subprocess.run(command, capture_output=True, text=True, timeout=SECONDS, check=False, env=environment)


@pytest.fixture
def importer(office: str, tmp_path: Path) -> Callable[[str, str], str]:
    """Import a table by its address with a csv filter, and give the flat document it becomes."""

    def run(filter_: str, address: str) -> str:
        profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
        options = [profile, "--headless", f"--infilter={filter_}", "--convert-to", "fods", "--outdir", str(tmp_path)]
        subprocess.run([office, *options, address], check=True, capture_output=True, timeout=SECONDS)
        (made,) = tmp_path.glob("*.fods")
        return made.read_text(encoding="utf-8")

    return run


def _rows(path: Path) -> Sheet:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.reader(stream, delimiter=";"))
