"""The shop's own alloys, looked up by name: those of one input together, near matches while there are few."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

import pytest

from alloyref.domain.errors import InvalidInput
from alloyref.domain.order import ORDER
from alloyref.domain.reference import Reference
from alloyref.shop import keys
from alloyref.shop.database import Database
from alloyref.shop.entries import ALLOYS
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.own_metals import MOST_AT_ONCE, MOST_COMPARED, OwnMetals
from tests.shop.asked import asked


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


def alloy(number: int) -> str:
    """An alloy as it is stored."""
    return json.dumps(
        {"name": f"house {number}", "composition": {"Au": 585 + number % 100, "Cu": 415 - number % 100}}
    )


@pytest.fixture
def stored(database: Database) -> Database:
    """A database with more alloys than are read at once."""
    key, _ = keys.create(database, "till", ("write",))
    with database.write() as connection:
        for number in range(2 * MOST_AT_ONCE + 10):
            ALLOYS.create(connection, f"house-{number}", alloy(number), key.id)
    return database


def order(names: Iterable[str]) -> dict[str, Any]:
    """An order with a lot of each of these on hand."""
    return {**ORDER.example, "on_hand": [{"metal": name, "mass": "1 g"} for name in names]}


def names(count: int) -> list[str]:
    """The first of the shop's own alloys."""
    return [f"shop:house-{number}" for number in range(count)]


@pytest.mark.parametrize("count", [1, 80])
def test_all_that_an_input_names_is_read_in_one_question(stored: Database, reference: Reference, count: int) -> None:
    loaders = Loaders(reference, OwnMetals(stored))
    with asked(stored) as found:
        inputs = loaders.load(ORDER.inputs, order(names(count)))
    assert [one.metal.id for one in inputs.on_hand] == names(count)
    assert [one.metal.name for one in inputs.on_hand] == [f"house {number}" for number in range(count)]
    assert len(found) == 2
    assert found[0] == "begin"


def test_an_input_that_names_none_asks_nothing(stored: Database, reference: Reference) -> None:
    with asked(stored) as found:
        Loaders(reference, OwnMetals(stored)).load(ORDER.inputs, ORDER.example)
    assert found == []


def test_unknown_names_among_many_are_told_of_as_before(stored: Database, reference: Reference) -> None:
    wrong = {7: "shop:hause-7", 8: "shop:House", 9: "shop:hause-9"}
    given = [wrong.get(number, name) for number, name in enumerate(names(80))]
    with asked(stored) as found, pytest.raises(InvalidInput) as caught:
        Loaders(reference, OwnMetals(stored)).load(ORDER.inputs, order(given))
    told = {issue.pointer: issue for issue in caught.value.issues}
    assert set(told) == {f"/on_hand/{number}/metal" for number in wrong}
    assert {issue.code for issue in told.values()} == {"unknown-metal"}
    assert "shop:house-7" in told["/on_hand/7/metal"].suggestions
    # The first question finds the others; the second that this one is not there, and which ids are.
    assert found.count("begin") == 2
    assert len(found) == 5


def test_very_many_names_are_read_a_part_at_a_time(stored: Database) -> None:
    own, given = OwnMetals(stored), names(2 * MOST_AT_ONCE + 10)
    with asked(stored) as found:
        documents = [own.document(name, {"anything": [given]}) for name in given]
    assert documents == [alloy(number) for number in range(len(given))]
    assert found.count("begin") == 3


def test_only_what_was_named_as_a_metal_is_noted(stored: Database, reference: Reference) -> None:
    own = OwnMetals(stored)
    others = [{"name": "shop:house-2", "volume": "1 cm3"}]
    Loaders(reference, own).load(ORDER.inputs, {**order(["shop:house-1"]), "others": others})
    assert list(own.notes().documents) == ["shop:house-1"]


def test_an_alloy_counts_as_it_was_when_it_was_named_first(stored: Database, reference: Reference) -> None:
    own = OwnMetals(stored)
    loaders = Loaders(reference, own)
    loaders.load(ORDER.inputs, order(names(3)))
    key, _ = keys.create(stored, "till", ("write",))
    with stored.write() as connection:
        for number in (1, 5):
            ALLOYS.replace(connection, f"house-{number}", alloy(90), lambda _: True, key.id)
    again = loaders.load(ORDER.inputs, order(names(6)))
    assert [one.metal.name for one in again.on_hand] == [f"house {number}" for number in (0, 1, 2, 3, 4, 90)]
