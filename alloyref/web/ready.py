"""Answers kept ready: what a read gave once, it gives again until the data change, without being made anew."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass

Headers = list[tuple[str, str]]
# Headers that stand in a full answer only, not in a 304 (RFC 9110, section 15.4.5).
CONTENT_HEADERS = frozenset({"content-type", "content-length"})


# Headers that belong to the one request, not to the answer.
OF_ONE_REQUEST = frozenset({"x-request-id"})


@dataclass(frozen=True, slots=True)
class ReadyAnswer:
    """A whole answer: headers of the 200, headers of the 304, validator and body."""

    headers: Headers
    headers_304: Headers
    etag: str
    body: bytes


class ReadyAnswers:
    """Bounded by number and by bytes; the least lately used goes first."""

    def __init__(self, most_answers: int = 4096, most_bytes: int = 16_000_000) -> None:
        self._most_answers = most_answers
        self._most_bytes = most_bytes
        self._bytes = 0
        self._kept: OrderedDict[tuple[str, str, str], ReadyAnswer] = OrderedDict()

    def get(self, key: tuple[str, str, str]) -> ReadyAnswer | None:
        """The answer for path, query and Accept, if it is kept."""
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
        return found

    def keep(self, key: tuple[str, str, str], headers: Headers, body: bytes) -> None:
        """Keep a cacheable answer that has a validator."""
        names = {name.lower(): value for name, value in headers}
        if "etag" not in names or not names.get("cache-control", "").startswith("public"):
            return
        size = len(body) + sum(map(len, key))
        if size > self._most_bytes // 4:
            return
        headers = [pair for pair in headers if pair[0].lower() not in OF_ONE_REQUEST]
        short = [pair for pair in headers if pair[0].lower() not in CONTENT_HEADERS]
        old = self._kept.pop(key, None)
        self._bytes += size - (self._size(key, old) if old else 0)
        self._kept[key] = ReadyAnswer(headers, short, names["etag"], body)
        while self._bytes > self._most_bytes or len(self._kept) > self._most_answers:
            dropped, gone = self._kept.popitem(last=False)
            self._bytes -= self._size(dropped, gone)

    @staticmethod
    def _size(key: tuple[str, str, str], kept: ReadyAnswer) -> int:
        return len(kept.body) + sum(map(len, key))


def matches(if_none_match: str, etag: str) -> bool:
    """Whether a conditional request names this validator (weak comparison, RFC 9110, section 13.1.2).

    >>> matches('W/"a", "b"', '"b"'), matches('*', '"b"'), matches('"c"', '"b"')
    (True, True, False)
    """
    if if_none_match == etag or if_none_match.strip() == "*":
        return True
    return any(one.strip().removeprefix("W/") == etag for one in if_none_match.split(","))
