"""The shop's own alloys as metals. No Flask here: the command line looks them up too."""

from __future__ import annotations

import re

from alloyref.domain.errors import InvalidInput, did_you_mean, nearest
from alloyref.domain.metal import Metal
from alloyref.domain.reference import Reference
from alloyref.domain.shop.alloy import ID_FORM, PREFIX, ShopAlloy, metal_of
from alloyref.shop.database import Database
from alloyref.shop.entries import ALLOYS
from alloyref.web.schemas.document import parse
from alloyref.web.schemas.load import Loaders

FORM = re.compile(PREFIX + ID_FORM)


class OwnMetals:
    """Looks up `shop:...` for the loaders, in the database, for whoever has it at hand."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def metal(self, name: str, reference: Reference, loaders: Loaders) -> Metal:
        """The metal of that id; `InvalidInput` with near matches if the shop has none."""
        alloy: ShopAlloy = loaders.load(ShopAlloy, parse(self.document(name).encode()))
        return metal_of(name.removeprefix(PREFIX), alloy, reference)

    def document(self, name: str) -> str:
        """The alloy as it was written, or `InvalidInput`."""
        with self._database.read() as connection:
            found = ALLOYS.read(connection, name.removeprefix(PREFIX)) if FORM.fullmatch(name) else None
            if found is not None:
                return found.document
            near = nearest(name.removeprefix(PREFIX), ALLOYS.ids(connection))
        meant = tuple(PREFIX + one for one in near)
        raise InvalidInput.of(
            "unknown-metal", f"The shop has no alloy {name[:80]!r}." + did_you_mean(meant), "", meant
        )
