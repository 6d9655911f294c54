"""The shop's own alloys, for the holder of a key, wherever a request names one."""

from __future__ import annotations

from flask import g, has_request_context

from alloyref.domain.errors import InvalidInput
from alloyref.shop.keys import READ
from alloyref.web.access import key_with
from alloyref.web.schemas.own_metals import OwnMetals


class RequestMetals(OwnMetals):
    """Asks for a key, reads each alloy once in a request, and notes it for the record."""

    def document(self, name: str) -> str:
        """The alloy as it was written; a repeated record has put there what it was then."""
        if not has_request_context():
            raise InvalidInput.of("unknown-metal", "Alloys of the shop's own are not known here.")
        noted = noted_alloys()
        if name not in noted:
            key_with(READ)
            noted[name] = super().document(name)
        return noted[name]


def noted_alloys() -> dict[str, str]:
    """The shop's alloys that this request used, as they were written."""
    found: dict[str, str] | None = g.get("alloyref_alloys")
    if found is None:
        found = g.alloyref_alloys = {}
    return found
