"""Rows that the database itself keeps from being changed or removed, whoever asks."""

from __future__ import annotations

from collections.abc import Callable

Execute = Callable[[str], object]
MEANING = "rows of {table} are never changed or removed"


def never_change(execute: Execute, dialect: str, table: str) -> None:
    """Make the database refuse to change or remove a row of the table."""
    message = MEANING.format(table=table)
    if dialect == "sqlite":
        for action in ("UPDATE", "DELETE"):
            execute(
                f"CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
            )
        return
    execute(
        f"CREATE FUNCTION {table}_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{message}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
    )
    execute(
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_refuse()"
    )


def let_change(execute: Execute, dialect: str, table: str) -> None:
    """Take the refusal away again, before the table is dropped."""
    if dialect == "sqlite":
        for action in ("update", "delete"):
            execute(f"DROP TRIGGER {table}_no_{action}")
        return
    execute(f"DROP TRIGGER {table}_no_change ON {table}")
    execute(f"DROP FUNCTION {table}_refuse()")
