"""Reads that were answered before, kept with their validators."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock

Key = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Read:
    """The body of a read, the address of the next page if there is one, and its validator."""

    text: str
    next: str | None = None
    etag: str | None = None


class KeptReads:
    """The last reads, up to a number of entries and of characters; safe for threads.

    >>> kept = KeptReads(most=2)
    >>> for name in "abc":
    ...     kept.put((name,), Read(name, etag='"1"'))
    >>> kept.get(("a",)), kept.get(("c",)).text
    (None, 'c')
    """

    def __init__(self, most: int = 256, most_characters: int = 8_000_000) -> None:
        self._most, self._most_characters = most, most_characters
        self._reads: OrderedDict[Key, Read] = OrderedDict()
        self._characters = 0
        self._lock = Lock()

    def get(self, key: Key) -> Read | None:
        """What was read there last, if it is still kept."""
        with self._lock:
            found = self._reads.get(key)
            if found is not None:
                self._reads.move_to_end(key)
            return found

    def put(self, key: Key, read: Read) -> None:
        """Keep a read that has a validator; the longest unused ones make room."""
        if read.etag is None or len(read.text) > self._most_characters:
            return
        with self._lock:
            self._drop(key)
            self._reads[key] = read
            self._characters += len(read.text)
            while len(self._reads) > self._most or self._characters > self._most_characters:
                self._drop(next(iter(self._reads)))

    def _drop(self, key: Key) -> None:
        old = self._reads.pop(key, None)
        if old is not None:
            self._characters -= len(old.text)
