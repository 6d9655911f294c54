"""Names of units: UCUM codes mean what UCUM defines, and unclear names are refused with candidates.

UCUM: The Unified Code for Units of Measure, tables of troy and avoirdupois weights. The table itself was not
read; each definition also follows from the statutory values of the grain, the pound and the carat.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.contents import CONTENTS
from alloyref.domain.errors import InvalidInput
from alloyref.domain.mass import MASS
from alloyref.domain.purity import PURITY
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

Ask = Callable[[Calculation, dict[str, Any]], Outcome]

UCUM_MASSES = [
    ("[gr]", "64.79891", "mg"),
    ("[pwt_tr]", "24", "[gr]"),
    ("[oz_tr]", "20", "[pwt_tr]"),
    ("[lb_tr]", "12", "[oz_tr]"),
    ("[lb_av]", "7000", "[gr]"),
    ("[sc_ap]", "20", "[gr]"),
    ("[dr_ap]", "3", "[sc_ap]"),
    ("[car_m]", "0.2", "g"),
    ("kg", "1000", "g"),
]


@pytest.mark.parametrize(("code", "number", "of"), UCUM_MASSES)
def test_ucum_masses(ask: Ask, code: str, number: str, of: str) -> None:
    value, _ = ask(MASS, {"value": 1, "from": code, "to": of}).result.mass
    assert value == Decimal(number)


def test_ucum_avoirdupois_ounce_is_a_sixteenth_of_the_pound(reference: Reference) -> None:
    assert reference.units.convert(Decimal(1), "[oz_av]", "[lb_av]", Dimension.MASS) == Fraction(1, 16)


def test_ucum_gold_carat_is_a_mass_fraction(reference: Reference) -> None:
    """UCUM: [car_Au] = 1/24, a fraction; [car_m] = 0.2 g, a mass. Both print as "ct"."""
    assert reference.units.convert(Decimal(1), "[car_Au]", "fraction", Dimension.PURITY) == Fraction(1, 24)
    with pytest.raises(InvalidInput) as refused:
        reference.units.find("[car_Au]", Dimension.MASS)
    assert refused.value.issues[0].code == "unit-dimension"


UCUM_CODES = [
    ("[gr]", "grain"),
    ("[pwt_tr]", "dwt"),
    ("[oz_tr]", "ozt"),
    ("[lb_tr]", "lbt"),
    ("[oz_av]", "oz_av"),
    ("[lb_av]", "lb_av"),
    ("[car_m]", "ct"),
]


@pytest.mark.parametrize(("code", "symbol"), UCUM_CODES)
def test_a_ucum_code_finds_its_unit(reference: Reference, code: str, symbol: str) -> None:
    unit = reference.units.find(code, Dimension.MASS)
    assert (unit.symbol, unit.ucum) == (symbol, code)


# Which meanings of a bare word are in use is common practice, no source.
UNCLEAR = [
    ("oz", Dimension.MASS, {"ozt", "oz_av"}),
    ("ounce", Dimension.MASS, {"ozt", "oz_av"}),
    ("OZ", Dimension.MASS, {"ozt", "oz_av"}),
    ("[oz_m]", Dimension.MASS, {"ozt", "oz_av"}),
    ("lb", Dimension.MASS, {"lbt", "lb_av"}),
    ("pound", Dimension.MASS, {"lbt", "lb_av"}),
    ("pt", Dimension.MASS, {"point"}),
    ("k", Dimension.MASS, {"ct"}),
    ("kt", Dimension.MASS, {"ct"}),
    ("karat", Dimension.MASS, {"ct"}),
    ("baht", Dimension.MASS, {"baht_bullion", "baht_ornament", "baht_metric"}),
    ("tael", Dimension.MASS, {"tael_hk", "tael_hk_gold", "tael_sg", "tael_tw", "tael_cn"}),
    ("mesghal", Dimension.MASS, {"mesghal_bazaar", "mesghal_metric", "mesghal_religious"}),
    ("dram", Dimension.MASS, {"dr_av", "drachm_ap"}),
    ("gr", Dimension.MASS, {"g", "grain"}),
    ("GR", Dimension.MASS, {"g", "grain"}),
    ("G", Dimension.MASS, {"g"}),
    ("Mg", Dimension.MASS, {"mg", "kg"}),
    ("AT", Dimension.MASS, {"assay_ton_short", "assay_ton_long"}),
    ("ct", Dimension.PURITY, {"karat"}),
    ("carat", Dimension.PURITY, {"karat"}),
    ("ppt", Dimension.PURITY, {"permille"}),
]


@pytest.mark.parametrize(("name", "dimension", "candidates"), UNCLEAR)
def test_an_unclear_name_is_refused_with_its_candidates(
    reference: Reference, name: str, dimension: Dimension, candidates: set[str]
) -> None:
    with pytest.raises(InvalidInput) as refused:
        reference.units.find(name, dimension)
    (issue,) = refused.value.issues
    assert issue.code == "unit-ambiguous"
    assert candidates <= set(issue.suggestions)
    for candidate in issue.suggestions:
        assert reference.units.find(candidate, dimension).symbol == candidate


@pytest.mark.parametrize(("calculation", "unclear"), [(MASS, "oz"), (MASS, "baht"), (PURITY, "ct")])
def test_a_conversion_points_at_the_unclear_unit(ask: Ask, calculation: Calculation, unclear: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        ask(calculation, {"value": 1, "from": unclear, "to": "g" if calculation is MASS else "permille"})
    assert [(issue.code, issue.pointer) for issue in refused.value.issues] == [("unit-ambiguous", "/from")]


def test_a_grain_is_named_in_full_and_ct_is_a_mass(ask: Ask) -> None:
    """gr is taken for gram and for grain, and ct for a purity (common practice, no source)."""
    for name in ("grain", "grains", "[gr]", "Grain"):
        assert ask(MASS, {"value": 1, "from": name, "to": "mg"}).result.mass[0] == Decimal("64.79891")
    assert ask(MASS, {"value": 5, "from": "ct", "to": "g"}).result.mass[0] == 1


def test_units_of_one_word_in_two_trades_stay_apart(reference: Reference) -> None:
    """Each pair shares a word and differs; never may one silently stand for the other."""
    pairs = [
        ("tael_hk", "tael_hk_gold"),
        ("baht_bullion", "baht_ornament"),
        ("mesghal_bazaar", "mesghal_metric"),
        ("grain", "pearl_grain"),
        ("ct", "carat_old_english"),
        ("ratti", "ct"),
    ]
    for one, other in pairs:
        assert reference.units.convert(Decimal(1), one, other, Dimension.MASS) != 1, (one, other)


# How people write them is common practice, no source.
TYPED = [
    ("DWT", Dimension.MASS, "dwt"),
    ("dwts", Dimension.MASS, "dwt"),
    ("Pennyweights", Dimension.MASS, "dwt"),
    ("gms", Dimension.MASS, "g"),
    ("grams", Dimension.MASS, "g"),
    ("GRAMS", Dimension.MASS, "g"),
    ("OZT", Dimension.MASS, "ozt"),
    ("troy oz", Dimension.MASS, "ozt"),
    ("KG", Dimension.MASS, "kg"),
    ("µg", Dimension.MASS, "ug"),
    ("\u03bcg", Dimension.MASS, "ug"),
    ("mm³", Dimension.VOLUME, "mm3"),
    ("cm³", Dimension.VOLUME, "cm3"),
    ("cc", Dimension.VOLUME, "cm3"),
    ("CC", Dimension.VOLUME, "cm3"),
    ("g/cm³", Dimension.DENSITY, "g/cm3"),
    ("MM", Dimension.LENGTH, "mm"),
    ("K", Dimension.PURITY, "karat"),
]


@pytest.mark.parametrize(("name", "dimension", "symbol"), TYPED)
def test_a_unit_is_taken_as_people_write_it(
    reference: Reference, name: str, dimension: Dimension, symbol: str
) -> None:
    assert reference.units.find(name, dimension).symbol == symbol
    assert reference.units.parse(f"2{name}", dimension) == reference.units.parse(f"2 {symbol}", dimension)


def test_a_missing_unit_is_asked_for_with_those_of_the_bench_first(reference: Reference) -> None:
    for text in ("4.82", "4.82 furlong"):
        with pytest.raises(InvalidInput) as refused:
            reference.units.parse(text, Dimension.MASS)
        (issue,) = refused.value.issues
        assert issue.suggestions[:3] == ("g", "dwt", "ozt")
        assert "g, dwt, ozt" in issue.detail


def test_a_mass_of_metal_in_carats_is_told_what_it_would_be(ask: Ask) -> None:
    with pytest.raises(InvalidInput) as refused:
        ask(CONTENTS, {"mass": "5.92 ct", "metal": "gold-585-yellow"})
    (issue,) = refused.value.issues
    assert (issue.pointer, issue.code) == ("/mass", "unit-ambiguous")
    assert "1.184 g" in issue.detail
    assert issue.suggestions == ("g", "dwt", "ozt")
