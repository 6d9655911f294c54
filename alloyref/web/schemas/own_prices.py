"""The quotes that the shop has stored. No Flask here: the command line looks them up too."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from alloyref.shop.database import Database
from alloyref.shop.entries import PRICES
from alloyref.shop.prices import conditions, newest_first
from alloyref.web.schemas.document import parse

MOST_QUOTES = 10_000


class OwnPrices:
    """Looks up stored quotes for the loaders, for whoever has the database at hand."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def latest(self, on: str) -> Sequence[Mapping[str, Any]]:
        """Of each metal and currency the latest quote made by that day, as it was written."""
        with self._database.read() as connection:
            found, _ = PRICES.page(connection, 1, MOST_QUOTES, conditions(None, None, on), newest_first())
        return [parse(one.document.encode()) for one in found]
