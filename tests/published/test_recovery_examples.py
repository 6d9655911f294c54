"""Fine contents and fine value as published, each with its source."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.recovery import RECOVERY

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
OUNCE = Decimal("31.1034768")
WHOLE: dict[str, Any] = {"name": "all of it", "pays": [{"metal": "Au", "paid": 1}, {"metal": "Ag", "paid": 1}]}


def result_of(ask: Ask, mass: str, assay: dict[str, Any], price: tuple[str, str] | None = None, **terms: Any) -> Any:
    """One lot of known assay, of which everything is found and paid for."""
    asked: dict[str, Any] = {"lots": [{"mass": mass, "assay": assay, "recovery": 1}], "terms": [{**WHOLE, **terms}]}
    if price is not None:
        metal = next(iter(assay))
        asked["prices"] = [{"metal": metal, "price": price[0], "per": price[1], "currency": "USD"}]
    return ask(RECOVERY, asked).result


def test_the_good_delivery_example(ask: Ask) -> None:
    """Good Delivery rules, Annex C: 401.125 oz at 995.8 permille are 399.440 fine oz (399.440275 rounded down)."""
    lot = ("401.125 ozt", {"Au": "995.8"})
    settlement = result_of(ask, *lot, rounding="down").settlements[0].lots[0].metals[0]
    assert settlement.fine_ounces_low == settlement.fine_ounces_high == Decimal("399.440")
    assert settlement.payable.value == Decimal("399.440") * OUNCE
    unrounded = result_of(ask, *lot).settlements[0].lots[0].metals[0]
    assert unrounded.fine_ounces_low == Decimal("399.440275")


# Stored encyclopaedic pages on coins: gross g, fineness, fine g, fine ozt as printed.
COINS = [
    ("7.98805 g", "22 karat", "7.3224", "0.2354"),
    ("33.93 g", "916.7", None, "1.0000"),
]


@pytest.mark.parametrize(("mass", "fineness", "grams", "ounces"), COINS)
def test_coins(ask: Ask, mass: str, fineness: str, grams: str | None, ounces: str) -> None:
    held = result_of(ask, mass, {"Au": fineness}).contents["Au"]
    assert held.low == held.high
    assert grams is None or round(held.low, 4) == Decimal(grams)
    assert round(held.low / OUNCE, 4) == Decimal(ounces)


def test_the_sovereign_to_the_fifth_figure(ask: Ask) -> None:
    """7.98805 g x 11/12 = 7.3224 g = 0.23542 ozt, as reckoned from the printed mass."""
    held = result_of(ask, "7.98805 g", {"Au": "22 karat"}).contents["Au"].low
    assert round(held / OUNCE, 5) == Decimal("0.23542")


# Value of bars (chestofbooks.com, Leaching Gold and Silver Ores), reckoned without the rounding at each step there:
# fineness .969; silver 82 lb 3 1/4 oz avoirdupois at 1.292929 (printed 1,500.99), gold 125 1/2 oz avoirdupois at
# 20.671835 (printed 2,291.63).
BARS = [
    ("Ag", Decimal("453.59237") * 82 + Decimal("28.349523125") * Decimal("3.25"), "1.292929", "1501.91", "1500.99"),
    ("Au", Decimal("28.349523125") * Decimal("125.5"), "20.671835", "2291.31", "2291.63"),
]


@pytest.mark.parametrize("bar", BARS, ids=lambda bar: bar[0])
def test_bars(ask: Ask, bar: tuple[str, Decimal, str, str, str]) -> None:
    metal, grams, price, exact, printed = bar
    result = result_of(ask, f"{grams} g", {metal: 969}, (price, "ozt"))
    paid = result.settlements[0].settlement
    # The published check itself was rounded to the third decimal of an ounce.
    assert abs(paid.value - Decimal(exact)) <= Decimal("0.02")
    assert abs(paid.value - Decimal(printed)) < Decimal("0.001") * Decimal(printed)


# Values of gold by weight, karat and quote, as pages print them and as they are by fractions (14 karat is 14/24, an
# ounce 31.1034768 g); what a page drops on its way is named. Mass, USD per ozt, share paid, exact, printed, where.
WORTHS = [
    # 9.072 g pure by .583 over 31.1 g to the ounce.
    ("14 g", 352, "1", "92.42", "92.38", "orchid.ganoksin.com/t/figuring-precious-metal-price/1239"),
    # Spot / 480 x karat x dwt x share paid; the page gives the formula.
    ("10 dwt", 1000, "0.8", "233.33", "233.33", "connellycorners.blogspot.com, 2010-08, selling gold or silver"),
    # 58 % in place of 14/24, and 31.1 g to the ounce.
    ("20 g", 1300, "1", "487.62", "484.88", "www.zeusdogapparel.com, a jeweller's rule of thumb"),
    # Rounded at each step.
    ("11 g", 1580, "1", "325.95", "324.94", "webopedia.biz/how-to-calculate-the-value-of-scrap-gold"),
    # .583 in place of 14/24.
    ("1 dwt", 1000, "1", "29.17", "29.15", "excerptsofinri.com, scrap gold price per pennyweight"),
]


@pytest.mark.parametrize("one", WORTHS, ids=lambda one: one[0])
def test_worth_by_karat_and_quote(ask: Ask, one: tuple[str, int, str, str, str, str]) -> None:
    mass, quote, share, exact, printed, source = one
    pays = [{"metal": "Au", "paid": share}]
    settlement = result_of(ask, mass, {"Au": "14 karat"}, (str(quote), "ozt"), pays=pays).settlement
    assert settlement.value == Decimal(exact), source
    assert abs(settlement.value - Decimal(printed)) < Decimal("0.006") * Decimal(printed)


def test_a_page_that_takes_583_and_31_1(ask: Ask) -> None:
    """Orchid 1239 again, by the page's own .583 and 31.1 g: 92.38 as printed."""
    printed = result_of(ask, "14 g", {"Au": "583"}, (str(Decimal(352) / Decimal("31.1"))[:20], "g")).settlement
    assert printed.value == Decimal("92.38")


def test_filled_gold(ask: Ask) -> None:
    """100 g of 14K 1/20: 14/24/20 = 2.91667 % fine gold (a supplier page on filled scrap prints 2.925 by 0.585)."""
    share = Decimal(14000) / 24 / 20
    held = result_of(ask, "100 g", {"Au": str(share)[:20]}).contents["Au"]
    assert round(held.low, 4) == Decimal("2.9167")
    assert round(result_of(ask, "100 g", {"Au": "29.25"}).contents["Au"].low, 3) == Decimal("2.925")
