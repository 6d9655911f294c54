"""The reference data for commands, opened when a command needs it and not before."""

from __future__ import annotations

from dataclasses import dataclass

import click

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.kept import open_dataset
from alloyref.domain.reference import Reference
from alloyref.settings import Settings
from alloyref.shop.database import open_database
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.own_metals import OwnMetals
from alloyref.web.schemas.own_prices import OwnPrices
from alloyref.web.schemas.write import Writers


class BadStart(click.ClickException):
    """What a command needs is not as it must be: a setting, a folder, a row of the data. Told in one line."""

    exit_code = 2


@dataclass(frozen=True, slots=True)
class Bench:
    """What a command works with."""

    reference: Reference
    loaders: Loaders
    writers: Writers


def settings_or_end() -> Settings:
    """The settings; a wrong one ends the command with 2 and a message that names it."""
    try:
        return Settings.from_environment()
    except ValueError as error:
        raise BadStart(str(error)) from None


def bench() -> Bench:
    """The data of the package, checked and kept in the user's data folder at first use."""
    settings = settings_or_end()
    reference = open_dataset(data_folder(), settings.data_dir).reference
    database = open_database(settings.database)
    loaders = Loaders(reference, OwnMetals(database), OwnPrices(database))
    return Bench(reference, loaders, Writers(reference.units))
