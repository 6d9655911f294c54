"""The shop's own alloys as metals. No Flask here: the command line looks them up too."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import islice

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
MOST_AT_ONCE = 200
"""Alloys read in one question; what names more, some of them perhaps where no metal is asked for, asks again."""


@dataclass(slots=True)
class Notes:
    """What one piece of work has seen of the shop's alloys, so that it sees the same to its end.

    The alloys that were named, as they were written; those that were read along with them and may yet be named; and
    the ids that there were when first a name was none of them.
    """

    documents: dict[str, str] = field(default_factory=dict)
    ahead: dict[str, str] = field(default_factory=dict)
    ids: tuple[str, ...] | None = None


class OwnMetals:
    """Looks up `shop:...` for the loaders, in the database, for whoever has it at hand.

    Each alloy is read once, and all that one input names are read together.
    """

    def __init__(self, database: Database) -> None:
        self._database = database
        self._notes = Notes()

    def metal(self, name: str, within: object, reference: Reference, loaders: Loaders) -> Metal:
        """The metal of that id; `InvalidInput` with near matches if the shop has none."""
        alloy: ShopAlloy = loaders.load(ShopAlloy, parse(self.document(name, within).encode()))
        return metal_of(name.removeprefix(PREFIX), alloy, reference)

    def document(self, name: str, within: object = None) -> str:
        """The alloy as it was written when it was first named, or `InvalidInput`.

        What else `within` names is read with it.
        """
        notes = self.notes()
        found = notes.documents.get(name)
        if found is None:
            found = notes.ahead.pop(name, None) or self._read(name, within, notes)
            notes.documents[name] = found
        return found

    def notes(self) -> Notes:
        """The notes of the work at hand: here, of all that is done with this object."""
        return self._notes

    def _read(self, name: str, within: object, notes: Notes) -> str:
        id_ = name.removeprefix(PREFIX)
        if notes.ids is None or id_ in notes.ids:
            with self._database.read() as connection:
                if FORM.fullmatch(name):
                    found = ALLOYS.documents(connection, {id_, *islice(_unread(within, notes), MOST_AT_ONCE - 1)})
                    notes.ahead.update((PREFIX + one, document) for one, document in found.items())
                    if name in notes.ahead:
                        return notes.ahead.pop(name)
                if notes.ids is None:
                    notes.ids = ALLOYS.ids(connection)
        few = len(notes.ids) <= MOST_COMPARED
        meant = tuple(PREFIX + one for one in nearest(id_, notes.ids)) if few else ()
        raise InvalidInput.of(
            "unknown-metal", f"The shop has no alloy {name[:80]!r}." + did_you_mean(meant), "", meant
        )


def _unread(within: object, notes: Notes) -> Iterator[str]:
    """The ids of all that looks like a name of such an alloy, and may be one that was not read yet."""
    for name in _names(within):
        id_ = name.removeprefix(PREFIX)
        if name not in notes.documents and name not in notes.ahead and (notes.ids is None or id_ in notes.ids):
            yield id_


def _names(within: object) -> Iterator[str]:
    left = [within]
    while left:
        one = left.pop()
        if isinstance(one, str):
            if FORM.fullmatch(one):
                yield one
        elif isinstance(one, Mapping):
            left.extend(one.values())
        elif isinstance(one, (list, tuple)):
            left.extend(one)
