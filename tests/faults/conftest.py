"""A service over a database of its own, on SQLite and on PostgreSQL, for tests that break something."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import URL

from alloyref.shop import keys
from alloyref.shop.database import Database, open_database
from alloyref.shop.migrate import upgrade
from tests.faults.cluster import Cluster, NoServerProgram
from tests.faults.service import Service

Serving = Callable[..., Iterator[Service]]


@pytest.fixture(scope="session")
def long() -> bool:
    """Whether the long form is wanted: ALLOYREF_FAULTS=long."""
    return os.environ.get("ALLOYREF_FAULTS") == "long"


@pytest.fixture(scope="session")
def serving(tmp_path_factory: pytest.TempPathFactory) -> Serving:
    """Serve over a database: `with serving(url) as service: ...`; it must log no fault."""
    # One data folder for all, for the reference data are built there once.
    folder = Path(tmp_path_factory.mktemp("served"))

    @contextmanager
    def served(where: URL, *, workers: int = 2) -> Iterator[Service]:
        database = open_database(where)
        upgrade(database)
        key = keys.create(database, "till", ("read", "write"))[1]
        database.close()
        own = folder / f"{len(list(folder.iterdir()))}"
        own.mkdir()
        url = where.render_as_string(hide_password=False)
        service = Service(own, folder / "data", url, key, workers=workers)
        service.start()
        try:
            yield service
        finally:
            service.end()
        assert service.faults() == []

    return served


@pytest.fixture
def service(where: URL, serving: Callable[..., Iterator[Service]]) -> Iterator[Service]:
    """A running service of two workers."""
    with serving(where) as running:
        yield running


@pytest.fixture
def database(where: URL) -> Iterator[Database]:
    """The database of the service, seen from beside it."""
    made = open_database(where)
    yield made
    made.close()


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A PostgreSQL server that may be broken; skipped without its programs, failed where PostgreSQL is required."""
    try:
        made = Cluster()
    except NoServerProgram as error:
        if os.environ.get("CI_REQUIRES_POSTGRES") == "1":
            pytest.fail(str(error))
        pytest.skip(str(error))
    yield made
    made.end()
