"""The database goes away and comes back, and nobody has to start the service anew."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from typing import Any

import pytest
import requests
from sqlalchemy import URL, text
from urllib3.util import Retry

from alloyref.cli.demo import wait_until_ready
from alloyref.shop.database import open_database
from tests.faults.cluster import Cluster
from tests.faults.service import Service
from tests.faults.writing import ALLOYS, COMPOSITION, RECORDS, Findings, Ledger, Writer, compare, stop

NOTHING = Findings([], [], [])
MASS = {"mass": "4.82 dwt", "from_metal": "sterling-silver", "to_metal": "gold-585-yellow"}


def unavailable(answer: requests.Response) -> None:
    """A problem document that says when to ask again."""
    assert answer.status_code == 503, answer.text[:300]
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert answer.json()["type"] == "/v1/problems/unavailable"
    assert 1 <= int(answer.headers["Retry-After"]) <= 10
    assert "psycopg" not in answer.text
    assert "sqlite3" not in answer.text


def without_database(service: Service) -> None:
    """What needs no database of the shop's goes on."""
    for path in ("/v1/alloys?base=Au", "/v1/elements/Au", "/healthz", "/v1/mass?value=1&from=dwt&to=g", "/"):
        assert service.ask("GET", path, None).status_code == 200, path
    assert service.ask("POST", "/v1/transfer", None, json=MASS).status_code == 200


def nothing_can_be_written(service: Service) -> None:
    """Every way to write is refused for now, and /readyz says so, whichever worker is asked."""
    new = {"name": "x", "composition": COMPOSITION}
    for _ in range(2):
        unavailable(service.ask("POST", ALLOYS, json=new))
        unavailable(service.ask("POST", RECORDS, json=MASS))
    for _ in range(6):
        unavailable(service.ask("GET", "/readyz", None))


def nothing_of_the_shop_works(service: Service) -> None:
    """Nor can it be read."""
    nothing_can_be_written(service)
    for path in (ALLOYS, "/v1/shop/prices", "/v1/shop/records", "/v1/shop/history"):
        unavailable(service.ask("GET", path))


def back(service: Service) -> None:
    """Wait until every worker is ready again, and write."""
    with requests.Session() as session:
        retry = Retry(total=200, status_forcelist=[503], backoff_factor=0.05, backoff_max=0.1)
        retry.respect_retry_after_header = False
        session.mount(service.address, requests.adapters.HTTPAdapter(max_retries=retry))
        headers = {"Authorization": f"Bearer {service.key}", "Connection": "close"}
        for path in ("/readyz", ALLOYS) * 6:
            assert session.get(service.address + path, headers=headers, timeout=30).status_code == 200
    wait_until_ready(service.address)


@contextmanager
def writers(service: Service, where: URL) -> Iterator[Ledger]:
    """Three writers at work meanwhile; afterwards all that was acknowledged must be there."""
    ledger, database = Ledger(), open_database(where)
    at_work = [Writer(service, ledger, number, 7) for number in range(1, 4)]
    try:
        yield ledger
        ledger.wait_for(20)
    finally:
        stop(at_work)
    assert ledger.wrong == [], ledger.wrong
    assert compare(ledger, database) == NOTHING
    database.close()


@pytest.fixture
def on_cluster(cluster: Cluster, serving: Callable[..., Any]) -> Iterator[Service]:
    """A service over the server that may be broken, its only one."""
    with serving(cluster.address) as running:
        yield running
    database = open_database(cluster.address)
    with database.migrating() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    database.close()


@pytest.mark.postgres
@pytest.mark.parametrize("mode", ["fast", "immediate"])
def test_postgres_stops_and_starts(on_cluster: Service, cluster: Cluster, mode: str) -> None:
    with writers(on_cluster, cluster.address) as ledger:
        ledger.wait_for(20)
        cluster.stop(mode)
        nothing_of_the_shop_works(on_cluster)
        without_database(on_cluster)
        cluster.start()
        back(on_cluster)
    assert ledger.unavailable > 0


@pytest.mark.postgres
def test_postgres_stands_still(on_cluster: Service, cluster: Cluster) -> None:
    ledger_of = writers(on_cluster, cluster.address)
    with ledger_of as ledger:
        ledger.wait_for(10)
        cluster.freeze()
        try:
            unavailable(on_cluster.ask("GET", "/readyz", None))
            unavailable(on_cluster.ask("POST", RECORDS, json=MASS))
            without_database(on_cluster)
        finally:
            cluster.freeze(thaw=True)
        back(on_cluster)


@pytest.mark.postgres
def test_postgres_may_only_be_read_for_a_while(on_cluster: Service, cluster: Cluster) -> None:
    database = open_database(cluster.address)

    def only_read(state: str) -> None:
        """As after a change to a standby; connections made before keep their state, so they are ended."""
        with database.migrating() as connection:
            connection.execute(text("SET LOCAL transaction_read_only = off"))
            connection.execute(text(f"ALTER DATABASE postgres SET default_transaction_read_only = {state}"))
        with database.migrating() as connection:
            others = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = 'postgres'"
            connection.execute(text(f"{others} AND pid <> pg_backend_pid()"))

    made = on_cluster.ask("POST", ALLOYS, json={"id": "before", "name": "x", "composition": COMPOSITION})
    assert made.status_code == 201
    only_read("on")
    for _ in range(3):
        unavailable(on_cluster.ask("POST", ALLOYS, json={"name": "x", "composition": COMPOSITION}))
        assert on_cluster.ask("GET", f"{ALLOYS}/before").status_code == 200
    without_database(on_cluster)
    only_read("off")
    database.close()
    back(on_cluster)
    assert on_cluster.ask("POST", ALLOYS, json={"name": "x", "composition": COMPOSITION}).status_code == 201


def test_a_sqlite_file_is_locked_by_another_program(serving: Callable[..., Any], tmp_path: Any) -> None:
    file = tmp_path / "shop.sqlite"
    where = URL.create("sqlite", database=str(file))
    with serving(where) as service, writers(service, where) as ledger:
        ledger.wait_for(20)
        with closing(sqlite3.connect(file, isolation_level=None, timeout=10)) as other:
            other.execute("BEGIN EXCLUSIVE")
            nothing_can_be_written(service)
            without_database(service)
            # Readers wait for no writer.
            assert service.ask("GET", ALLOYS).status_code == 200
            assert service.ask("GET", "/v1/shop/history").status_code == 200
            other.execute("ROLLBACK")
        back(service)
