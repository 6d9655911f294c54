"""Searches for near matches: each costs about a tenth of a millisecond, and a piece of work may make only so many."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

MOST_SEARCHES = 300
"""More misspelt names than anybody reads suggestions for."""
MOST_AT_ONCE = 8
"""The same for what is answered in one go: so few cost less than the answer itself."""
Near = tuple[str, ...]


class Searches:
    """The searches that one piece of work has made, and how many more it may.

    >>> searches = Searches(1)
    >>> with searches.counted():
    ...     [searched(name, lambda: ("found",)) for name in ("a", "b", "a")]
    [('found',), (), ('found',)]
    """

    def __init__(self, most: int = MOST_SEARCHES) -> None:
        self._most = most
        self._found: dict[Hashable, Near] = {}

    @contextmanager
    def counted(self) -> Iterator[None]:
        """Count the searches that are made within."""
        token = _COUNTED.set(self)
        try:
            yield
        finally:
            _COUNTED.reset(token)

    def found(self, key: Hashable, search: Callable[[], Near]) -> Near:
        """What the search of that key finds, or found before; nothing when no more may be made."""
        if key not in self._found:
            if len(self._found) >= self._most:
                return ()
            self._found[key] = search()
        return self._found[key]


_COUNTED: ContextVar[Searches | None] = ContextVar("counted", default=None)


def searched(key: Hashable, search: Callable[[], Near]) -> Near:
    """What a search finds; where searches are counted, nothing beyond the most of them."""
    counted = _COUNTED.get()
    return search() if counted is None else counted.found(key, search)
