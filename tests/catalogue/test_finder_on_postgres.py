"""The finder asks PostgreSQL what it asks SQLite, and gets the same answers in the same order."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import URL, Engine, create_engine

from alloyref.catalogue.build import write
from alloyref.catalogue.reader import Dataset
from alloyref.catalogue.repository import ReferenceStore
from alloyref.domain.finder import SORTS, USES, AlloyQuery

pytestmark = pytest.mark.postgres
NewPostgres = Callable[[str], AbstractContextManager[URL]]
ALL = 500


@pytest.fixture(scope="module", params=["", "LOCALE_PROVIDER icu ICU_LOCALE 'en-US'"], ids=["usual", "en-US"])
def engine(request: pytest.FixtureRequest, new_postgres: NewPostgres) -> Iterator[Engine]:
    """A database as the server makes them, and one that sorts as English does."""
    template = "TEMPLATE template0 ENCODING 'UTF8'" if request.param else ""
    with new_postgres(f"{template} {request.param}") as address:
        made = create_engine(address)
        yield made
        made.dispose()


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
