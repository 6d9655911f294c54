"""JSON documents as they may come in: exact decimals, unique names, nothing that JSON does not allow."""

from __future__ import annotations

import json
from collections import Counter
from decimal import Decimal, InvalidOperation
from typing import Any, NoReturn

ABSURD = Decimal("1E+999")
"""Stands for a number whose exponent no Decimal holds, and is refused by its place as one out of range."""


def parse(data: bytes | str) -> Any:
    """The JSON document in these bytes or this text; `ValueError` says what is wrong with it."""
    try:
        return _DECODER.decode(data.decode("utf-8") if isinstance(data, bytes) else data)
    except RecursionError:
        raise ValueError("it is nested too deeply") from None


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
