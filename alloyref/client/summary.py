"""The summary that ends a bulk answer: checked against all that came before it."""

from __future__ import annotations

import hashlib
import re
from typing import BinaryIO

MOST_SUMMARY = 10_000
"""Bytes that are held back, in case the summary is among them."""
_SUMMARY = re.compile(
    rb"(?:[,;]*summary: rows=(\d+) errors=(\d+) sha256=([0-9a-f]{64})\r\n"
    rb'|\{"summary":\{"rows":(\d+),"errors":(\d+),"sha256":"([0-9a-f]{64})"\}\}\n)'
)


class BrokenAnswer(Exception):
    """A bulk answer without its summary, or one that the summary does not fit."""


class SummaryCheck:
    """Writes an answer through as it comes, but for its last row, which must be a summary that fits."""

    def __init__(self, target: BinaryIO) -> None:
        self._target = target
        self._digest = hashlib.sha256()
        self._held = b""

    def take(self, data: bytes) -> None:
        """Take a part of the answer."""
        held = self._held + data
        cut = max(0, len(held) - MOST_SUMMARY)
        self._through(held[:cut])
        self._held = held[cut:]

    def end(self) -> dict[str, int]:
        """The counts of the summary; `BrokenAnswer` if there is none or it does not fit."""
        cut = self._held.rfind(b"\n", 0, -1) + 1
        match = _SUMMARY.fullmatch(self._held[cut:])
        if match is None:
            raise BrokenAnswer("the answer has no summary at its end: it was cut off")
        self._through(self._held[:cut])
        rows, errors, digest = (one for one in match.groups() if one is not None)
        if digest.decode() != self._digest.hexdigest():
            raise BrokenAnswer("the answer is not the one that was summed up")
        return {"rows": int(rows), "errors": int(errors)}

    def _through(self, data: bytes) -> None:
        self._digest.update(data)
        self._target.write(data)
