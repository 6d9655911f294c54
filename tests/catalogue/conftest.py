"""The data as read from the text files, and a copy of them that may be changed."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import Dataset, read_dataset


@pytest.fixture(scope="session")
def dataset() -> Dataset:
    """Everything in the data files."""
    return read_dataset(data_folder())


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the data files."""
    target = tmp_path / "copied"
    shutil.copytree(data_folder(), target)
    return target
