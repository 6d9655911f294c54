"""API keys: made, listed, revoked and checked.

A key is `alloyref_<id>_<secret>`, the secret 256 random bits. Kept are the id and the SHA-256 of the secret. No slow
hash is needed: those are for passwords that people choose, and nobody guesses one of 2^256; a slow one would cost
each request its time. Each check asks the database, so a revoked key is refused at once by every worker of all hosts.
"""

from __future__ import annotations

import hashlib
import hmac
import logging
import re
import secrets
from dataclasses import dataclass
from typing import Any

from sqlalchemy import insert, select, update

from alloyref.shop.clock import ago, now
from alloyref.shop.database import Database
from alloyref.shop.errors import KeyRefused, Unavailable
from alloyref.shop.tables import keys as table

READ, WRITE = SCOPES = ("read", "write")
FORM = re.compile(r"alloyref_([0-9a-f]{16})_([0-9a-f]{64})")
NOTHING = hashlib.sha256(b"").hexdigest()
"""Compared with where there is no key of that id, so that both ways take as long."""
TOUCH_SECONDS = 60
log = logging.getLogger("alloyref")


@dataclass(frozen=True, slots=True)
class Key:
    """A key without its secret. `in_query` allows it in an address, for a spreadsheet cell; such a key only reads."""

    id: str
    name: str
    scopes: tuple[str, ...]
    in_query: bool
    created: str
    expires: str | None
    last_used: str | None
    revoked: str | None


def create(
    database: Database, name: str, scopes: tuple[str, ...], *, expires: str | None = None, in_query: bool = False
) -> tuple[Key, str]:
    """Make a key; the key and, this once, its whole text. `ValueError` for scopes that do not go together."""
    if not scopes or set(scopes) - set(SCOPES):
        raise ValueError(f"scopes are of: {', '.join(SCOPES)}")
    if in_query and set(scopes) != {READ}:
        raise ValueError("a key that may stand in an address only reads")
    made = Key(secrets.token_hex(8), name, tuple(sorted(set(scopes))), in_query, now(), expires, None, None)
    secret = secrets.token_hex(32)
    with database.write() as connection:
        row = {
            "id": made.id,
            "digest": _digest(secret),
            "name": name,
            "scopes": ",".join(made.scopes),
            "in_query": in_query,
            "created": made.created,
            "expires": expires,
        }
        connection.execute(insert(table), [row])
    return made, f"alloyref_{made.id}_{secret}"


def listed(database: Database) -> tuple[Key, ...]:
    """Every key there ever was, oldest first."""
    with database.read() as connection:
        rows = connection.execute(select(table).order_by(table.c.created, table.c.id)).all()
    return tuple(_key(row) for row in rows)


def revoke(database: Database, id_: str) -> bool:
    """Refuse the key from now on; False if there is none of that id. One revoked before keeps its time."""
    with database.write() as connection:
        known = connection.scalar(select(table.c.id).where(table.c.id == id_))
        connection.execute(update(table).where(table.c.id == id_, table.c.revoked.is_(None)).values(revoked=now()))
    return known is not None


def check(database: Database, token: str, *, in_query: bool = False) -> Key:
    """The key of this text; `KeyRefused` for a wrong, expired or revoked one, these told only to its holder."""
    form = FORM.fullmatch(token)
    if form is None:
        raise KeyRefused("This is not a key of this service.", "key-unknown")
    with database.read() as connection:
        row = connection.execute(select(table).where(table.c.id == form[1])).one_or_none()
    if not hmac.compare_digest(row.digest if row else NOTHING, _digest(form[2])) or row is None:
        raise KeyRefused("This is not a key of this service.", "key-unknown")
    found = _key(row)
    if found.revoked is not None:
        raise KeyRefused("This key was revoked.", "key-revoked")
    if found.expires is not None and found.expires <= now():
        raise KeyRefused("This key has expired.", "key-expired")
    if in_query and not found.in_query:
        raise KeyRefused("This key may not stand in an address: send it as Authorization: Bearer.", "key-in-query")
    _touch(database, found)
    return found


def _touch(database: Database, key: Key) -> None:
    """Note the use, to the minute; where another is writing, a later use is noted instead."""
    if key.last_used is not None and key.last_used > ago(seconds=TOUCH_SECONDS):
        return
    try:
        with database.write(wait=0) as connection:
            connection.execute(update(table).where(table.c.id == key.id).values(last_used=now()))
    except Unavailable as error:
        log.debug("use of key %s not noted: %s", key.id, error)


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _key(row: Any) -> Key:
    scopes = tuple(row.scopes.split(","))
    return Key(row.id, row.name, scopes, row.in_query, row.created, row.expires, row.last_used, row.revoked)
