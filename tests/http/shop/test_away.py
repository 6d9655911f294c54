"""While the database is locked or away the rest goes on, and afterwards all does, without a new start."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests
from sqlalchemy import insert, text

from alloyref.shop import tables
from alloyref.shop.database import open_database

Problem = Callable[[requests.Response, int], dict[str, Any]]
ALLOY = {"name": "held up", "composition": {"Au": 750, "Ag": 250}}


def test_a_lock_that_another_holds_is_not_waited_for_long(shop: Any, where: Any, problem_of: Problem) -> None:
    entry = shop.made(id="held-up")
    change = {"json": ALLOY, "headers": {"If-Match": entry.headers["ETag"]}}
    other = open_database(where)
    with other.write() as holding:
        holding.execute(
            insert(tables.alloys), [{"id": "lock", "version": 1, "document": "{}", "created": "", "changed": ""}]
        )
        if not other.is_sqlite:
            holding.execute(text("SELECT * FROM shop_alloys FOR UPDATE"))
        refused = shop.ask("PUT", "/v1/shop/alloys/held-up", **change)
        problem_of(refused, 503)
        assert refused.headers["Retry-After"].isdecimal()
        assert shop.ask("GET", "/v1/shop/alloys/held-up").status_code == 200
        assert shop.ask("GET", "/v1/alloys").status_code == 200
        holding.rollback()
    other.close()
    assert shop.ask("PUT", "/v1/shop/alloys/held-up", **change).status_code == 200


@pytest.mark.postgres
def test_connections_that_were_cut_are_made_anew(shop: Any, where: Any) -> None:
    if where.drivername == "sqlite":
        pytest.skip("a file has no connections to cut")
    other = open_database(where)
    for _ in range(3):
        assert {shop.ask("GET", "/v1/shop/alloys").status_code for _ in range(6)} == {200}
        with other.migrating() as connection:
            others = "SELECT pid FROM pg_stat_activity WHERE datname = :name AND pid <> pg_backend_pid()"
            for pid in list(connection.scalars(text(others), {"name": where.database})):
                connection.execute(text("SELECT pg_terminate_backend(:pid)"), {"pid": pid})
        assert {shop.ask("GET", "/readyz", None).status_code for _ in range(6)} == {200}
    other.close()
