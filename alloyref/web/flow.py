"""How much the requests of all connections together may hold at a time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

MANY_BODIES, AFTER_SECONDS = "Many bodies are on their way.", 1
MANY_RUNS = "Many bulk requests are being answered."


class Full(Exception):
    """There is no room for this request now: why, and after how many seconds to ask again."""

    def __init__(self, why: str, seconds: int) -> None:
        super().__init__(why)
        self.why, self.seconds = why, seconds


class Flow:
    """Counts what requests in progress hold, in bytes or in places.

    >>> flow = Flow(10)
    >>> with flow.room(7):
    ...     flow.held
    7
    """

    def __init__(self, most: int, busy: str = MANY_BODIES) -> None:
        self._most, self._busy = most, busy
        self.held = 0

    @contextmanager
    def room(self, size: int) -> Iterator[None]:
        """Hold so much room; `Full` where there is none. One alone always has room."""
        if self.held and self.held + size > self._most:
            raise Full(self._busy, AFTER_SECONDS)
        self.held += size
        try:
            yield
        finally:
            self.held -= size
