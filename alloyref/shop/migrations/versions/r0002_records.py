"""Records of calculations, never changed, and the answers kept for repeated requests."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from alloyref.shop.fixed_rows import let_change, never_change

revision = "0002"
down_revision = "0001"


def text(length: int) -> sa.String:
    """Text in order of code points."""
    return sa.String(length).with_variant(sa.String(length, collation="C"), "postgresql")


def upgrade() -> None:
    """Add the two tables."""
    op.create_table(
        "shop_records",
        sa.Column("id", text(64), primary_key=True),
        sa.Column("calculation", text(40), nullable=False),
        sa.Column("created", text(27), nullable=False),
        sa.Column("key_id", text(16), sa.ForeignKey("shop_keys.id"), nullable=False),
        sa.Column("dataset_version", text(40), nullable=False),
        sa.Column("dataset_hash", text(64), nullable=False),
        sa.Column("program", text(40), nullable=False),
        sa.Column("request", sa.Text, nullable=False),
        sa.Column("alloys", sa.Text, nullable=False),
        sa.Column("answer", sa.Text, nullable=False),
        sa.Column("digest", text(64), nullable=False),
    )
    op.create_index("shop_records_by_time", "shop_records", ["created", "id"])
    op.create_table(
        "shop_idempotency",
        sa.Column("key_id", text(16), sa.ForeignKey("shop_keys.id"), primary_key=True),
        sa.Column("name", text(255), primary_key=True),
        sa.Column("fingerprint", text(64), nullable=False),
        sa.Column("created", text(27), nullable=False),
        sa.Column("status", sa.Integer),
        sa.Column("headers", sa.Text),
        sa.Column("body", sa.Text),
    )
    op.create_index("shop_idempotency_by_time", "shop_idempotency", ["created"])
    never_change(op.execute, op.get_bind().dialect.name, "shop_records")


def downgrade() -> None:
    """Drop the two tables; the records are lost, alloys, prices, keys and history stay."""
    let_change(op.execute, op.get_bind().dialect.name, "shop_records")
    op.drop_table("shop_idempotency")
    op.drop_table("shop_records")
