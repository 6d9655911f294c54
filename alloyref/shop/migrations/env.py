"""How Alembic runs a migration: in the one transaction that `alloyref.shop.migrate` has begun."""

from __future__ import annotations

from alembic import context

from alloyref.shop.tables import VERSION_TABLE, metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=VERSION_TABLE,
    # SQLite can take back a change of the schema too, so a migration that fails leaves nothing behind.
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
