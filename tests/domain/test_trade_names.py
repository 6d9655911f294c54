"""Trade names: what is said is understood, widened over all that bears it, and never taken for one alloy."""

from __future__ import annotations

import csv
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.names import name_key
from alloyref.domain.reference import Reference
from alloyref.domain.trade_names import Said, karats_in, read_trade_name

PUBLICATIONS = Path(__file__).parents[2] / "data" / "publications"


@pytest.mark.parametrize("said", [Said("Au", karat=Decimal(18)), Said("Au", permille=Decimal(750))])
def test_a_name_is_borne_from_its_promise_to_six_permille_above(reference: Reference, said: Said) -> None:
    """And what lies less than a permille below by a printed figure's rounding counts for its ranges only."""
    gold = reference.alloys["gold-750-yellow"]
    borne, near = [], []
    for permille in ("749", "749.001", "749.999", "750", "756", "756.001"):
        shares = Composition((("Au", Decimal(permille)), ("Ag", 1000 - Decimal(permille))))
        alloy = replace(gold, metal=replace(gold.metal, composition=shares))
        borne += [permille] if said.is_met_by(alloy) else []
        near += [permille] if said.is_printed_for(alloy) else []
    assert (borne, near) == (["750", "756"], ["749.001", "749.999"])


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("14k yellow", "14k-yellow-gold"),
        ("14 Karat Yellow gold", "14k-yellow-gold"),
        ("yellow gold 14KT", "14k-yellow-gold"),
        ("14k white gold", "14k-white-gold"),
        ("14 kt white", "14k-white-gold"),
        ("18k white palladium", "18k-palladium-white-gold"),
        ("18 ct palladium white gold", "18k-palladium-white-gold"),
        ("14k nickel white", "14k-nickel-white-gold"),
        ("10k gold", "10k-gold"),
        ("10k yellow", "10k-yellow-gold"),
        ("9ct", "9k-gold"),
        ("9k yellow", "9k-yellow-gold"),
        ("22k", "22k-gold"),
        ("14 ct rose", "14k-rose-gold"),
        ("14k pink", "14k-rose-gold"),
        ("18 ct red", "18k-rose-gold"),
        ("750 yellow", "750-yellow-gold"),
        ("585 gold", "585-gold"),
        ("pt950", "950-platinum"),
        ("Pt 950", "950-platinum"),
        ("950 pt", "950-platinum"),
        ("950 platinum", "950-platinum"),
        ("950 palladium", "950-palladium"),
        ("yellow brass", "yellow-brass"),
    ],
)
def test_a_trade_name_is_understood_however_it_is_put(reference: Reference, said: str, meant: str) -> None:
    for spelt in (said, said.upper(), said.replace(" ", "-"), f"  {said} "):
        metal = reference.metal(spelt)
        assert metal.id == meant
        assert metal.members == reference.trade_names[meant].members


@pytest.mark.parametrize(
    ("said", "meant"),
    [("sterling", "sterling-silver"), ("24k", "fine-gold"), ("crown gold", "gold-917-red"), ("au", "Au")],
)
def test_a_name_that_a_composition_fixes_is_that_alloy(reference: Reference, said: str, meant: str) -> None:
    assert reference.metal(said).id == meant
    assert not reference.metal(said).is_trade_name


def test_every_spelling_of_every_trade_name_is_its_own(reference: Reference) -> None:
    for trade in reference.trade_names.values():
        for spelling in (trade.id, trade.name, *trade.spellings):
            assert reference.metal(spelling).id == trade.id, spelling


def test_no_name_that_says_a_karat_stands_for_an_alloy_below_it(reference: Reference) -> None:
    """14 karat is 14/24 by mass: arithmetic, not the stamp."""
    checked = 0
    for alloy in reference.alloys.values():
        share = Fraction(alloy.metal.composition.fineness("Au"))
        for name in (alloy.id, alloy.metal.name, *alloy.aliases):
            for karat in karats_in(name):
                checked += 1
                assert share * 24 >= Fraction(karat) * 1000, (alloy.id, name)
    assert checked > 50
    for trade in reference.trade_names.values():
        for member in trade.members:
            assert reference.alloys[member].metal.composition.fineness(trade.said.base) >= trade.said.promised


def test_no_alloy_has_a_name_that_no_composition_fixes(reference: Reference) -> None:
    trade = {
        name_key(one) for name in reference.trade_names.values() for one in (name.id, name.name, *name.spellings)
    }
    for alloy in reference.alloys.values():
        assert not {name_key(name) for name in (alloy.id, alloy.metal.name, *alloy.aliases)} & trade, alloy.id


def test_the_range_covers_every_member_and_what_is_printed_for_the_name(reference: Reference) -> None:
    printed = {}
    for path in PUBLICATIONS.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as stream:
            printed |= {f"{path.stem}/{row['row']}": row for row in csv.DictReader(stream)}
    counted = 0
    for trade in reference.trade_names.values():
        for member in trade.members:
            metal = reference.alloys[member].metal
            assert trade.density.low <= metal.density.low <= metal.density.high <= trade.density.high
            for own, spanned in ((metal.solidus, trade.solidus), (metal.liquidus, trade.liquidus)):
                assert own is None or (spanned is not None and spanned.low <= own.low <= own.high <= spanned.high)
        for name in trade.printed:
            if printed[name]["density"]:
                counted += 1
                assert trade.density.low <= Fraction(printed[name]["density"]) <= trade.density.high
            if printed[name]["single_melting_point"] and trade.liquidus is not None:
                point = Fraction(printed[name]["single_melting_point"])
                assert trade.liquidus.low <= point <= trade.liquidus.high
    assert counted > 10


def test_fourteen_karat_yellow_covers_the_alloys_with_zinc_and_the_printed_figures(reference: Reference) -> None:
    """13.07 g/cm3 and 879 C are printed for the name in a trade table of specific gravities (supplier page)."""
    trade = reference.trade_names["14k-yellow-gold"]
    assert {"gold-585-yellow", "gold-585-yellow-zn"} <= set(trade.members)
    assert trade.density.low < Fraction("12.9") < Fraction("13.07") < Fraction("13.64") < trade.density.high
    assert trade.liquidus is not None
    assert trade.liquidus.low <= 879 <= trade.liquidus.high
    assert "gold-585-yellow-zn" in trade.liquidus.note


def test_white_golds_with_nickel_and_with_palladium_are_told_apart(reference: Reference) -> None:
    for karat in ("14", "18"):
        nickel, palladium = (reference.trade_names[f"{karat}k-{held}-white-gold"] for held in ("nickel", "palladium"))
        assert not set(nickel.members) & set(palladium.members)
        assert all(reference.alloys[member].contains("Ni") for member in nickel.members)
        assert all(reference.alloys[member].contains("Pd") for member in palladium.members)
        both = reference.trade_names[f"{karat}k-white-gold"]
        assert set(nickel.members) | set(palladium.members) <= set(both.members)


@pytest.mark.parametrize(
    ("said", "first"),
    [
        ("white gold", ("14k-nickel-white-gold", "14k-palladium-white-gold", "18k-nickel-white-gold")),
        ("rose gold", ("14k-rose-gold", "18k-rose-gold")),
        ("pink gold", ("14k-rose-gold", "18k-rose-gold")),
        ("yellow gold", ("14k-yellow-gold", "18k-yellow-gold")),
        ("nickel white gold", ("14k-nickel-white-gold", "18k-nickel-white-gold")),
    ],
)
def test_a_colour_without_a_fineness_is_refused_with_the_likely_names_first(
    reference: Reference, said: str, first: tuple[str, ...]
) -> None:
    with pytest.raises(InvalidInput) as caught:
        reference.metal(said)
    (issue,) = caught.value.issues
    assert issue.code == "ambiguous-metal"
    assert issue.suggestions[: len(first)] == first
    assert [choice.id for choice in issue.choices] == list(issue.suggestions)
    for choice in issue.choices:
        assert choice.name
        assert "g/cm3" in choice.what


@pytest.mark.parametrize(("said", "near"), [("8k yellow", "333-yellow-gold"), ("11k gold", "10k-gold")])
def test_a_fineness_that_no_alloy_has_is_refused_with_those_nearest(
    reference: Reference, said: str, near: str
) -> None:
    with pytest.raises(InvalidInput) as caught:
        reference.metal(said)
    assert caught.value.issues[0].suggestions[0] == near


@pytest.mark.parametrize(
    "said", ["", "gold 14 15k", "14k 18k yellow", "14k yellow white", "nickel", "pt pd 950", "é"]
)
def test_what_says_too_much_or_nothing_is_no_trade_name(said: str) -> None:
    read = read_trade_name(said)
    assert read is None or not read.says_more_than_a_metal
