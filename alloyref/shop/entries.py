"""Entries that have versions: every change is kept in the history, and none is made to a version not meant."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, Table, insert, select, update

from alloyref.shop import tables
from alloyref.shop.clock import now
from alloyref.shop.errors import Stale, Taken
from alloyref.shop.insert import insert_once
from alloyref.shop.pages import page_of

Accepts = Callable[["Entry"], bool]


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as it stands: its document is JSON text."""

    id: str
    version: int
    document: str
    created: str
    changed: str


@dataclass(frozen=True, slots=True)
class Change:
    """One change of one entry, with the document as it then was; none after a deletion."""

    number: int
    kind: str
    entry: str
    version: int
    action: str
    at: str
    key: str
    document: str | None


class Entries:
    """The entries of one kind. Everything is done in a transaction of the caller's."""

    def __init__(self, kind: str, table: Table) -> None:
        self.kind = kind
        self.table = table

    def create(self, connection: Connection, id_: str, document: str, key: str, **columns: str) -> Entry:
        """Add an entry; `Taken` if there is or was one of that id."""
        at = now()
        made = Entry(id_, 1, document, at, at)
        row = {"id": id_, "version": 1, "document": document, "created": at, "changed": at, **columns}
        if not insert_once(connection, self.table, row):
            raise Taken(f"There is or was an entry {id_!r} already; ids are never used twice.")
        self._note(connection, made, "create", key)
        return made

    def read(self, connection: Connection, id_: str) -> Entry | None:
        """The entry of that id, if it is there and not deleted."""
        row = connection.execute(self._present().where(self.table.c.id == id_)).one_or_none()
        return None if row is None else _entry(row)

    def documents(self, connection: Connection, ids: Collection[str]) -> dict[str, str]:
        """The documents of those of these ids that are there and not deleted."""
        columns = self.table.c
        asked = select(columns.id, columns.document).where(columns.deleted.is_(None), columns.id.in_(ids))
        return {row.id: row.document for row in connection.execute(asked)}

    def ids(self, connection: Connection) -> tuple[str, ...]:
        """The ids of all entries."""
        return tuple(connection.scalars(select(self.table.c.id).where(self.table.c.deleted.is_(None))))

    def page(
        self,
        connection: Connection,
        page: int,
        size: int,
        conditions: Sequence[ColumnElement[bool]] = (),
        order: Sequence[ColumnElement[Any]] = (),
    ) -> tuple[tuple[Entry, ...], int]:
        """One page of the entries that meet the conditions, and how many do in all."""
        ordered = self._present().where(*conditions).order_by(*order, self.table.c.id)
        rows, total = page_of(connection, ordered, page, size)
        return tuple(map(_entry, rows)), total

    def replace(
        self, connection: Connection, id_: str, document: str, accepts: Accepts, key: str, **columns: str
    ) -> Entry | None:
        """Put a new document in the place of the version that the caller accepts; None if there is no such entry.

        `columns` are the parts of the new document that entries are found by.
        `Stale` if it is not the version the caller meant, or if another changed it at the same time.
        """
        old = self._accepted(connection, id_, accepts)
        if old is None:
            return None
        made = Entry(id_, old.version + 1, document, old.created, now())
        self._change(connection, old, version=made.version, document=document, changed=made.changed, **columns)
        self._note(connection, made, "replace", key)
        return made

    def delete(self, connection: Connection, id_: str, accepts: Accepts, key: str) -> bool:
        """Delete the version that the caller accepts; False if there is no such entry."""
        old = self._accepted(connection, id_, accepts)
        if old is None:
            return False
        at = now()
        self._change(connection, old, version=old.version + 1, changed=at, deleted=at)
        self._note(connection, Entry(id_, old.version + 1, old.document, old.created, at), "delete", key)
        return True

    def _present(self) -> Select[Any]:
        return select(self.table).where(self.table.c.deleted.is_(None))

    def _accepted(self, connection: Connection, id_: str, accepts: Accepts) -> Entry | None:
        old = self.read(connection, id_)
        if old is not None and not accepts(old):
            raise Stale("The entry has changed since: read it again and repeat the change on what it is now.")
        return old

    def _change(self, connection: Connection, old: Entry, **values: Any) -> None:
        """Change the very version that was read; another transaction may have changed it meanwhile."""
        same = (self.table.c.id == old.id, self.table.c.version == old.version, self.table.c.deleted.is_(None))
        if connection.execute(update(self.table).where(*same).values(**values)).rowcount != 1:
            raise Stale("The entry is being changed by another: read it again and repeat the change.")

    def _note(self, connection: Connection, entry: Entry, action: str, key: str) -> None:
        row = {
            "kind": self.kind,
            "entry": entry.id,
            "version": entry.version,
            "action": action,
            "at": entry.changed,
            "key_id": key,
            "document": None if action == "delete" else entry.document,
        }
        connection.execute(insert(tables.changes), [row])


def _entry(row: Row[Any]) -> Entry:
    return Entry(row.id, row.version, row.document, row.created, row.changed)


def history(
    connection: Connection, page: int, size: int, kind: str | None = None, entry: str | None = None
) -> tuple[tuple[Change, ...], int]:
    """One page of changes, newest first, of one kind or one entry if asked, and how many there are in all."""
    changes = tables.changes.c
    matching = select(tables.changes).where(
        *(column == value for column, value in ((changes.kind, kind), (changes.entry, entry)) if value is not None)
    )
    rows, total = page_of(connection, matching.order_by(changes.number.desc()), page, size)
    return tuple(Change(*row) for row in rows), total


ALLOYS = Entries("alloys", tables.alloys)
PRICES = Entries("prices", tables.prices)
