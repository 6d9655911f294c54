"""What the tests share: the reference data, built once, and a way to ask a calculation as a face would."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.repository import ReferenceStore, open_store
from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.reference import Reference
from alloyref.web.schemas.load import Loaders

Ask = Callable[[Calculation, dict[str, Any]], Outcome]


@pytest.fixture(scope="session")
def store(tmp_path_factory: pytest.TempPathFactory) -> ReferenceStore:
    """The reference database, built from the text files into a temporary folder."""
    return open_store(data_folder(), Path(tmp_path_factory.mktemp("reference")))


@pytest.fixture(scope="session")
def reference(store: ReferenceStore) -> Reference:
    """The whole reference data as domain objects."""
    return store.load()[0]


@pytest.fixture(scope="session")
def ask(reference: Reference) -> Ask:
    """Load plain input through the declared schema and run the calculation."""
    loaders = Loaders(reference)

    def asked(calculation: Calculation, data: dict[str, Any]) -> Outcome:
        return calculation.run(loaders.load(calculation.inputs, data), reference)

    return asked
