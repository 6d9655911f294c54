"""Laws of the finder: each part of a question narrows it by what it says, and pages cut one order into pieces."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.finder import SORTS, USES, AlloyQuery, find
from alloyref.domain.metal import Alloy
from alloyref.domain.reference import Reference
from alloyref.services.lookup import find_alloys

LAW = settings(max_examples=150, derandomize=True, deadline=None)
ALL = 500
ELEMENTS = ["Au", "Ag", "Cu", "Pd", "Pt", "Ni", "Zn", "Cd", "Co"]
WORDS = ["ROSE", "electrum", "white", "14", "_", "%", "gold", "casting", "-zn", "\\", "ring", "\u017f"]

PARTS: dict[str, tuple[st.SearchStrategy[Any], Callable[[Alloy, Any], bool]]] = {
    "base": (st.sampled_from(["Au", "Ag", "Pt", "Pd", "Cu", "Xx"]), lambda one, said: one.metal.base == said),
    "family": (st.sampled_from(["gold", "gold-solder", "copper-alloy"]), lambda one, said: one.family == said),
    "colour": (st.sampled_from(["yellow", "white", "rose"]), lambda one, said: one.colour == said),
    "use": (st.sampled_from(USES), lambda one, said: said in one.uses),
    "karat": (
        st.decimals(0, 24, places=1),
        lambda one, said: (
            one.metal.base == "Au"
            and abs(Fraction(one.metal.fineness) * 24 / 1000 - Fraction(said)) <= Fraction(1, 2)
        ),
    ),
    "fineness_min": (st.sampled_from([Decimal("583.3"), Decimal(585)]), lambda one, said: one.metal.fineness >= said),
    "fineness_max": (st.sampled_from([Decimal(750), Decimal(925)]), lambda one, said: one.metal.fineness <= said),
    "contains": (
        st.lists(st.sampled_from(ELEMENTS), unique=True, max_size=2).map(tuple),
        lambda one, said: set(said) <= set(one.metal.composition.elements),
    ),
    "free_of": (
        st.lists(st.sampled_from(ELEMENTS), unique=True, max_size=2).map(tuple),
        lambda one, said: set(said).isdisjoint(one.metal.composition.elements),
    ),
    "q": (
        st.lists(st.sampled_from(WORDS), min_size=1, max_size=2).map(" ".join),
        lambda one, said: all(
            word.casefold()
            in " ".join((one.id, one.metal.name, *one.aliases, one.family, one.colour, one.note)).casefold()
            for word in said.split()
        ),
    ),
}
some_parts = st.fixed_dictionaries({}, optional={name: values for name, (values, _) in PARTS.items()})
sorts = st.sampled_from([sign + name for sign in ("", "-") for name in SORTS])


@pytest.fixture(scope="session")
def held(reference: Reference) -> tuple[Alloy, ...]:
    """The alloys, in an order of their own."""
    return tuple(reversed(reference.alloys.values()))


@LAW
@given(parts=some_parts, sort=sorts)
def test_exactly_those_are_found_of_which_each_part_holds(
    held: tuple[Alloy, ...], parts: dict[str, Any], sort: str
) -> None:
    found, total = find(AlloyQuery(**parts, sort=sort, page_size=ALL), held)
    expected = {one.id for one in held if all(PARTS[name][1](one, said) for name, said in parts.items())}
    assert set(found) == expected
    assert len(found) == total == len(expected)


@pytest.mark.parametrize("name", PARTS)
def test_each_part_alone_finds_some_and_not_all(held: tuple[Alloy, ...], name: str) -> None:
    said = {"base": "Au", "family": "gold", "colour": "white", "use": "solder", "karat": Decimal(14), "q": "electrum"}
    said |= {"fineness_min": Decimal(585), "fineness_max": Decimal(585), "contains": ("Pd",), "free_of": ("Cu",)}
    _, total = find(AlloyQuery(**{name: said[name]}), held)
    assert 0 < total < len(held)


def test_half_a_karat_off_is_still_of_the_karat(held: tuple[Alloy, ...]) -> None:
    gold = next(one for one in held if one.base == "Au")
    shares = Composition((("Au", Decimal("562.5")), ("Ag", Decimal("437.5"))))
    of_13_and_a_half = replace(gold, metal=replace(gold.metal, composition=shares))
    asked = ("12.9", "13", "13.5", "14", "14.1")
    assert [find(AlloyQuery(karat=Decimal(karat)), [of_13_and_a_half])[1] for karat in asked] == [0, 1, 1, 1, 0]


def sort_value(alloy: Alloy, name: str) -> Any:
    one = alloy.id if name == "id" else getattr(alloy.metal, name)
    return getattr(one, "value", one)


@LAW
@given(sort=sorts, parts=some_parts)
def test_they_come_in_order_with_ties_by_id_and_the_unknown_last(
    reference: Reference, held: tuple[Alloy, ...], sort: str, parts: dict[str, Any]
) -> None:
    name, down = sort.removeprefix("-"), sort.startswith("-")
    found, _ = find(AlloyQuery(**parts, sort=sort, page_size=ALL), held)
    for first, second in pairwise(found):
        a, b = (sort_value(reference.alloys[id_], name) for id_ in (first, second))
        if a is None or a == b:
            assert a == b
            assert first < second
        elif b is not None:
            assert (a > b) if down else (a < b)


@LAW
@given(size=st.integers(1, ALL), sort=sorts)
def test_the_pages_are_the_whole_cut_into_pieces(held: tuple[Alloy, ...], size: int, sort: str) -> None:
    whole, total = find(AlloyQuery(sort=sort, page_size=ALL), held)
    pages = [find(AlloyQuery(sort=sort, page=page, page_size=size), held) for page in range(1, -(-total // size) + 2)]
    assert sum((ids for ids, _ in pages), ()) == whole
    assert {count for _, count in pages} == {total}
    assert pages[-1][0] == ()


def test_a_question_that_contradicts_itself_is_refused(held: tuple[Alloy, ...]) -> None:
    with pytest.raises(InvalidInput, match="fineness_min lies above"):
        find(AlloyQuery(fineness_min=Decimal(900), fineness_max=Decimal(800)), held)


def test_words_that_are_a_trade_name_are_asked_as_one_and_still_narrowed(reference: Reference) -> None:
    trade = reference.trade_name("14k yellow")
    assert trade is not None
    of_the_name = {*trade.members, *trade.near_members}
    found, total = find_alloys(AlloyQuery(q="14k yellow", page_size=ALL), reference)
    assert set(found) == of_the_name
    assert total == len(of_the_name)
    without, _ = find_alloys(AlloyQuery(q="14k yellow", free_of=("Zn",), page_size=ALL), reference)
    assert set(without) == {id_ for id_ in of_the_name if not reference.alloys[id_].contains("Zn")} < of_the_name
