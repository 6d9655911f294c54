"""An end to waiting for PostgreSQL.

Its own timeouts end a statement that is slow, and those of TCP a host that is gone. Neither helps with a server that
stands still, frozen or before a disk that hangs: its host goes on acknowledging what is sent to it.
"""

from __future__ import annotations

import time
from collections.abc import Generator
from functools import cache
from typing import Any

import psycopg


@cache
def bounded_connection(seconds: float) -> type[psycopg.Connection[Any]]:
    """A class of connections that are closed if they wait for longer, with `OperationalError`."""

    class BoundedConnection(psycopg.Connection[Any]):
        def wait(self, gen: Generator[Any, Any, Any], *given: Any, **named: Any) -> Any:
            return super().wait(self._until(gen, time.monotonic() + seconds), *given, **named)

        def _until(self, gen: Generator[Any, Any, Any], ends: float) -> Generator[Any, Any, Any]:
            """The same conversation with the server, broken off when its time is over."""
            try:
                wanted = next(gen)
                while True:
                    ready = yield wanted
                    if not ready and time.monotonic() > ends:
                        self.close()  # what it would still receive belongs to no question any more
                        raise psycopg.OperationalError(f"no answer within {seconds:g} s")
                    wanted = gen.send(ready)
            except StopIteration as end:
                return end.value

    return BoundedConnection
