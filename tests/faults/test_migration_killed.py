"""An upgrade of the schema that is killed half way leaves the database as it was, and can be made again."""

from __future__ import annotations

import os
import subprocess
import sys
from typing import Any

import pytest
from click.testing import CliRunner
from sqlalchemy import URL, insert, select

from alloyref.cli import main
from alloyref.shop import tables
from alloyref.shop.database import Database
from alloyref.shop.migrate import upgrade

NOW = "2026-11-25T13:26:42.000001Z"
KEY = {"id": "0" * 16, "digest": "d" * 64, "name": "till ‰", "scopes": "read", "in_query": True, "created": NOW}
ROWS = {
    tables.keys: KEY,
    tables.alloys: {"id": "a", "version": 1, "document": '{"name": "ñ"}', "created": NOW, "changed": NOW},
    tables.changes: {
        "kind": "alloys",
        "entry": "a",
        "version": 1,
        "action": "create",
        "at": NOW,
        "key_id": KEY["id"],
        "document": "{}",
    },
}
KILLED_AT = """
import os, signal, sys
from sqlalchemy import Engine, event
from alloyref.cli import main

left = int(sys.argv[1])

@event.listens_for(Engine, "after_cursor_execute")
def count(*_):
    global left
    left -= 1
    if not left:
        os.kill(os.getpid(), signal.SIGKILL)

main(["db", "upgrade"])
"""
STEP, STEP_IN_LONG = 6, 2
"""From so many statements to the next it is killed."""
MOST_STATEMENTS = 200


def environment(where: URL, folder: Any) -> dict[str, str]:
    """The settings of a command."""
    url = where.render_as_string(hide_password=False)
    return {"ALLOYREF_DATA_DIR": str(folder), "ALLOYREF_DATABASE_URL": url}


def held(database: Database) -> list[list[dict[str, Any]]]:
    """What the first tables hold."""
    with database.migrating() as connection:
        return [[dict(row) for row in connection.execute(select(table)).mappings()] for table in ROWS]


@pytest.mark.parametrize("before", [None, "0001"])
def test_it_is_as_if_it_had_not_begun(
    database: Database, where: URL, before: str | None, tmp_path: Any, long: bool
) -> None:
    rows: Any = []
    if before is not None:
        upgrade(database, before)
        with database.migrating() as connection:
            for table, row in ROWS.items():
                connection.execute(insert(table), [row])
        rows = held(database)
    given = environment(where, tmp_path)
    started = os.environ | given
    upgrading = [sys.executable, "-m", "alloyref", "db", "upgrade"]
    kills = 0
    for statement in range(1, MOST_STATEMENTS, STEP_IN_LONG if long else STEP):
        command = [sys.executable, "-c", KILLED_AT, str(statement)]
        done = subprocess.run(command, env=started, capture_output=True, text=True, timeout=60, check=False)
        if done.returncode == 0:
            break
        assert done.returncode == -9, done.stderr
        kills += 1
        if database.revision() == tables.HEAD:
            break  # it had written all, and was killed while it looked at what it had done
        assert database.revision() == before
        checked = CliRunner().invoke(main, ["db", "check"], env=given)
        assert checked.exit_code == 1
        assert "run alloyref db upgrade" in checked.output
        assert f"has schema {before}" in checked.output or (before is None and "has no schema" in checked.output)
    assert kills >= 3
    done = subprocess.run(upgrading, env=started, capture_output=True, text=True, timeout=60, check=False)
    assert (done.returncode, done.stdout.split()[-1]) == (0, tables.HEAD), done.stderr
    checked = CliRunner().invoke(main, ["db", "check"], env=given)
    assert (checked.exit_code, checked.output.split(":")[0]) == (0, f"schema {tables.HEAD} holds")
    if before is not None:
        assert held(database) == rows
