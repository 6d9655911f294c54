"""Strict reading of the csv tables: the header must be as declared, and a bad cell names its file and line."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

from alloyref.domain.errors import InvalidInput
from alloyref.domain.numbers import parse_decimal
from alloyref.domain.provenance import Status

_ABOUT = re.compile(r"(?:^|; )(composition|density|solidus|liquidus|melting|melting point|hardness): ")
_SYMBOL = re.compile("[A-Z][a-z]?")
_MELTING = ("solidus", "liquidus", "melting_point")
_COVERS = {"melting": _MELTING, "melting point": _MELTING}


def note_about(note: str, name: str) -> str:
    """What of a row's note belongs to the property `name`: no word about its hardness at its solidus.

    A part that begins with the name of a property, as in `hardness: wire`, is about that one only and loses the
    name here; parts before the first name and those about the composition are about every figure of the row.

    >>> note_about("page 7; density: 0.302 lb/in3; melting: 1510 to 1780 F", "solidus")
    'page 7; 1510 to 1780 F'
    """
    lead, *parts = _ABOUT.split(note)
    kept = [lead]
    for about, words in zip(parts[::2], parts[1::2], strict=True):
        if about == "composition":
            kept.append(f"{about}: {words}")
        elif name in _COVERS.get(about, (about,)):
            kept.append(words)
    return "; ".join(part for part in kept if part)


class DatasetError(Exception):
    """A data file does not say what it must. The message names file, line and column."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table with typed access to its cells."""

    place: str
    cells: dict[str, str]

    def text(self, column: str) -> str:
        """The cell as it stands; it may not be empty."""
        value = self.cells[column]
        if not value:
            raise DatasetError(f"{self.place}: {column} is empty")
        return value

    def maybe(self, column: str) -> str:
        """The cell as it stands, possibly empty."""
        return self.cells[column]

    def decimal(self, column: str) -> Decimal:
        """The cell as an exact decimal."""
        try:
            return parse_decimal(self.text(column))
        except InvalidInput as error:
            raise DatasetError(f"{self.place}: {column}: {error}") from None

    def maybe_decimal(self, column: str) -> Decimal | None:
        """The cell as an exact decimal, or None if empty."""
        return self.decimal(column) if self.cells[column] else None

    def fraction(self, column: str) -> Fraction:
        """The cell as an exact fraction: `0.2` or `175/6`."""
        try:
            return Fraction(self.text(column))
        except (ValueError, ZeroDivisionError) as error:
            raise DatasetError(f"{self.place}: {column}: {error}") from None

    def status(self, column: str, default: Status | None = None) -> Status:
        """The cell as a standing."""
        value = self.cells[column]
        if not value and default is not None:
            return default
        try:
            return Status(self.text(column))
        except ValueError:
            raise DatasetError(f"{self.place}: {column}: {value!r} is not a status") from None

    def words(self, column: str) -> tuple[str, ...]:
        """The cell as a list separated by semicolons."""
        return tuple(word.strip() for word in self.cells[column].split(";") if word.strip())

    def symbol_sets(self, column: str) -> tuple[tuple[str, ...], ...]:
        """The cell as sets of element symbols, `Pt Ir | Pt Ru`; none if it is empty."""
        sets = self.cells[column].split("|") if self.cells[column] else []
        return tuple(parse_symbols(one, f"{self.place}: {column}") for one in sets)


def read_rows(path: Path, header: tuple[str, ...], root: Path) -> Iterator[Row]:
    """The rows of one csv table whose header is exactly `header`."""
    name = path.relative_to(root).as_posix()
    reader = csv.reader(io.StringIO(read_text(path, root), newline=""), strict=True)
    try:
        found = tuple(next(reader, ()))
        if found != header:
            raise DatasetError(f"{name}: the header is {','.join(found)}, but must be {','.join(header)}")
        for cells in reader:
            place = f"{name}:{reader.line_num}"
            if len(cells) != len(header):
                raise DatasetError(f"{place}: {len(cells)} cells under {len(header)} columns")
            yield Row(place, dict(zip(header, map(str.strip, cells), strict=True)))
    except csv.Error as error:
        raise DatasetError(f"{name}:{reader.line_num}: {error}") from None


def read_text(path: Path, root: Path) -> str:
    """A data file as text; one that is missing or not UTF-8 is a fault that names it."""
    try:
        with path.open(encoding="utf-8", newline="") as stream:
            return stream.read()
    except (OSError, UnicodeDecodeError) as error:
        raise DatasetError(f"{path.relative_to(root).as_posix()}: {error}") from None


def parse_symbols(text: str, place: str) -> tuple[str, ...]:
    """`Pt Ir` as element symbols, each named once."""
    symbols = tuple(text.split())
    if not symbols or len(set(symbols)) < len(symbols) or not all(map(_SYMBOL.fullmatch, symbols)):
        raise DatasetError(f"{place}: {text.strip()!r} is not a list of element symbols")
    return symbols


def parse_shares(text: str, place: str) -> dict[str, Decimal]:
    """`Au 750 Ag 125 Cu 125` as shares by symbol."""
    words = text.split()
    if len(words) % 2 or len(set(words[::2])) != len(words) // 2:
        raise DatasetError(f"{place}: {text!r} is not a list of element and share")
    try:
        return {symbol: parse_decimal(share) for symbol, share in zip(words[::2], words[1::2], strict=True)}
    except InvalidInput as error:
        raise DatasetError(f"{place}: {error}") from None
