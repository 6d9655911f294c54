"""The reference data for commands, opened when a command needs it and not before."""

from __future__ import annotations

from dataclasses import dataclass

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.repository import ReferenceStore, open_store
from alloyref.domain.reference import Reference
from alloyref.settings import Settings
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.write import Writers


@dataclass(frozen=True, slots=True)
class Bench:
    """What a command works with."""

    reference: Reference
    store: ReferenceStore
    loaders: Loaders
    writers: Writers


def bench() -> Bench:
    """The data of the package, built into the user's data folder at first use."""
    settings = Settings.from_environment()
    store = open_store(data_folder(), settings.data_dir)
    reference, _ = store.load()
    return Bench(reference, store, Loaders(reference), Writers(reference.units))
