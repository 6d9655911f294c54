"""Requests that are sent again and stored once: the same key and request get the same answer.

The key is claimed in the transaction that stores, so both are there or neither. A duplicate that comes at the same
time waits for that transaction (on SQLite for its lock, on PostgreSQL for the row), then finds the answer.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import Connection, delete, select, update

from alloyref.shop.clock import ago, now
from alloyref.shop.errors import RepeatDiffers
from alloyref.shop.insert import insert_once
from alloyref.shop.tables import idempotency as table


@dataclass(frozen=True, slots=True)
class Stored:
    """An answer to a request that stored something."""

    status: int
    headers: Mapping[str, str]
    body: str


@dataclass(frozen=True, slots=True)
class Attempt:
    """A request that may be a repetition: whose key, under which name, and what it asks in a word."""

    key: str
    name: str
    fingerprint: str
    hours: int

    def answered(self, connection: Connection) -> Stored | None:
        """The answer given before; `RepeatDiffers` if that was to another request."""
        same = (table.c.key_id == self.key, table.c.name == self.name, table.c.created > self._oldest())
        row = connection.execute(select(table).where(*same)).one_or_none()
        if row is None or row.status is None:
            return None
        if row.fingerprint != self.fingerprint:
            raise RepeatDiffers(
                "This Idempotency-Key was used for another request; give each new request a key of its own."
            )
        return Stored(row.status, json.loads(row.headers), row.body)

    def claim(self, connection: Connection) -> Stored | None:
        """Take the name for this transaction, or the answer of the one that had it first.

        Names past their time are dropped on the way.
        """
        connection.execute(delete(table).where(table.c.created <= self._oldest()))
        row = {"key_id": self.key, "name": self.name, "fingerprint": self.fingerprint, "created": now()}
        return None if insert_once(connection, table, row) else self.answered(connection)

    def answer(self, connection: Connection, stored: Stored) -> None:
        """Keep the answer beside the name."""
        values = {"status": stored.status, "headers": json.dumps(dict(stored.headers)), "body": stored.body}
        same = (table.c.key_id == self.key, table.c.name == self.name)
        connection.execute(update(table).where(*same).values(**values))

    def _oldest(self) -> str:
        return ago(hours=self.hours)
