"""A service of two workers over a database of its own, on SQLite and on PostgreSQL, and keys to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import requests
from sqlalchemy import URL

from alloyref.shop import keys
from alloyref.shop.clock import ago
from alloyref.shop.database import Database, address, open_database
from alloyref.shop.migrate import upgrade
from tests.running import KINDS

SECONDS = 20
ALLOY = {"name": "house yellow 14", "composition": {"Au": 585, "Ag": 205, "Cu": 210}, "density": "13.1 g/cm3"}


@dataclass(frozen=True, slots=True)
class Shop:
    """A running service, its database, and its keys by name."""

    service: Any
    url: str
    database: Database
    keys: dict[str, str]

    def ask(self, method: str, path: str, key: str | None = "both", **options: Any) -> requests.Response:
        """Ask with a key by name, or with none, over a connection of its own, so that any worker may answer."""
        headers = dict(options.pop("headers", {}))
        if key is not None:
            headers["Authorization"] = f"Bearer {self.keys.get(key, key)}"
        return requests.request(method, self.service.address + path, headers=headers, timeout=SECONDS, **options)

    def made(self, **changes: Any) -> requests.Response:
        """A new alloy."""
        answer = self.ask("POST", "/v1/shop/alloys", json={**ALLOY, **changes})
        assert answer.status_code == 201, answer.text
        return answer


@pytest.fixture(scope="session", params=KINDS)
def where(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[URL]:
    """The address of a database of these tests."""
    if request.param == "sqlite":
        yield address("", Path(tmp_path_factory.mktemp("shop")))
        return
    with request.getfixturevalue("new_postgres")() as made:
        yield made


@pytest.fixture(scope="session")
def shop(where: URL, start: Callable[..., Any]) -> Iterator[Shop]:
    """The service; it must log no fault in all these tests."""
    database = open_database(where)
    upgrade(database)
    made = {
        "both": keys.create(database, "both", ("read", "write"))[1],
        "read": keys.create(database, "read", ("read",))[1],
        "write": keys.create(database, "write", ("write",))[1],
        "cell": keys.create(database, "cell", ("read",), in_query=True)[1],
        "expired": keys.create(database, "expired", ("read", "write"), expires=ago(seconds=1))[1],
    }
    revoked, made["revoked"] = keys.create(database, "revoked", ("read", "write"))
    keys.revoke(database, revoked.id)
    made["wrong"] = made["both"][:-4] + ("0000" if made["both"][-4:] != "0000" else "1111")
    made["none"] = f"alloyref_{'0' * 16}_{'0' * 64}"
    made["noise"] = "noise"
    url = where.render_as_string(hide_password=False)
    with start(ALLOYREF_DATABASE_URL=url, ALLOYREF_WORKERS="2") as service:
        yield Shop(service, url, database, made)
        assert service.faults() == []
    database.close()
