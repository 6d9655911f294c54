"""What differs between two answers, field by field."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from alloyref.domain.errors import pointer_token

MOST = 500
"""No more differences are listed; that many make another answer altogether."""


@dataclass(frozen=True, slots=True)
class Difference:
    """One place where two documents differ; `kind` is `changed`, `added` or `removed`."""

    pointer: str
    kind: str
    recorded: Any
    now: Any


def differences(recorded: Any, now: Any, pointer: str = "") -> Iterator[Difference]:
    """The places, by JSON pointer, where two plain JSON values differ; lists are compared place by place.

    >>> [one.pointer for one in differences({"a": [1, {"b": 2}]}, {"a": [1, {"b": 3}, 4]})]
    ['/a/1/b', '/a/2']
    """
    if isinstance(recorded, dict) and isinstance(now, dict):
        for name in dict.fromkeys((*recorded, *now)):
            yield from _one(recorded, now, name, f"{pointer}/{pointer_token(name)}")
    elif isinstance(recorded, list) and isinstance(now, list):
        old, new = dict(enumerate(recorded)), dict(enumerate(now))
        for place in range(max(len(old), len(new))):
            yield from _one(old, new, place, f"{pointer}/{place}")
    elif isinstance(recorded, bool) is not isinstance(now, bool) or recorded != now:
        yield Difference(pointer, "changed", recorded, now)


def _one(recorded: dict[Any, Any], now: dict[Any, Any], name: Any, pointer: str) -> Iterator[Difference]:
    if name not in now:
        yield Difference(pointer, "removed", recorded[name], None)
    elif name not in recorded:
        yield Difference(pointer, "added", None, now[name])
    else:
        yield from differences(recorded[name], now[name], pointer)
