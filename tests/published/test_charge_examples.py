"""Published problems of alligation with two lots and more, as charges.

Where all lots go in, the charge is the printed mixture and its fineness the printed mean. Where two lots must meet
a fineness, the cheaper one is taken as far as it may, so that the printed shares are the only least cost.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.charge import CHARGE
from alloyref.domain.charge.results import ChargeResult

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
CLOSE = Fraction(1, 10_000)


def gold(karat: int | Fraction) -> dict[str, Any]:
    """Gold of a karat in copper, in permille to three decimals."""
    share = round(Decimal(Fraction(karat).numerator) / Fraction(karat).denominator * 1000 / 24, 3)
    return {"composition": {"Au": str(share), "Cu": str(1000 - share)}}


def lot(mass: str, karat: int, price: int, **more: Any) -> dict[str, Any]:
    """A lot of so much gold of a karat."""
    return {"id": f"{karat} ct", "mass": mass, "metal": gold(karat), "price": price, **more}


def charged(ask: Ask, **asked: Any) -> ChargeResult:
    """The result of a question that has a recipe."""
    result: ChargeResult = ask(CHARGE, {"currency": "EUR", **asked}).result
    assert result.possible, result.summary
    return result


def karat_of(result: ChargeResult) -> Fraction:
    """The karat of a recipe, from the mass of its gold."""
    assert result.elements is not None
    assert result.mass is not None
    return Fraction(result.elements["Au"]) / Fraction(result.mass) * 24


# Lots as (mass, karat), the sum, the printed mean, where.
MEANS = [
    ([("8 ozt", 22), ("20 ozt", 21), ("10 ozt", 18)], "38 ozt", 20 + Fraction(8, 19), "uMo2AAAAMAAJ p. 327"),
    ([("5 lbt", 20), ("8 lbt", 18)], "13 lbt", 18 + Fraction(10, 13), "uMo2AAAAMAAJ p. 327"),
    ([("3 g", 17), ("1 g", 18), ("3 g", 22), ("4 g", 24)], "11 g", Fraction(21), "bzw_AQAAIAAJ"),
    ([("80 g", 18), ("40 g", 12)], "120 g", Fraction(16), "textbook problem page"),
    ([("150 g", 18), ("50 g", 10)], "200 g", Fraction(16), "textbook problem page"),
    ([("40 g", 12), ("20 g", 24)], "60 g", Fraction(16), "College Algebra, 10th ed., 1.7, problem 45"),
]


@pytest.mark.parametrize(("lots", "mass", "printed", "source"), MEANS, ids=lambda one: str(one)[:20])
def test_the_fineness_of_a_whole_mixture(
    ask: Ask, lots: list[tuple[str, int]], mass: str, printed: Fraction, source: str
) -> None:
    given = [lot(amount, karat, 1, use="whole") for amount, karat in lots]
    result = charged(ask, target={"mass": mass, "fineness": "1 karat"}, lots=given)
    assert len(result.recipe) == len(lots)
    assert abs(karat_of(result) - printed) < CLOSE, source


def test_remelted_coin(ask: Ask) -> None:
    """Warren, Mechanical Dentistry and Metallurgy, pp. 204-207: 20 dwt of coin (900), 8 gr Cu, 10 Ag, 20 Pt: 20 ct.

    By fractions 432/518 x 24 = 20.015.
    """
    coin = {"composition": {"Au": 900, "Cu": 100}}
    entries = [
        ("coin", "20 dwt", coin),
        ("copper", "8 grain", "Cu"),
        ("silver", "10 grain", "Ag"),
        ("platinum", "20 grain", "Pt"),
    ]
    lots = [{"id": name, "mass": mass, "metal": metal, "use": "whole", "price": 1} for name, mass, metal in entries]
    result = charged(ask, target={"mass": "518 grain", "fineness": "1 karat"}, lots=lots)
    assert karat_of(result) == Fraction(432, 518) * 24
    assert round(karat_of(result)) == 20


# Dearer and richer lot, cheaper and poorer lot, mass, target karat, printed masses, where.
TWO_LOTS = [
    (18, 12, "120 g", "16 karat", (80, 40), "textbook problem page"),
    (18, 10, "200 g", "16 karat", (150, 50), "textbook problem page"),
    (24, 12, "60 g", "16 karat", (20, 40), "College Algebra, 10th ed., 1.7, problem 45"),
    # Warren, pp. 204-207: 1 dwt of 16 carat wants 1/3 dwt of fine gold, or 1/2 dwt of 22 carat, for 18.
    (24, 16, "4 dwt", "18 karat", (1, 3), "Warren"),
    (22, 16, "3 dwt", "18 karat", (1, 2), "Warren"),
    # Arithmetic text (Google Books bzw_AQAAIAAJ): the pairs of 17, 18, 22, 24 for 21.
    (24, 17, "7 g", "21 karat", (4, 3), "bzw_AQAAIAAJ"),
    (22, 18, "4 g", "21 karat", (3, 1), "bzw_AQAAIAAJ"),
]


@pytest.mark.parametrize("one", TWO_LOTS, ids=lambda one: f"{one[0]}-{one[1]}-{one[2]}")
def test_two_lots_meet_a_fineness(ask: Ask, one: tuple[int, int, str, str, tuple[int, int], str]) -> None:
    rich, poor, mass, target, printed, _ = one
    unit = mass.split()[1]
    lots = [lot(f"500 {unit}", rich, 90), lot(f"500 {unit}", poor, 40)]
    result = charged(ask, target={"mass": mass, "fineness": target}, lots=lots, step="0.0001 g")
    grams = {line.id: line.mass for line in result.recipe}
    gram = Decimal(1) if unit == "g" else Decimal("1.55517384")
    for karat, parts in zip((rich, poor), printed, strict=True):
        assert abs(grams[f"{karat} ct"] / gram - parts) < Decimal("0.001")


def test_20_and_60_percent_for_52(ask: Ask) -> None:
    """Textbook problem: 80 g of 52 % gold takes 16 g of 20 % and 64 g of 60 %."""
    lots = [
        {"id": "20", "mass": "99 g", "metal": {"composition": {"Au": 200, "Cu": 800}}, "price": 20},
        {"id": "60", "mass": "99 g", "metal": {"composition": {"Au": 600, "Cu": 400}}, "price": 61},
    ]
    result = charged(ask, target={"mass": "80 g", "fineness": "52 percent"}, lots=lots)
    assert {line.id: line.mass for line in result.recipe} == {"20": 16, "60": 64}


def test_alligation_alternate_is_one_answer_among_many(ask: Ask) -> None:
    """The printed 3, 1, 3, 4 parts of 17, 18, 22 and 24 carat make 21; at prices by gold alone none costs less.

    Where 18 carat is dearer for its gold than the rest, a cheaper mixture leaves it out.
    """
    target = {"mass": "11 g", "windows": [{"elements": "Au", "least": "874.98", "most": "875.02"}]}
    karats = (17, 18, 22, 24)

    def cost(price_of_18: Fraction) -> Decimal:
        lots = [lot("11 g", karat, karat) for karat in karats]
        lots[1]["price"] = float(price_of_18)
        result = charged(ask, target=target, lots=lots)
        assert result.cost is not None
        return result.cost[0]

    printed = Decimal(3 * 17 + 1 * 18 + 3 * 22 + 4 * 24)
    assert abs(cost(Fraction(18)) - printed) < Decimal("0.02")
    assert abs(cost(Fraction(30)) - printed) < Decimal("0.02")
    assert cost(Fraction(10)) < printed - 1
