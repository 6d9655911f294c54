"""What can go wrong with what users write; no HTTP here."""

from __future__ import annotations

from alloyref.domain.errors import AlloyrefError, Issue


class Unavailable(AlloyrefError):
    """The database does not answer in time or is not of this program's schema; the same request may work later."""

    @classmethod
    def of(cls, detail: str) -> Unavailable:
        """The error with a single issue."""
        return cls(Issue("unavailable", detail))
