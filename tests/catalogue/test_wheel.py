"""A built wheel carries the data and the description, and serves them from outside any checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from importlib.util import find_spec
from pathlib import Path

import pytest

from alloyref.catalogue.files import data_folder, table_files

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = """
from pathlib import Path
import alloyref
from alloyref.catalogue.files import data_folder
from alloyref.settings import Settings
from alloyref.web.app import create_app
here = Path(alloyref.__file__).parent
assert data_folder() == here / "_data", data_folder()
client = create_app(Settings(data_dir=Path("state"))).test_client()
print(here)
print(client.get("/v1/dataset").json["hash"])
print(client.get("/v1/alloys/sterling-silver/density?format=text").text)
"""


def pip(*arguments: str) -> None:
    """Run pip; its output is shown if it fails."""
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q", *arguments]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=240, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout."""
    folder = Path(tmp_path_factory.mktemp("wheel"))
    # With the build backend at hand nothing need be fetched for it.
    isolation = ["--no-build-isolation"] if find_spec("hatchling") else []
    pip("wheel", "--no-deps", *isolation, "--wheel-dir", str(folder), str(ROOT))
    built = list(folder.glob("alloyref-*.whl"))
    assert len(built) == 1
    return built[0]


def test_it_holds_every_data_file_and_the_description(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
        folder = data_folder()
        for path in [*table_files(folder), folder / "demo" / "order.json", *folder.glob("deploy/*")]:
            inside = f"alloyref/_data/{path.relative_to(folder).as_posix()}"
            assert inside in names
            assert archive.read(inside) == path.read_bytes()
        description = ROOT / "openapi" / "openapi.yaml"
        assert archive.read("alloyref/_openapi/openapi.yaml") == description.read_bytes()
    assert "alloyref/py.typed" in names
    assert any(name.endswith("entry_points.txt") for name in names)
    assert not [name for name in names if name.startswith(("tests/", "data/")) or "__pycache__" in name]


def test_it_serves_the_data_from_outside_the_checkout(wheel: Path, tmp_path: Path) -> None:
    target = tmp_path / "installed"
    pip("install", "--no-deps", "--target", str(target), str(wheel))
    environment = {**os.environ, "PYTHONPATH": str(target), "PYTHONSAFEPATH": "1"}
    command = [sys.executable, "-c", PROGRAM]
    ran = subprocess.run(
        command, capture_output=True, text=True, cwd=tmp_path, env=environment, timeout=60, check=False
    )
    assert ran.returncode == 0, ran.stderr
    where, digest, density = ran.stdout.split("\n")[:3]
    assert Path(where) == target / "alloyref"
    assert len(digest) == 16
    assert 10 < float(density) < 11
