"""Bytes as they arrive, cut at line ends; never more than one line and one arrival in memory."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator

MOST_LINE = 20_000
"""Bytes of a row, its line ends included; a longer one is a bad row, and reading goes on after its first line."""
PART = 32_768
FOREIGN = re.compile("[\ud800-\udfff]")
"""What stands in a text where the bytes were not UTF-8."""
_MARK = b"\xef\xbb\xbf"


class Blocks:
    """Gives whole lines, as many as have arrived.

    A line that grows too long is given cut off, longer than `MOST_LINE`, as the last of its block; the rest of
    it is passed over.
    """

    def __init__(self) -> None:
        self._rest = b""
        self._passing_over = False
        self._begun = False

    def take(self, data: bytes, last: bool = False) -> bytes:
        """The lines that end within these bytes; with `last` also one that has no line end."""
        if self._passing_over:
            _, end, data = data.partition(b"\n")
            self._passing_over = not end
        whole = self._rest + data
        if not self._begun and (len(whole) >= len(_MARK) or last):
            # A byte order mark says nothing in UTF-8, and is no part of the first name.
            self._begun = True
            whole = whole.removeprefix(_MARK)
        cut = len(whole) if last else whole.rfind(b"\n") + 1
        if len(whole) - cut > MOST_LINE:
            cut = len(whole)
            self._passing_over = True
        self._rest = whole[cut:]
        return whole[:cut]


def lines_of(block: bytes) -> Iterator[str]:
    """The lines of a block as text; what is not UTF-8 comes through as lone surrogates (`FOREIGN`)."""
    return io.StringIO(block.decode("utf-8", "surrogateescape"), newline="\n")


def parts_of(block: bytes) -> Iterator[bytes]:
    """A block in parts that end with a line: the lines of a part, as text, weigh up to thirty times its bytes."""
    start = 0
    while len(block) - start > PART:
        end = block.find(b"\n", start + PART) + 1 or len(block)
        yield block[start:end]
        start = end
    yield block[start:]


def size_of(lines: list[str]) -> int:
    """The bytes that these lines arrived as."""
    return sum(len(line) if line.isascii() else len(line.encode("utf-8", "surrogateescape")) for line in lines)
