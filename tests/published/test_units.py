"""Factors of the units of mass against their printed definitions.

Printed values: NIST Handbook 44, Appendix C, "General Tables of Units of Measurement". The text of the
Handbook could not be read, so its figures are from memory; they agree with the Weights and Measures Act
1985 (UK), Schedule 1 Part V, and with the Weights and Measures Ordinance, Cap. 68 (Hong Kong), First
Schedule Part V, which were read and are the acceptance values here.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.mass import MASS
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

Ask = Callable[[Calculation, dict[str, Any]], Outcome]

PRINTED_GRAMS = {
    "grain": "0.06479891",  # 64.79891 mg exactly
    "dwt": "1.55517384",
    "ozt": "31.1034768",
    "lbt": "373.2417216",
    "oz_av": "28.349523125",
    "lb_av": "453.59237",
    "ct": "0.2",  # 200 mg; Cap. 68: "1 metric carat = 1/5 gram"
}


@pytest.mark.parametrize(("symbol", "grams"), PRINTED_GRAMS.items())
def test_the_factor_is_the_printed_one(reference: Reference, symbol: str, grams: str) -> None:
    unit = reference.units.find(symbol, Dimension.MASS)
    assert unit.factor == Fraction(grams)
    assert reference.units.factor(unit) == Fraction(grams)


@pytest.mark.parametrize(("symbol", "grams"), PRINTED_GRAMS.items())
def test_one_of_it_in_grams_is_the_printed_number(ask: Ask, symbol: str, grams: str) -> None:
    result = ask(MASS, {"value": 1, "from": symbol, "to": "g"}).result
    assert result.mass == (Decimal(grams), "g")


# Tables of the same Acts: how many of the smaller unit make one of the larger.
TABLES = [
    ("dwt", "grain", 24),  # Weights and Measures &c. Act 1976 (UK) s. 1: "Pennyweight = 24 grains"
    ("ozt", "dwt", 20),
    ("ozt", "grain", 480),
    ("lbt", "ozt", 12),
    ("lbt", "grain", 5760),
    ("lb_av", "oz_av", 16),
    ("lb_av", "grain", 7000),
    ("oz_av", "dr_av", 16),
    ("drachm_ap", "scruple", 3),
    ("ct", "point", 100),
]


@pytest.mark.parametrize(("larger", "smaller", "count"), TABLES)
def test_the_tables_of_troy_and_avoirdupois_weight(
    reference: Reference, larger: str, smaller: str, count: int
) -> None:
    assert reference.units.convert(Decimal(1), larger, smaller, Dimension.MASS) == count


def test_the_troy_ounce_is_twelve_parts_in_175_of_the_pound(reference: Reference) -> None:
    """480 grains of 7000 to the pound: 12/175 lb, exact arithmetic on the statutory pound."""
    assert reference.units.convert(Fraction(12, 175), "lb_av", "ozt", Dimension.MASS) == 1


def test_the_hong_kong_statutory_tael(reference: Reference) -> None:
    """Cap. 68 (Hong Kong), First Sch. Part V: catty 0.60478982 kg, 16 taels, 160 mace, 1600 candareens."""
    catty = Fraction("604.78982")
    for symbol, parts in (("tael_hk", 16), ("mace_hk", 160), ("candareen_hk", 1600)):
        assert reference.units.find(symbol, Dimension.MASS).factor == catty / parts


def test_the_tola_is_180_grains(reference: Reference) -> None:
    """GNU units definitions 2.22: a seer is 14400 grains, a tola 1/80 of it; ten are 3.75 troy ounces."""
    assert reference.units.convert(Decimal(1), "tola", "grain", Dimension.MASS) == 180
    assert reference.units.convert(Decimal(1), "ten_tola", "ozt", Dimension.MASS) == Fraction("3.75")


@pytest.mark.parametrize("wrong", ["31.1034807", "31.103431", "31.1", "31.103"])
def test_wrong_and_rounded_ounces_in_circulation_are_not_served(ask: Ask, wrong: str) -> None:
    """Two figures met on trade pages, and two roundings in common use (common practice, no source)."""
    value, _ = ask(MASS, {"value": 1, "from": "ozt", "to": "g"}).result.mass
    assert value != Decimal(wrong)


def test_a_kilogram_in_troy_ounces(ask: Ask) -> None:
    """1000/31.1034768 by exact division, to ten decimals; 32.1507465686 is the usual printed figure."""
    value, unit = ask(MASS, {"value": 1, "from": "kg", "to": "ozt", "decimals": 10}).result.mass
    assert (value, unit) == (Decimal("32.1507465686"), "ozt")
    assert abs(Fraction(value) - 1000 / Fraction("31.1034768")) <= Fraction(1, 2 * 10**10)
