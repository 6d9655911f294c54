"""Published examples of alligation: raising, lowering, and two lots to one fineness.

Each row names where it is printed. Beside the printed figure stands the exact one by fractions; where the two
differ the print is rounded or wrong, and the service must give the exact one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.alter_fineness import ALTER_FINENESS, AlterFinenessResult
from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.numbers import Rounding, fraction_to_decimal

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
FORUM = "bench forum thread 27089"
WARREN = "Warren, Mechanical Dentistry and Metallurgy, pp. 204-207"
FINE, ALLOY = "24 karat", "0 karat"


@dataclass(frozen=True)
class Example:
    """A printed example: a lot, its target and what is added, all in karat, and the addition as printed."""

    mass: str
    lot: str
    target: str
    added: str
    printed: str
    exact: Fraction
    source: str


def karat(lot: int, target: int) -> tuple[str, str]:
    """Two karats as they are sent."""
    return f"{lot} karat", f"{target} karat"


EXAMPLES = [
    Example("6 ozt", *karat(24, 16), ALLOY, "3", Fraction(3), WARREN),
    Example("1 dwt", *karat(16, 18), FINE, "0.3333", Fraction(1, 3), f"{WARREN}, printed 1/3"),
    Example("1 dwt", *karat(16, 18), "22 karat", "0.5", Fraction(1, 2), f"{WARREN}, printed 1/2"),
    Example("20 g", *karat(10, 14), FINE, "8", Fraction(8), FORUM),
    Example("7 g", *karat(10, 14), FINE, "2.8", Fraction(14, 5), "supplier page"),
    Example("25 dwt", *karat(10, 14), FINE, "10", Fraction(10), "supplier page"),
    Example("25 dwt", *karat(14, 10), ALLOY, "10", Fraction(10), "supplier page"),
    Example("9 dwt", *karat(18, 10), ALLOY, "7.2", Fraction(36, 5), FORUM),
    Example("15 dwt", *karat(14, 18), FINE, "10", Fraction(10), "supplier page"),
]
# Printed with a factor rounded on the way.
ROUNDED = [
    Example("20 dwt", *karat(18, 14), ALLOY, "5.72", Fraction(40, 7), FORUM),
    Example("500 ozt", *karat(14, 10), ALLOY, "199.95", Fraction(200), "blog post by a watch-parts supplier"),
]
TABLE = "supplier karat table"
# Printed factors, for one part of the lot, that are wrong.
WRONG = [
    Example("1 g", *karat(24, 9), ALLOY, "1.700", Fraction(5, 3), "supplier page"),
    Example("1 g", *karat(24, 9), ALLOY, "1.677", Fraction(5, 3), FORUM),
    Example("1 g", *karat(18, 9), ALLOY, "1.025", Fraction(1), TABLE),
    Example("1 g", *karat(14, 9), ALLOY, "0.575", Fraction(5, 9), TABLE),
    Example("1 g", *karat(10, 9), ALLOY, "0.125", Fraction(1, 9), TABLE),
    Example("1 g", *karat(14, 18), FINE, "0.400", Fraction(2, 3), TABLE),
]


def altered(ask: Ask, **asked: Any) -> AlterFinenessResult:
    """The result of a question."""
    result: AlterFinenessResult = ask(ALTER_FINENESS, asked).result
    return result


def added(ask: Ask, one: Example, **more: Any) -> Decimal:
    """What the service adds, in the unit of the example."""
    unit = one.mass.split()[1]
    given = {"mass": one.mass, "fineness": one.lot, "target": one.target, "with_fineness": one.added}
    return altered(ask, **given, to_unit=unit, **more).add_in_unit[0]


@pytest.mark.parametrize("one", EXAMPLES, ids=lambda one: f"{one.mass}-{one.lot}-{one.target}")
def test_a_printed_addition(ask: Ask, one: Example) -> None:
    got = added(ask, one)
    assert got == fraction_to_decimal(one.exact, 4)
    assert got == Decimal(one.printed)


@pytest.mark.parametrize("one", [*ROUNDED, *WRONG], ids=lambda one: f"{one.mass}-{one.lot}-{one.target}")
def test_a_print_that_rounds_or_errs_is_not_followed(ask: Ask, one: Example) -> None:
    got = added(ask, one)
    assert got == fraction_to_decimal(one.exact, 4)
    assert got != Decimal(one.printed)


@pytest.mark.parametrize("one", ROUNDED, ids=lambda one: one.printed)
def test_a_rounded_print_is_near(ask: Ask, one: Example) -> None:
    """By a factor of 0.286 and of 0.3999."""
    assert abs(added(ask, one) / Decimal(one.printed) - 1) < Decimal("0.002")


@pytest.mark.parametrize("one", WRONG, ids=lambda one: one.printed)
def test_a_wrong_print_is_off_by_more_than_rounding(ask: Ask, one: Example) -> None:
    assert abs(added(ask, one) - Decimal(one.printed)) > Decimal("0.009")


def test_the_usual_addition_is_fine_metal_up_and_alloy_down(ask: Ask) -> None:
    """The same two examples of forum thread 27089 without saying what is added."""
    assert altered(ask, mass="20 g", fineness="10 karat", target="14 karat").add == 8
    assert altered(ask, mass="9 dwt", fineness="18 karat", target="10 karat", to_unit="dwt").add_in_unit == (
        Decimal("7.2000"),
        "dwt",
    )


# Total mass, target, first lot, second lot, printed masses of the two, where.
TWO_LOTS = [
    ("120 g", "16 karat", "18 karat", "12 karat", (80, 40), "textbook problem page"),
    ("200 g", "16 karat", "18 karat", "10 karat", (150, 50), "textbook problem page"),
    ("80 g", "52 percent", "20 percent", "60 percent", (16, 64), "textbook problem page"),
    ("60 g", "16 karat", "12 karat", "24 karat", (40, 20), "College Algebra, 10th ed., 1.7, problem 45"),
    # The pairs of an arithmetic text (Google Books bzw_AQAAIAAJ), 17, 18, 22, 24 for 21: 3 and 4 parts, 1 and 3.
    ("7 g", "21 karat", "17 karat", "24 karat", (3, 4), "bzw_AQAAIAAJ"),
    ("4 g", "21 karat", "18 karat", "22 karat", (1, 3), "bzw_AQAAIAAJ"),
]


@pytest.mark.parametrize("one", TWO_LOTS, ids=lambda one: f"{one[0]}-{one[1]}")
def test_two_lots_to_a_mass_and_fineness(ask: Ask, one: tuple[str, str, str, str, tuple[int, int], str]) -> None:
    mass, target, first, second, printed, _ = one
    got = altered(ask, mass=mass, mass_of="total", fineness=first, target=target, with_fineness=second)
    assert (round(got.lot, 12), round(got.add, 12)) == printed
    assert got.total == got.lot + got.add == Decimal(mass.removesuffix(" g"))


def test_an_ounce_of_fine_gold_brought_to_18_karat(ask: Ask) -> None:
    """Bench forum thread 38368: 1 troy ounce makes 41.46 g or 26.66 dwt, both truncated in print."""
    total = altered(ask, mass="1 ozt", fineness=FINE, target="18 karat").total
    assert Fraction(total) == pytest.approx(Fraction("31.1034768") * 4 / 3)
    assert round(total, 2) == Decimal("41.47") != Decimal("41.46")
    in_dwt = Fraction(total) / Fraction("1.55517384")
    assert fraction_to_decimal(in_dwt, 2, Rounding.DOWN) == Decimal("26.66")


def test_five_pounds_of_20_and_eight_of_18(ask: Ask) -> None:
    """Arithmetic text (Google Books uMo2AAAAMAAJ) p. 327: 18 10/13 carat, 3 3/13 short of 22."""
    asked = {"mass": "5 lbt", "fineness": "20 karat", "with_fineness": "18 karat"}
    mean = Fraction(244, 13)
    target = {"value": str(fraction_to_decimal(mean, 12)), "unit": "karat"}
    got = altered(ask, **asked, target=target, to_unit="lbt")
    assert got.add_in_unit == (Decimal(8), "lbt")
    assert 22 - mean == 3 + Fraction(3, 13)


def test_the_stamp_and_the_karat_need_different_additions(ask: Ask) -> None:
    """Hallmarking Act 1973 (UK): the mark is 585; 14/24 is 583.333. On 100 g of 10 karat they differ by 0.56 g."""
    by_karat = altered(ask, mass="100 g", fineness="10 karat", target="14 karat")
    by_mark = altered(ask, mass="100 g", fineness="10 karat", mark=585, jurisdiction="UK")
    exact = [100 * (t - Fraction(10, 24)) / (1 - t) for t in (Fraction(14, 24), Fraction(585, 1000))]
    assert [round(one.add, 6) for one in (by_karat, by_mark)] == [fraction_to_decimal(one, 6) for one in exact]
    assert by_mark.fineness[0] == 585
    assert by_mark.add - by_karat.add > Decimal("0.5")
