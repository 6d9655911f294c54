"""Keys, alloys, prices, and the history of every change, to which rows are only ever added."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from alloyref.shop.fixed_rows import let_change, never_change

revision = "0001"
down_revision = None


def text(length: int) -> sa.String:
    """Text in order of code points."""
    return sa.String(length).with_variant(sa.String(length, collation="C"), "postgresql")


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "shop_keys",
        sa.Column("id", text(16), primary_key=True),
        sa.Column("digest", text(64), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("scopes", text(40), nullable=False),
        sa.Column("in_query", sa.Boolean, nullable=False),
        sa.Column("created", text(27), nullable=False),
        sa.Column("expires", text(27)),
        sa.Column("last_used", text(27)),
        sa.Column("revoked", text(27)),
    )
    op.create_table(
        "shop_alloys",
        sa.Column("id", text(64), primary_key=True),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("created", text(27), nullable=False),
        sa.Column("changed", text(27), nullable=False),
        sa.Column("deleted", text(27)),
    )
    op.create_table(
        "shop_prices",
        sa.Column("id", text(64), primary_key=True),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("metal", text(80), nullable=False),
        sa.Column("currency", text(3), nullable=False),
        sa.Column("date", text(10), nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("created", text(27), nullable=False),
        sa.Column("changed", text(27), nullable=False),
        sa.Column("deleted", text(27)),
    )
    op.create_index("shop_prices_by_date", "shop_prices", ["metal", "currency", "date"])
    op.create_table(
        "shop_changes",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("kind", text(20), nullable=False),
        sa.Column("entry", text(64), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("action", text(20), nullable=False),
        sa.Column("at", text(27), nullable=False),
        sa.Column("key_id", text(16), sa.ForeignKey("shop_keys.id"), nullable=False),
        sa.Column("document", sa.Text),
        sa.UniqueConstraint("kind", "entry", "version", name="shop_changes_once"),
    )
    never_change(op.execute, op.get_bind().dialect.name, "shop_changes")


def downgrade() -> None:
    """Drop every table; all that was written is lost."""
    let_change(op.execute, op.get_bind().dialect.name, "shop_changes")
    for name in ("shop_changes", "shop_prices", "shop_alloys", "shop_keys"):
        op.drop_table(name)
