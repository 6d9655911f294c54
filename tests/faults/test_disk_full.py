"""The disk of the shop's own data is full: nothing is half written, the rest goes on, and room is all it takes."""

from __future__ import annotations

import os
import resource
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import URL, text

from alloyref.shop.backup import faults
from alloyref.shop.database import open_database
from tests.faults.cluster import Cluster
from tests.faults.service import Service
from tests.faults.test_database_away import back, unavailable, without_database
from tests.faults.writing import ALLOYS, COMPOSITION, Findings, Ledger, Writer, compare, stop

NOTHING = Findings([], [], [])
SIZE = "24m"
MOST = 2000


@pytest.fixture
def small_disk() -> Iterator[Path]:
    """A disk of a few megabytes."""
    folder = Path(tempfile.mkdtemp(prefix="alloyref-disk-"))
    mounted = (
        os.geteuid() == 0
        and not subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(folder)], capture_output=True, check=False
        ).returncode
    )
    try:
        if not mounted:
            pytest.skip("only root may mount a small disk, and not everywhere")
        yield folder
    finally:
        if mounted:
            subprocess.run(["umount", "-l", str(folder)], check=True)
        folder.rmdir()


@contextmanager
def full(folder: Path) -> Iterator[None]:
    """No byte is left on a disk, for a while."""
    filler = folder / "filler"
    with filler.open("wb", buffering=0) as stream:
        for size in (1_000_000, 4096, 1):
            with suppress(OSError):
                while stream.write(b"\0" * size):
                    pass
    try:
        yield
    finally:
        filler.unlink()


def entry(name: str) -> dict[str, Any]:
    """An alloy of some length."""
    return {"name": name, "composition": COMPOSITION, "note": "y" * 400}


def fails_in_the_end(service: Service) -> None:
    """What little room is left in the database's own files is used up; then writing is refused."""
    for number in range(MOST):
        answer = service.ask("POST", ALLOYS, json=entry(f"fill {number}"))
        if answer.status_code != 201:
            unavailable(answer)
            return
    pytest.fail("the disk is not full")


def through_a_full_disk(service: Service, where: URL, folder: Path) -> None:
    """Write, fill the disk meanwhile, see what works, make room, and hold the database to what was told."""
    ledger, database = Ledger(), open_database(where)
    writers = [Writer(service, ledger, number, 3) for number in range(1, 4)]
    try:
        ledger.wait_for(20)
        with full(folder):
            ledger.wait_until_refused(6)
            without_database(service)
            assert service.ask("GET", ALLOYS).status_code == 200
            refused_when_ready_is_asked(service, always=database.is_sqlite)
        back(service)
        ledger.wait_for(20)
    finally:
        stop(writers)
    assert ledger.wrong == [], ledger.wrong
    assert compare(ledger, database) == NOTHING
    if database.is_sqlite:
        assert faults(database) == []
    database.close()


def refused_when_ready_is_asked(service: Service, *, always: bool) -> None:
    """It says so itself; where a short row may still find room in a page (PostgreSQL), as long as none does."""
    answers = (service.ask("GET", "/readyz", None) for _ in range(MOST))
    unavailable(next(one for one in answers if always or one.status_code != 200))
    if always:
        for _ in range(3):
            unavailable(next(answers))


def test_the_disk_of_a_sqlite_file_is_full(serving: Callable[..., Any], small_disk: Path) -> None:
    where = URL.create("sqlite", database=str(small_disk / "shop.sqlite"))
    with serving(where) as service:
        through_a_full_disk(service, where, small_disk)


@pytest.mark.postgres
def test_the_disk_of_postgres_is_full(serving: Callable[..., Any], cluster: Cluster, small_disk: Path) -> None:
    place = small_disk / "tables"
    place.mkdir()
    cluster.give(small_disk)
    cluster.give(place)
    server = open_database(cluster.address)
    with server.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text(f"CREATE TABLESPACE small LOCATION '{place}'"))
        connection.execute(text("CREATE DATABASE shop TABLESPACE small"))
    where = cluster.address.set(database="shop")
    try:
        with serving(where) as service:
            through_a_full_disk(service, where, small_disk)
    finally:
        with server.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.execute(text("DROP DATABASE shop WITH (FORCE)"))
            connection.execute(text("DROP TABLESPACE small"))
        server.close()


@pytest.mark.skipif(not hasattr(resource, "prlimit"), reason="only Linux changes the quota of a running process")
def test_a_quota_is_reached(serving: Callable[..., Any], tmp_path: Path) -> None:
    where = URL.create("sqlite", database=str(tmp_path / "shop.sqlite"))
    database = open_database(where)
    with serving(where) as service:
        assert service.ask("POST", ALLOYS, json=entry("x")).status_code == 201

        def limit(size: int) -> None:
            for pid in service.workers():
                resource.prlimit(pid, resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))

        limit((tmp_path / "shop.sqlite-wal").stat().st_size)
        fails_in_the_end(service)
        without_database(service)
        before = service.ask("GET", "/v1/shop/history").json()["total"]
        unavailable(service.ask("POST", ALLOYS, json=entry("one more")))
        limit(resource.RLIM_INFINITY)
        assert service.ask("GET", "/v1/shop/history").json()["total"] == before
        back(service)
        assert service.ask("POST", ALLOYS, json=entry("x")).status_code == 201
    assert faults(database) == []
    database.close()
