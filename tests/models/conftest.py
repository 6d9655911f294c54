"""The scripts behind the melting table, which are no part of the package."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable
from types import ModuleType

import pytest

from alloyref.catalogue.files import data_folder


@pytest.fixture(scope="session")
def script() -> Callable[[str], ModuleType]:
    """Load one of the scripts by name; they find each other as when one of them is run."""

    def load(name: str) -> ModuleType:
        folder = str(data_folder() / "models")
        sys.path.insert(0, folder)
        try:
            return importlib.import_module(name)
        finally:
            sys.path.remove(folder)

    return load
