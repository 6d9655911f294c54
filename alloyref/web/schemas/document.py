"""JSON documents as they may come in: exact decimals, unique names, nothing that JSON does not allow."""

from __future__ import annotations

import json
from collections import Counter
from decimal import Decimal, InvalidOperation
from typing import Any, NoReturn

MOST_NESTED = 64
"""Deeper than any answer; what is just not too deep to be read would be too deep to be written or kept."""
TOO_DEEP = "it is nested too deeply"
ABSURD = Decimal("1E+999")
"""Stands for a number whose exponent no Decimal holds, and is refused by its place as one out of range."""


def parse(data: bytes | str) -> Any:
    """The JSON document in these bytes or this text; `ValueError` says what is wrong with it."""
    text = data.decode("utf-8") if isinstance(data, bytes) else data
    try:
        found = _DECODER.decode(text)
    except RecursionError:
        raise ValueError(TOO_DEEP) from None
    # Few brackets cannot be nested deeply, and most documents have few.
    if text.count("[") + text.count("{") > MOST_NESTED and _too_deep(found):
        raise ValueError(TOO_DEEP)
    return found


def _too_deep(document: Any) -> bool:
    within = [document] if isinstance(document, (dict, list)) else []
    for _ in range(MOST_NESTED):
        inner = (one.values() if isinstance(one, dict) else one for one in within)
        within = [one for values in inner for one in values if isinstance(one, (dict, list))]
        if not within:
            return False
    return True


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        # Counted in one walk: looked for one by one, the names of an object of 100 kB took seconds.
        counts = Counter(name for name, _ in pairs)
        twice = next(name for name, count in counts.items() if count > 1)
        raise ValueError(f"{twice[:40]!r} stands twice in one object.")
    return found


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number in JSON.")


def _exact(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:  # an exponent of more than eighteen digits
        return ABSURD


_DECODER = json.JSONDecoder(object_pairs_hook=_unique, parse_float=_exact, parse_constant=_no_constant)
