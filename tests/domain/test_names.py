"""Names as people write them: which alloy they mean, and which are offered where they mean none."""

from __future__ import annotations

from dataclasses import replace

import pytest

from alloyref.domain.errors import InvalidInput
from alloyref.domain.names import Names
from alloyref.domain.reference import Reference
from alloyref.domain.searches import Searches


def test_each_id_name_and_alias_means_its_own_alloy_or_is_refused_with_all_that_have_it(reference: Reference) -> None:
    having: dict[str, set[str]] = {}
    for alloy in reference.alloys.values():
        for name in (alloy.id, alloy.metal.name, *alloy.aliases):
            having.setdefault(name, set()).add(alloy.id)
    for name, ids in having.items():
        for spelt in (name, name.upper(), f"  {name} ".replace(" ", "  "), name.replace("-", " ")):
            if len(ids) == 1:
                assert {reference.metal(spelt).id} == ids, spelt
                continue
            with pytest.raises(InvalidInput) as caught:
                reference.metal(spelt)
            (issue,) = caught.value.issues
            assert (issue.code, set(issue.suggestions)) == ("ambiguous-metal", ids)
            assert all(id_ in issue.detail for id_ in ids)


@pytest.mark.parametrize(
    ("said", "among"),
    [
        ("brass", {"brass-c26000", "brass-c23000"}),
        ("bronze", {"bronze-cusn10", "bronze-c90500", "silicon-bronze-c87300"}),
        ("pewter", {"pewter-type-1", "pewter-type-2", "pewter-type-3"}),
        ("nickel silver", {"nickel-silver-c75200", "nickel-silver-c77000"}),
        ("coin gold", {"gold-900-red", "gold-917-red"}),
        ("coin silver", {"silver-900", "silver-835", "silver-500"}),
        ("electrum", {"gold-500-green", "gold-750-green"}),
    ],
)
def test_what_the_trade_calls_several_alloys_is_taken_for_none(
    reference: Reference, said: str, among: set[str]
) -> None:
    with pytest.raises(InvalidInput) as caught:
        reference.metal(said)
    (issue,) = caught.value.issues
    assert issue.code == "ambiguous-metal"
    assert among <= set(issue.suggestions)
    assert said.casefold() not in {name.casefold() for name in reference.names.listed}


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("14 Karat Yellow 20.5/21", "gold-585-yellow"),
        ("14KT-yellow 20.5/21 gold", "gold-585-yellow"),
        ("STERLING", "sterling-silver"),
        ("sterling silver", "sterling-silver"),
        ("3n", "gold-750-yellow"),
        ("au", "Au"),
    ],
)
def test_a_name_is_taken_however_it_is_spelt(reference: Reference, said: str, meant: str) -> None:
    assert reference.metal(said).id == meant


@pytest.mark.parametrize(
    ("said", "first"),
    [
        ("silver", "sterling-silver"),
        ("gold", "fine-gold"),
        ("yelow gold 18k", "18k-yellow-gold"),
        ("sterling sliver", "sterling-silver"),
        ("gold-585-yelow", "gold-585-yellow"),
        ("yellow 18", "18k-yellow-gold"),
    ],
)
def test_a_name_that_could_be_many_is_refused_with_the_likeliest_first(
    reference: Reference, said: str, first: str
) -> None:
    with pytest.raises(InvalidInput) as caught:
        reference.metal(said)
    (issue,) = caught.value.issues
    assert issue.code == "unknown-metal"
    assert issue.suggestions[0] == first


@pytest.mark.parametrize("metal", ["Silver", "Gold", "Platinum", "Palladium"])
def test_the_name_of_a_metal_brings_its_own_alloys(reference: Reference, metal: str) -> None:
    symbol = reference.names.symbol(metal)
    assert {reference.alloys[id_].base for id_ in reference.near_alloys(metal)} == {symbol}


def test_a_name_of_several_alloys_is_refused_with_all_of_them(reference: Reference) -> None:
    two = ("gold-585-yellow", "gold-750-yellow")
    alloys = {id_: replace(reference.alloys[id_], aliases=("house yellow",)) for id_ in two}
    with pytest.raises(InvalidInput) as caught:
        replace(reference, alloys=alloys).metal("House Yellow")
    (issue,) = caught.value.issues
    assert (issue.code, set(issue.suggestions)) == ("ambiguous-metal", set(two))


def test_the_listed_names_each_mean_one_alloy_and_are_no_ids(reference: Reference) -> None:
    listed = reference.names.listed
    assert {"crown gold", "14 ct yellow 20.5/21"} <= set(listed)
    assert not set(listed) & set(reference.alloys)
    for name in listed:
        assert reference.metal(name).id in reference.alloys


def test_nothing_long_or_strange_is_found(reference: Reference) -> None:
    names = Names(reference.alloys.values(), reference.elements)
    for said in ("", " ", "-", "k", "x" * 10_000, "14k " * 5_000, "\x00", "ſterling"):
        assert names.symbol(said) is None
        assert len(names.near(said, 4)) <= 4


def test_where_searches_are_counted_each_name_costs_one_and_is_kept(
    reference: Reference, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = Names(reference.alloys.values(), reference.elements)
    made: list[str] = []
    search = names.search
    monkeypatch.setattr(names, "search", lambda name, most: made.append(name) or search(name, most))
    first = names.near("sterlng", 4)
    assert first
    with Searches(2).counted():
        assert names.near("sterlng", 4) == names.near("sterlng", 4) == first
        # Many words, each compared with many, are one search.
        assert names.near("yelow gld", 4)
        assert names.near("pladdium", 4) == ()
        assert names.near("sterlng", 4) == first
    assert made == ["sterlng", "sterlng", "yelow gld"]
    assert names.near("pladdium", 4)


@pytest.mark.parametrize("asked", ["nickel free white gold", "nickel-free white", "white 18k free of nickel"])
def test_a_name_that_asks_for_no_nickel_is_never_answered_with_nickel(reference: Reference, asked: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        reference.metal(asked)
    (issue,) = caught.value.issues
    assert issue.suggestions
    assert not [one for one in issue.suggestions if reference.alloys[one].contains("Ni")]
    assert issue.detail.endswith("Alloys without Ni are found by free_of=Ni.")


def test_no_nickel_alone_offers_the_filter_and_no_alloy(reference: Reference) -> None:
    with pytest.raises(InvalidInput, match="free_of=Ni") as caught:
        reference.metal("nickel free")
    assert caught.value.issues[0].suggestions == ()


def test_free_of_what_is_no_element_is_a_name_like_any_other(reference: Reference) -> None:
    assert reference.names.free_of("stress free sterling") == ("stress free sterling", "")


@pytest.mark.parametrize(("said", "symbol"), [("gold", "Au"), ("Silver", "Ag"), ("platinum", "Pt")])
def test_a_bare_metal_is_told_how_the_fine_one_is_called(reference: Reference, said: str, symbol: str) -> None:
    with pytest.raises(InvalidInput, match=f"the fine metal is {symbol}\\."):
        reference.metal(said)
