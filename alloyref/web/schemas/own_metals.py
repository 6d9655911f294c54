"""The shop's own alloys as metals. No Flask here: the command line looks them up too."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from alloyref.domain.errors import InvalidInput, did_you_mean, nearest
from alloyref.domain.metal import Metal
from alloyref.domain.reference import Reference
from alloyref.domain.shop.alloy import ID_FORM, PREFIX, ShopAlloy, metal_of
from alloyref.shop.database import Database
from alloyref.shop.entries import ALLOYS
from alloyref.web.schemas.document import parse
from alloyref.web.schemas.load import Loaders

FORM = re.compile(PREFIX + ID_FORM)
MOST_COMPARED = 1000
"""Where the shop has more alloys, no near matches are searched for: each search compares with them all."""


@dataclass(slots=True)
class Notes:
    """What one piece of work has seen of the shop's alloys, so that it sees the same to its end.

    The alloys that were named, as they were written, and the ids that there were when first a name was none of them.
    """

    documents: dict[str, str] = field(default_factory=dict)
    ids: tuple[str, ...] | None = None


class OwnMetals:
    """Looks up `shop:...` for the loaders, in the database, for whoever has it at hand; each alloy once."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._notes = Notes()

    def metal(self, name: str, reference: Reference, loaders: Loaders) -> Metal:
        """The metal of that id; `InvalidInput` with near matches if the shop has none."""
        alloy: ShopAlloy = loaders.load(ShopAlloy, parse(self.document(name).encode()))
        return metal_of(name.removeprefix(PREFIX), alloy, reference)

    def document(self, name: str) -> str:
        """The alloy as it was written when it was first named, or `InvalidInput`."""
        notes = self.notes()
        found = notes.documents.get(name)
        if found is None:
            found = notes.documents[name] = self._read(name, notes)
        return found

    def notes(self) -> Notes:
        """The notes of the work at hand: here, of all that is done with this object."""
        return self._notes

    def _read(self, name: str, notes: Notes) -> str:
        id_ = name.removeprefix(PREFIX)
        if notes.ids is None or id_ in notes.ids:
            with self._database.read() as connection:
                found = ALLOYS.read(connection, id_) if FORM.fullmatch(name) else None
                if found is not None:
                    return found.document
                if notes.ids is None:
                    notes.ids = ALLOYS.ids(connection)
        few = len(notes.ids) <= MOST_COMPARED
        meant = tuple(PREFIX + one for one in nearest(id_, notes.ids)) if few else ()
        raise InvalidInput.of(
            "unknown-metal", f"The shop has no alloy {name[:80]!r}." + did_you_mean(meant), "", meant
        )
