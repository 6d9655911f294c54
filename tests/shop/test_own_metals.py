"""The shop's own alloys, looked up by name: of very many, none is offered for a misspelt one."""

from __future__ import annotations

import pytest

from alloyref.domain.errors import InvalidInput
from alloyref.shop import keys
from alloyref.shop.database import Database
from alloyref.shop.entries import ALLOYS
from alloyref.web.schemas.own_metals import MOST_COMPARED, OwnMetals


def offered(database: Database, name: str) -> tuple[str, ...]:
    """What is offered for a name that no alloy has."""
    with pytest.raises(InvalidInput, match="The shop has no alloy") as caught:
        OwnMetals(database).document(name)
    (issue,) = caught.value.issues
    assert ("Did you mean" in issue.detail) is bool(issue.suggestions)
    return issue.suggestions


def test_near_matches_are_offered_while_the_alloys_are_few_enough(database: Database) -> None:
    key, _ = keys.create(database, "till", ("write",))
    with database.write() as connection:
        for number in range(MOST_COMPARED):
            ALLOYS.create(connection, f"sizing-stock-{number}", "{}", key.id)
    assert "shop:sizing-stock-17" in offered(database, "shop:sizing-stok-17")
    with database.write() as connection:
        ALLOYS.create(connection, "one-more", "{}", key.id)
    assert offered(database, "shop:sizing-stok-17") == ()
