"""Records of calculations: what was asked, what was answered, by which data; never changed afterwards."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass, fields

from sqlalchemy import Connection, insert, select

from alloyref.shop.pages import page_of
from alloyref.shop.tables import records as table


@dataclass(frozen=True, slots=True)
class RecordLine:
    """What a list tells of a record."""

    id: str
    calculation: str
    created: str
    key_id: str
    dataset_version: str
    dataset_hash: str
    program: str


@dataclass(frozen=True, slots=True)
class Record(RecordLine):
    """One calculation as it was. `request`, `alloys` (the shop's own that went in) and `answer` are JSON text."""

    request: str
    alloys: str
    answer: str
    digest: str

    @property
    def whole(self) -> bool:
        """Whether it still is what was written."""
        return self.digest == _digest(self.calculation, self.request, self.alloys, self.answer)


LINE_NAMES = tuple(one.name for one in fields(RecordLine))
NAMES = tuple(one.name for one in fields(Record))


def new_id() -> str:
    """An id that nobody guesses and nothing else has."""
    return secrets.token_hex(12)


def keep(connection: Connection, line: RecordLine, request: str, alloys: str, answer: str) -> Record:
    """Write a record, in a transaction of the caller's."""
    known = {name: getattr(line, name) for name in LINE_NAMES}
    digest = _digest(line.calculation, request, alloys, answer)
    made = Record(**known, request=request, alloys=alloys, answer=answer, digest=digest)
    connection.execute(insert(table), [{name: getattr(made, name) for name in NAMES}])
    return made


def read(connection: Connection, id_: str) -> Record | None:
    """The record of that id."""
    row = connection.execute(select(table).where(table.c.id == id_)).one_or_none()
    return None if row is None else Record(*(getattr(row, name) for name in NAMES))


def page(
    connection: Connection, number: int, size: int, calculation: str | None = None
) -> tuple[tuple[RecordLine, ...], int]:
    """One page of records, newest first, of one calculation if asked, and how many there are in all."""
    wanted = select(*(table.c[name] for name in LINE_NAMES))
    if calculation is not None:
        wanted = wanted.where(table.c.calculation == calculation)
    rows, total = page_of(connection, wanted.order_by(table.c.created.desc(), table.c.id), number, size)
    return tuple(RecordLine(*row) for row in rows), total


def _digest(*parts: str) -> str:
    whole = hashlib.sha256()
    for part in parts:
        whole.update(f"{len(part)}:{part}".encode())
    return whole.hexdigest()
