"""A copy of the data files that may be changed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from alloyref.catalogue.files import data_folder


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the data files."""
    target = tmp_path / "copied"
    shutil.copytree(data_folder(), target)
    return target
