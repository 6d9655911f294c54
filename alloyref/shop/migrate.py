"""Bringing a database to a revision of the schema. Alembic is loaded only when there is something to do."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import text

from alloyref.shop.database import Database
from alloyref.shop.errors import Unavailable
from alloyref.shop.tables import HEAD

MIGRATIONS = Path(__file__).with_name("migrations")
NONE = "base"
# Any number of one's own: who upgrades holds the advisory lock of this number on PostgreSQL.
LOCK = 7_204_311


def upgrade(database: Database, revision: str = HEAD) -> tuple[str | None, str | None]:
    """Bring the database forward to a revision; the revisions before and after. Nothing is done if it is there.

    Raises `Unavailable` if the database is away or of a newer program.
    """
    return _move(database, revision, forward=True)


def downgrade(database: Database, revision: str) -> tuple[str | None, str | None]:
    """Bring the database back to an older revision, or to `base`; what the newer tables held is lost."""
    return _move(database, revision, forward=False)


def _move(database: Database, revision: str, *, forward: bool) -> tuple[str | None, str | None]:
    before = database.revision()
    if before == revision or (before is None and revision == NONE):
        return before, before
    from alembic import command  # noqa: PLC0415 - only a migration needs it, and it costs a start some time
    from alembic.config import Config  # noqa: PLC0415
    from alembic.util import CommandError  # noqa: PLC0415

    config = Config()
    # Percent signs of a path would be taken for references to other options.
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    try:
        with database.migrating() as connection:
            if not database.is_sqlite:
                connection.execute(text(f"SELECT pg_advisory_xact_lock({LOCK})"))
            config.attributes["connection"] = connection
            (command.upgrade if forward else command.downgrade)(config, revision)
    except (CommandError, Unavailable) as error:
        cause = getattr(error.__cause__, "orig", error)
        raise Unavailable(f"The database cannot go from schema {before} to {revision}: {cause}") from error
    return before, database.revision()
