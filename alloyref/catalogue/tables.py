"""Tables of the reference database: whole entries as documents, and beside them what alloys are found by."""

from __future__ import annotations

from sqlalchemy import Column, Float, ForeignKey, Integer, MetaData, String, Table, Text

metadata = MetaData()
LONGEST_NAME = 160


def _text(length: int) -> String:
    """Text that sorts by code point on every database, so that pages come in one order everywhere."""
    return String(length).with_variant(String(length, collation="C"), "postgresql")


entries = Table(
    "reference_entries",
    metadata,
    Column("kind", String(30), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("name", String(LONGEST_NAME), nullable=False),
    Column("document", Text, nullable=False),
)

alloys = Table(
    "reference_alloys",
    metadata,
    Column("id", _text(80), primary_key=True),
    Column("name", _text(160), nullable=False),
    Column("family", String(40), nullable=False),
    Column("base", String(2), nullable=False),
    Column("colour", String(40), nullable=False),
    Column("fineness", Float, nullable=False),
    Column("density", Float, nullable=False),
    Column("solidus", Float),
    Column("liquidus", Float),
    Column("words", Text, nullable=False),
)

parts = Table(
    "reference_alloy_parts",
    metadata,
    Column("alloy", ForeignKey(alloys.c.id), primary_key=True),
    Column("element", String(2), primary_key=True),
    Column("permille", Float, nullable=False),
)

uses = Table(
    "reference_alloy_uses",
    metadata,
    Column("alloy", ForeignKey(alloys.c.id), primary_key=True),
    Column("use", String(20), primary_key=True),
)
