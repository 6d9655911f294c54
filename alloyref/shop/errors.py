"""What can go wrong with what users write; no HTTP here.

These are no faults of one field of an input, so they are no `AlloyrefError` and pass through its reading unchanged.
"""

from __future__ import annotations

from alloyref.domain.errors import Issue


class ShopError(Exception):
    """Base of all that this part raises on purpose: one issue, with a stable code and a sentence."""

    code = "shop"

    def __init__(self, detail: str, code: str = "") -> None:
        super().__init__(detail)
        self.issue = Issue(code or self.code, detail)


class Unavailable(ShopError):
    """The database does not answer in time or is of another schema; the same request may work later."""

    code = "unavailable"


class KeyRefused(ShopError):
    """No key was shown where one is needed, or it is not a good one; the code tells which."""

    code = "key-missing"


class ScopeMissing(ShopError):
    """The key is good, but not for this."""

    code = "scope-missing"

    def __init__(self, scope: str) -> None:
        super().__init__(f"This needs a key with the scope {scope}.")
        self.scope = scope


class Taken(ShopError):
    """There is, or was, an entry of that id; ids are never used twice."""

    code = "id-taken"


class ConditionMissing(ShopError):
    """A change was asked for without saying which version it is a change of."""

    code = "condition-missing"


class Stale(ShopError):
    """The entry has changed since the version that the change was meant for."""

    code = "stale"


class RepeatDiffers(ShopError):
    """An idempotency key was used before, for another request."""

    code = "idempotency-key-used"
