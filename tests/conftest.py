"""What the tests share: the reference data, read once, and a way to ask a calculation as a face would."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import URL, Engine, create_engine, make_url, text
from sqlalchemy.exc import OperationalError

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import Dataset, read_dataset
from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.reference import Reference
from alloyref.shop.database import address
from alloyref.web.schemas.load import Loaders
from tests.running import KINDS, started

POSTGRES = os.environ.get("ALLOYREF_TEST_POSTGRES", "postgresql+psycopg://postgres@127.0.0.1:5432/postgres")
Ask = Callable[[Calculation, dict[str, Any]], Outcome]


@pytest.fixture(scope="session")
def dataset() -> Dataset:
    """Everything in the data files."""
    return read_dataset(data_folder())


@pytest.fixture(scope="session")
def reference(dataset: Dataset) -> Reference:
    """The whole reference data as calculations ask for it."""
    return dataset.reference


@pytest.fixture(scope="session")
def ask(reference: Reference) -> Ask:
    """Load plain input through the declared schema and run the calculation."""
    loaders = Loaders(reference)

    def asked(calculation: Calculation, data: dict[str, Any]) -> Outcome:
        return calculation.run(loaders.load(calculation.inputs, data), reference)

    return asked


@pytest.fixture(scope="session")
def postgres_server() -> Iterator[Engine]:
    """The PostgreSQL server of the tests; without one they are skipped, or fail where a server is required."""
    engine = create_engine(POSTGRES, isolation_level="AUTOCOMMIT", connect_args={"connect_timeout": 5})
    try:
        engine.connect().close()
    except OperationalError as error:
        engine.dispose()
        reason = f"no PostgreSQL answers at {make_url(POSTGRES).render_as_string(hide_password=True)}: {error.orig}"
        if os.environ.get("CI_REQUIRES_POSTGRES") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    yield engine
    engine.dispose()


@pytest.fixture(scope="session")
def new_postgres(postgres_server: Engine) -> Any:
    """Make a database of one's own, dropped at the end: `with new_postgres() as address: ...`."""

    @contextmanager
    def made(options: str = "") -> Iterator[URL]:
        name = f"alloyref_test_{uuid4().hex[:12]}"
        with postgres_server.connect() as connection:
            connection.execute(text(f"CREATE DATABASE {name} {options}"))
        try:
            yield make_url(POSTGRES).set(database=name)
        finally:
            with postgres_server.connect() as connection:
                connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))

    return made


@pytest.fixture(scope="session")
def start(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Any]:
    """Start a service of one's own: `with start(ALLOYREF_BODY_SECONDS="2") as service: ...`.

    With `ready=False` it need only be alive; `port` is where another one was, for a restart.
    """

    def begin(*, ready: bool = True, port: int | None = None, **environment: str) -> Any:
        return started(Path(tmp_path_factory.mktemp("service")), ready=ready, port=port, **environment)

    return begin


@pytest.fixture(params=KINDS)
def where(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[URL]:
    """The address of a new, empty database."""
    if request.param == "sqlite":
        yield address("", tmp_path)
        return
    with request.getfixturevalue("new_postgres")() as made:
        yield made
