"""Tables of what users write. A test holds them to what the migrations make, on SQLite and PostgreSQL.

Documents are kept as text, exact numbers within them as decimal strings; times are UTC in one fixed form, so that
text sorts as time does on every database.
"""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Column,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

HEAD = "0002"
"""The revision this code works with; a test holds it to the newest migration."""
VERSION_TABLE = "alloyref_version"
metadata = MetaData()


def text(length: int) -> String:
    """Text that sorts and compares by code point on every database."""
    return String(length).with_variant(String(length, collation="C"), "postgresql")


TIME = text(27)
"""As in 2026-11-25T13:26:42.123456Z."""

keys = Table(
    "shop_keys",
    metadata,
    Column("id", text(16), primary_key=True),
    Column("digest", text(64), nullable=False),
    Column("name", Text, nullable=False),
    Column("scopes", text(40), nullable=False),
    Column("in_query", Boolean, nullable=False),
    Column("created", TIME, nullable=False),
    Column("expires", TIME),
    Column("last_used", TIME),
    Column("revoked", TIME),
)

alloys = Table(
    "shop_alloys",
    metadata,
    Column("id", text(64), primary_key=True),
    Column("version", Integer, nullable=False),
    Column("document", Text, nullable=False),
    Column("created", TIME, nullable=False),
    Column("changed", TIME, nullable=False),
    Column("deleted", TIME),
)

prices = Table(
    "shop_prices",
    metadata,
    Column("id", text(64), primary_key=True),
    Column("version", Integer, nullable=False),
    Column("metal", text(80), nullable=False),
    Column("currency", text(3), nullable=False),
    Column("date", text(10), nullable=False),
    Column("document", Text, nullable=False),
    Column("created", TIME, nullable=False),
    Column("changed", TIME, nullable=False),
    Column("deleted", TIME),
    Index("shop_prices_by_date", "metal", "currency", "date"),
)

changes = Table(
    "shop_changes",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("kind", text(20), nullable=False),
    Column("entry", text(64), nullable=False),
    Column("version", Integer, nullable=False),
    Column("action", text(20), nullable=False),
    Column("at", TIME, nullable=False),
    Column("key_id", text(16), ForeignKey("shop_keys.id"), nullable=False),
    Column("document", Text),
    UniqueConstraint("kind", "entry", "version", name="shop_changes_once"),
)

records = Table(
    "shop_records",
    metadata,
    Column("id", text(64), primary_key=True),
    Column("calculation", text(40), nullable=False),
    Column("created", TIME, nullable=False),
    Column("key_id", text(16), ForeignKey("shop_keys.id"), nullable=False),
    Column("dataset_version", text(40), nullable=False),
    Column("dataset_hash", text(64), nullable=False),
    Column("program", text(40), nullable=False),
    Column("request", Text, nullable=False),
    Column("alloys", Text, nullable=False),
    Column("answer", Text, nullable=False),
    Column("digest", text(64), nullable=False),
    Index("shop_records_by_time", "created", "id"),
)

idempotency = Table(
    "shop_idempotency",
    metadata,
    Column("key_id", text(16), primary_key=True),
    Column("name", text(255), primary_key=True),
    Column("fingerprint", text(64), nullable=False),
    Column("created", TIME, nullable=False),
    Column("status", Integer),
    Column("headers", Text),
    Column("body", Text),
    ForeignKeyConstraint(["key_id"], ["shop_keys.id"]),
    Index("shop_idempotency_by_time", "created"),
)
