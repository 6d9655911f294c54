"""Tables as csv (RFC 4180): one row an entry, a property as value, low, high, unit, status and source."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from alloyref.domain import calculation as declared
from alloyref.domain.calculation import items
from alloyref.domain.numbers import POINT, STEPS, plain
from alloyref.domain.provenance import Property

PROPERTY_PARTS = ("", "_low", "_high", "_unit", "_status", "_source")
FORMULA = (
    r"^(?:[\t\r\n]|"
    r"[\x00-\x20\x7f-\xa0\xad\u1680\u2000-\u200f\u2028-\u202f\u205f-\u206f\u3000\ufeff]*[=+\-@\uff1d\uff0b\uff0d\uff20])"
)
"""How text begins that a spreadsheet may take for a formula: tab, CR or LF; `=`, `+`, `-`, `@`, full-width too, after
any spaces and characters that are not seen. Python and polars read it alike."""
FORMULA_START = re.compile(FORMULA)


def columns(type_: type, only: Sequence[str] = ()) -> list[str]:
    """The column names of a declared view."""
    names: list[str] = []
    for one in items(type_).values():
        if only and one.name not in only:
            continue
        if isinstance(one.kind, declared.Measured):
            names += [one.name + part for part in PROPERTY_PARTS]
        elif not isinstance(one.kind, declared.ListOf):
            names.append(one.name)
    return names


def separator(mark: str) -> str:
    """What parts the cells of csv: semicolons where the decimal mark is a comma."""
    return "," if mark == POINT else ";"


def marked(value: Decimal, mark: str = POINT) -> str:
    """A number with the decimal mark that the reader's tables use.

    >>> marked(Decimal("10.360"), ",")
    '10,36'
    """
    return plain(value) if mark == POINT else plain(value).replace(".", mark)


def csv_bytes(type_: type, rows: Iterable[Any], only: Sequence[str] = (), mark: str = POINT) -> bytes:
    """The table as csv in UTF-8 with CRLF; where the decimal mark is a comma, semicolons part the cells."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator(mark))
    writer.writerow(columns(type_, only))
    fields = [(attribute, one.kind) for attribute, one in items(type_).items() if not only or one.name in only]
    for row in rows:
        cells: list[str] = []
        for attribute, kind in fields:
            cells += _cells(kind, getattr(row, attribute), mark)
        writer.writerow(cells)
    return out.getvalue().encode()


def _cells(kind: declared.Kind, value: Any, mark: str) -> list[str]:
    """The cells of one field."""
    if isinstance(kind, declared.ListOf):
        return []
    if isinstance(kind, declared.Measured):
        return [""] * len(PROPERTY_PARTS) if value is None else _property_cells(value, STEPS[kind.decimals], mark)
    return ["" if value is None else _cell(value, mark)]


def _property_cells(one: Property, step: Decimal, mark: str) -> list[str]:
    """A property, rounded as in JSON."""
    numbers = [marked(part.quantize(step), mark) for part in (one.value, one.low, one.high)]
    return [*numbers, one.unit, one.status.value, one.source]


def _cell(value: Any, mark: str) -> str:
    if isinstance(value, Decimal):
        return marked(value, mark)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return " ".join(f"{name} {plain(share)}" for name, share in value.items())
    return safe(";".join(value) if isinstance(value, tuple) else value)


def safe(text: str) -> str:
    """Text that no spreadsheet will take for a formula on import.

    >>> safe("=1+1"), safe(" @sum"), safe("sterling")
    ("'=1+1", "' @sum", 'sterling')
    """
    return f"'{text}" if FORMULA_START.match(text) else text
