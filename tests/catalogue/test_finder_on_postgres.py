"""The finder asks PostgreSQL what it asks SQLite, and gets the same answers in the same order."""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterator
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import Engine, create_engine, make_url, text
from sqlalchemy.exc import OperationalError

from alloyref.catalogue.build import write
from alloyref.catalogue.reader import Dataset
from alloyref.catalogue.repository import ReferenceStore
from alloyref.domain.finder import SORTS, USES, AlloyQuery

pytestmark = pytest.mark.postgres
ADDRESS = os.environ.get("ALLOYREF_TEST_POSTGRES", "postgresql+psycopg://postgres@127.0.0.1:5432/postgres")
ALL = 500


def reachable() -> Engine:
    """An engine on the server of the tests; without one they are skipped, or fail where a server is required."""
    engine = create_engine(ADDRESS, isolation_level="AUTOCOMMIT", connect_args={"connect_timeout": 5})
    try:
        engine.connect().close()
    except OperationalError as error:
        engine.dispose()
        reason = f"no PostgreSQL answers at {make_url(ADDRESS).render_as_string(hide_password=True)}: {error.orig}"
        if os.environ.get("CI_REQUIRES_POSTGRES") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    return engine


@pytest.fixture(scope="module", params=["", "LOCALE_PROVIDER icu ICU_LOCALE 'en-US'"], ids=["usual", "en-US"])
def engine(request: pytest.FixtureRequest) -> Iterator[Engine]:
    """A database of one's own, dropped at the end: one as the server makes them, one that sorts as English does."""
    name = f"alloyref_test_{uuid4().hex[:12]}"
    server = reachable()
    template = "TEMPLATE template0 ENCODING 'UTF8'" if request.param else ""
    with server.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name} {template} {request.param}"))
    made = create_engine(make_url(ADDRESS).set(database=name))
    try:
        yield made
    finally:
        made.dispose()
        with server.connect() as connection:
            connection.execute(text(f"DROP DATABASE {name}"))
        server.dispose()


@pytest.fixture(scope="module")
def postgres(engine: Engine, dataset: Dataset) -> ReferenceStore:
    """The same data on PostgreSQL."""
    with engine.begin() as connection:
        write(connection, dataset)
    return ReferenceStore(engine)


QUESTIONS: list[dict[str, Any]] = [
    {},
    {"base": "Au"},
    {"family": "gold-solder"},
    {"colour": "white"},
    *({"karat": Decimal(karat)} for karat in ("9", "14", "18", "22", "13.5")),
    {"fineness_min": Decimal("583.3"), "fineness_max": Decimal("750")},
    {"contains": ("Pd",)},
    {"contains": ("Au", "Ni"), "free_of": ("Cd",)},
    {"free_of": ("Cu",)},
    *({"use": use} for use in USES),
    {"q": "ROSE"},
    {"q": "14 white"},
    {"q": "100%"},
    {"q": "_"},
    {"q": "\\"},
    {"q": "'; DROP TABLE reference_alloys; --"},
    {"base": "Xx"},
]


@pytest.mark.parametrize("question", QUESTIONS, ids=str)
def test_the_same_alloys_are_found(store: ReferenceStore, postgres: ReferenceStore, question: dict[str, Any]) -> None:
    query = AlloyQuery(**question, page_size=ALL)
    assert postgres.find(query) == store.find(query)


@pytest.mark.parametrize("sort", [sign + name for sign, name in itertools.product(("", "-"), SORTS)])
def test_they_come_in_the_same_order(store: ReferenceStore, postgres: ReferenceStore, sort: str) -> None:
    query = AlloyQuery(sort=sort, page_size=ALL)
    assert postgres.find(query) == store.find(query)


@pytest.mark.parametrize("sort", ["id", "-fineness", "name"])
def test_the_pages_are_the_same(store: ReferenceStore, postgres: ReferenceStore, sort: str) -> None:
    for page in range(1, 9):
        query = AlloyQuery(sort=sort, page=page, page_size=25)
        assert postgres.find(query) == store.find(query)


def test_the_whole_data_come_back_the_same(store: ReferenceStore, postgres: ReferenceStore) -> None:
    (here, changes), (there, changes_there) = store.load(), postgres.load()
    assert changes_there == changes
    assert there.units.all == here.units.all
    assert there.dataset == here.dataset
    for name in ("elements", "alloys", "patterns", "stones", "rules", "cautions", "bench_notes", "marks", "sources"):
        assert getattr(there, name) == getattr(here, name)
        assert list(getattr(there, name)) == list(getattr(here, name))
