"""Which source every value of the tables rests on: one walk over the data for all who ask."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Any

from alloyref.domain.provenance import Property

TABLE_NAMES = {"rules": "trade-rules", "marks": "fineness-marks"}
MEANT = {
    "units": "factor",
    "fineness-marks": "fineness",
    "cautions": "text",
    "bench-notes": "text",
}
"""What the source beside a whole entry is the source of, where that is not simply its `value`."""
TRANSPARENT = frozenset({"metal"})
"""Fields whose own fields count as those of the entry."""


@dataclass(frozen=True, slots=True)
class Citation:
    """One value of one entry of one table, with the source it cites and its standing."""

    table: str
    id: str
    field: str
    source: str
    status: str


def tables_of(data: object) -> Iterator[tuple[str, Iterable[Any]]]:
    """The tables that a dataclass of reference data holds, by the name they are served under."""
    for field in fields(data):  # type: ignore[arg-type]  # any dataclass of tables will do
        value = getattr(data, field.name)
        if isinstance(value, Mapping):
            value = value.values()
        if isinstance(value, Iterable) and not isinstance(value, str):
            yield TABLE_NAMES.get(field.name, field.name.replace("_", "-")), value


def citations(data: object) -> Iterator[Citation]:
    """Every value of every table with the source it cites, in the order of the tables."""
    for table, entries in tables_of(data):
        for entry in entries:
            if is_dataclass(entry):
                name = entry_name(entry)
                for field, source, status in _cites(entry, ""):
                    yield Citation(table, name, field or MEANT.get(table, "value"), source, status)


def entry_name(entry: object) -> str:
    """What an entry is called: its id or symbol."""
    return str(getattr(entry, "id", None) or getattr(entry, "symbol", ""))


def _cites(one: Any, path: str) -> Iterator[tuple[str, str, str]]:
    """The values within an entry: where they stand, what they cite, how far to trust them."""
    for field in fields(one):
        value, place = getattr(one, field.name), f"{path}{field.name}"
        if field.name == "source":
            yield path.removesuffix("."), value, one.status.value
        elif field.name.endswith("_source"):
            stem = field.name.removesuffix("_source")
            if getattr(one, stem, "") is not None:
                yield f"{path}{stem}", value, getattr(one, f"{stem}_status").value
        elif isinstance(value, Property):
            yield place, value.source, value.status.value
        elif is_dataclass(value):
            yield from _cites(value, path if field.name in TRANSPARENT else f"{place}.")
        elif isinstance(value, tuple):
            for inner in value:
                if is_dataclass(inner):
                    yield from _cites(inner, f"{place}.{getattr(inner, 'property', '')}.")


def standings(cited: Iterable[Citation]) -> dict[str, dict[str, int]]:
    """How many values of each property have each standing; a property is called `table.field`."""
    counted: dict[str, Counter[str]] = {}
    for one in cited:
        counted.setdefault(f"{one.table}.{one.field}", Counter())[one.status] += 1
    return {name: dict(sorted(counts.items())) for name, counts in counted.items()}
