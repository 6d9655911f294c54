"""The shop's own alloys and quotes, for the holder of a key, wherever a request names one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from flask import g, has_request_context

from alloyref.domain.errors import InvalidInput
from alloyref.shop.keys import READ
from alloyref.web.access import key_with
from alloyref.web.schemas.own_metals import Notes, OwnMetals
from alloyref.web.schemas.own_prices import OwnPrices


class RequestMetals(OwnMetals):
    """Asks for a key, reads each alloy once in a request, and notes what was named for the record."""

    def document(self, name: str, within: object = None) -> str:
        """The alloy as it was written; a repeated record has put there what it was then."""
        if not has_request_context():
            raise InvalidInput.of("unknown-metal", "Alloys of the shop's own are not known here.")
        if name not in noted_alloys():
            key_with(READ)
        return super().document(name, within)

    def notes(self) -> Notes:
        """The notes of this request."""
        return _notes()


def noted_alloys() -> dict[str, str]:
    """The shop's alloys that this request used, as they were written."""
    return _notes().documents


def _notes() -> Notes:
    found: Notes | None = g.get("alloyref_alloys")
    if found is None:
        found = g.alloyref_alloys = Notes()
    return found


class RequestPrices(OwnPrices):
    """The stored quotes, for the holder of a key."""

    def latest(self, on: str) -> Sequence[Mapping[str, Any]]:
        """Of each metal and currency the latest quote made by that day, as it was written."""
        key_with(READ)
        return super().latest(on)
