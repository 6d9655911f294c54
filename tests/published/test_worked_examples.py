"""Published worked examples of fine content, karat and value, by the service's own conversions.

Each check names where the example is printed. A printed figure is compared at the decimals it is printed
with; beside it stands the exact figure by fractions.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.mass import MASS
from alloyref.domain.numbers import Rounding, fraction_to_decimal, round_to
from alloyref.domain.purity import PURITY
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
OUNCE = Fraction("31.1034768")


def fine(reference: Reference, number: Decimal | int | str, scale: str) -> Fraction:
    """A purity as the exact fraction of fine metal, by the service."""
    return reference.units.convert(Fraction(number), scale, "fraction", Dimension.PURITY)


class TestGoodDelivery:
    """Bullion-market Good Delivery Rules, Annex C, Weight Lists: fine ounces to 0.001, rounded down."""

    EXACT = Fraction("401.125") * Fraction("995.8") / 1000

    def test_the_printed_example_401_125_at_995_8(self, reference: Reference) -> None:
        fine_ounces = Fraction("401.125") * fine(reference, "995.8", "permille")
        assert fine_ounces == self.EXACT == Fraction("399.440275")
        assert fraction_to_decimal(fine_ounces, 3, Rounding.DOWN) == Decimal("399.440")
        assert round_to(Decimal("399.440275"), 3, Rounding.DOWN) == Decimal("399.440")

    def test_the_conversion_itself_rounds_down(self, ask: Ask) -> None:
        asked = {"value": "399.440275", "from": "ozt", "to": "ozt", "decimals": 3, "rounding": "down"}
        assert str(ask(MASS, asked).result.mass[0]) == "399.440"

    def test_down_differs_from_nearest_by_the_same_rule(self) -> None:
        """400.125 ozt at 999.3 holds 399.8449125: own arithmetic by the rule: 399.844, not .845."""
        exact = Fraction("400.125") * Fraction("0.9993")
        assert fraction_to_decimal(exact, 3, Rounding.DOWN) == Decimal("399.844")
        assert fraction_to_decimal(exact, 3) == Decimal("399.845")
        assert round_to(Decimal("399.8449125"), 3, Rounding.DOWN) == Decimal("399.844")


class TestCoins:
    """Fine content of two coins, from an encyclopaedic page (address not retained)."""

    def test_sovereign(self, reference: Reference, ask: Ask) -> None:
        """7.98805 g of 22 carat: printed 7.3224 g fine = 0.2354 troy ounce."""
        grams = Fraction("7.98805") * fine(reference, 22, "karat")
        assert grams == Fraction("7.98805") * 11 / 12
        assert fraction_to_decimal(grams, 4) == Decimal("7.3224")
        value = str(fraction_to_decimal(grams, 12))
        ounces, _ = ask(MASS, {"value": value, "from": "g", "to": "ozt", "decimals": 4}).result.mass
        assert ounces == Decimal("0.2354")

    def test_one_ounce_coin(self, reference: Reference) -> None:
        """33.93 g at 916.7: printed one troy ounce of fine gold."""
        grams = Fraction("33.93") * fine(reference, "916.7", "permille")
        ounces = reference.units.convert(grams, "g", "ozt", Dimension.MASS)
        assert fraction_to_decimal(ounces, 3) == Decimal("1.000")


# Karat of a mixture: lots as (mass, karat), printed karat, and its decimals.
MIXTURES = [
    # Warren, Mechanical Dentistry and Metallurgy, pp. 204-207: 6 oz fine and 3 oz alloy, printed 16.
    ([(6, 24), (3, 0)], Fraction(16)),
    # Arithmetic text (Google Books uMo2AAAAMAAJ) p. 327: printed 20 8/19.
    ([(8, 22), (20, 21), (10, 18)], 20 + Fraction(8, 19)),
    # The same page: printed 18 10/13.
    ([(5, 20), (8, 18)], 18 + Fraction(10, 13)),
    # Arithmetic text (Google Books bzw_AQAAIAAJ): parts 3, 1, 3, 4 for 21.
    ([(3, 17), (1, 18), (3, 22), (4, 24)], Fraction(21)),
    # Textbook problem pages: 80 and 40 g for 16; 150 and 50 g for 16; 40 g and 20 g fine for 16.
    ([(80, 18), (40, 12)], Fraction(16)),
    ([(150, 18), (50, 10)], Fraction(16)),
    ([(40, 12), (20, 24)], Fraction(16)),
]


@pytest.mark.parametrize(("lots", "printed"), MIXTURES)
def test_the_karat_of_a_mixture(reference: Reference, lots: list[tuple[int, int]], printed: Fraction) -> None:
    gold = sum((mass * fine(reference, karat, "karat") for mass, karat in lots), Fraction(0))
    share = gold / sum(mass for mass, _ in lots)
    assert reference.units.convert(share, "fraction", "karat", Dimension.PURITY) == printed


def test_the_karat_of_remelted_coin(reference: Reference) -> None:
    """Warren, pp. 204-207: 20 dwt of coin gold (900), 8 gr Cu, 10 Ag, 20 Pt: printed 20 carat."""
    coin = reference.units.convert(Decimal(20), "dwt", "grain", Dimension.MASS)
    share = coin * fine(reference, 900, "permille") / (coin + 8 + 10 + 20)
    karat = reference.units.convert(share, "fraction", "karat", Dimension.PURITY)
    assert karat == Fraction(432, 518) * 24
    assert fraction_to_decimal(karat, 0) == 20


def test_a_ring_of_15_4_karat(ask: Ask) -> None:
    """Textbook problem (8.5 g, 0.64 cm3, densities 19.3 and 8.5): 5.468 g of gold, printed 15.4 karat.

    The gold by volumes: v = (8.5 - 8.5 x 0.64)/(19.3 - 8.5) cm3, by fractions here; the karat by the service.
    """
    gold = (Fraction("8.5") - Fraction("8.5") * Fraction("0.64")) / (Fraction("19.3") - Fraction("8.5"))
    percent = fraction_to_decimal(gold * Fraction("19.3") / Fraction("8.5") * 100, 6)
    karat, _ = ask(PURITY, {"value": str(percent), "from": "percent", "to": "karat", "decimals": 1}).result.purity
    assert karat == Decimal("15.4")


class TestFineValue:
    """ "Value of Bars", Leaching Gold and Silver Ores: bars on avoirdupois scales, 0.969 fine.

    The book rounds each step; unrounded, the value differs by up to 0.06 percent.
    """

    def test_silver_bar(self, reference: Reference) -> None:
        """82 lb 3 1/4 oz at $1.292929 a troy ounce: printed $1,500.99, unrounded $1,501.91."""
        ounces = self.troy_ounces(reference, 82, Fraction("3.25"))
        assert fraction_to_decimal(ounces, 3) == Decimal("1198.796")
        value = ounces * fine(reference, "969", "permille") * Fraction("1.292929")
        assert fraction_to_decimal(value, 2) == Decimal("1501.91")
        assert value - Fraction("1500.99") == pytest.approx(0.92, abs=0.01)

    def test_gold_bar(self, reference: Reference) -> None:
        """125 1/2 oz at $20.671835 a troy ounce: printed $2,291.63, unrounded $2,291.31."""
        ounces = self.troy_ounces(reference, 7, Fraction("13.5"))
        assert fraction_to_decimal(ounces, 3) == Decimal("114.388")
        value = ounces * fine(reference, "969", "permille") * Fraction("20.671835")
        assert fraction_to_decimal(value, 2) == Decimal("2291.31")

    @staticmethod
    def troy_ounces(reference: Reference, pounds: int, ounces: Fraction) -> Fraction:
        convert = reference.units.convert
        return convert(Fraction(pounds), "lb_av", "ozt", Dimension.MASS) + convert(
            ounces, "oz_av", "ozt", Dimension.MASS
        )


def test_filled_gold(ask: Ask, reference: Reference) -> None:
    """Supplier page on filled scrap: 100 g of 14 karat 1/20 prints 2.925 %, though it writes 14/24."""
    share = fine(reference, 14, "karat") / 20
    assert share == Fraction(7, 240)
    asked = {"value": "14", "from": "karat", "to": "percent", "decimals": 6}
    percent, _ = ask(PURITY, asked).result.purity
    assert round_to(percent / 20, 4) == Decimal("2.9167")
    assert round_to(percent / 20, 3) != Decimal("2.925")


def test_scrap_value_with_and_without_early_rounding(reference: Reference) -> None:
    """Bench forum thread 1239: 14 g of 14 karat at $352 an ounce, printed $92.38 by .583 and 31.1."""
    gold = reference.units.convert(14 * fine(reference, 14, "karat"), "g", "ozt", Dimension.MASS)
    assert gold == 14 * Fraction(14, 24) / OUNCE
    assert fraction_to_decimal(gold * 352, 2) == Decimal("92.42")


def test_an_ounce_of_fine_gold_brought_to_18_karat(reference: Reference) -> None:
    """Bench forum thread 38368: 1 troy ounce makes 41.46 g = 26.66 dwt (both truncated in print)."""
    mass = 1 / fine(reference, 18, "karat")
    grams = reference.units.convert(mass, "ozt", "g", Dimension.MASS)
    pennyweights = reference.units.convert(mass, "ozt", "dwt", Dimension.MASS)
    assert grams == OUNCE * 4 / 3
    assert abs(grams - Fraction("41.46")) < Fraction("0.012")
    assert fraction_to_decimal(pennyweights, 2, Rounding.DOWN) == Decimal("26.66")
