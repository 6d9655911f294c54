"""Running commands in this process, over data of their own."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from alloyref.catalogue.files import data_folder
from alloyref.cli import main


@pytest.fixture(scope="session")
def run(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Result]:
    """Run a command: `run("mass", "--value", "1", stdin=...)`; an escaped exception fails the test."""
    folder = str(tmp_path_factory.mktemp("cli"))

    def invoke(*arguments: str, stdin: str | bytes | None = None) -> Result:
        result = CliRunner().invoke(main, list(arguments), input=stdin, env={"ALLOYREF_DATA_DIR": folder})
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise AssertionError(f"alloyref {' '.join(arguments)} broke off") from result.exception
        assert "Traceback" not in result.output
        return result

    return invoke


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the data files, to be spoilt."""
    target = tmp_path / "data"
    shutil.copytree(data_folder(), target)
    return target
