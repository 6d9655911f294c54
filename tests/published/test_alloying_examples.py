"""Published examples of raising and lowering karat, as orders bought as fine metal and master alloy.

The order is set up so that the charge is the mass of the example (a model volume in a metal of 10 g/cm3,
nothing lost), and the lot of the example is on hand; what is bought must be the printed addition.
Karats are entered in permille to three decimals, hence agreement to a milligram or two.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
CLOSE = Fraction("0.003")
FORUM = "bench forum thread 27089"
WARREN = "Warren, Mechanical Dentistry and Metallurgy, pp. 204-207"

# Lot mass, unit, its karat, target karat, what is added, how much as printed, and where.
EXAMPLES = [
    ("20", "g", 10, 14, "fine Au", "8", FORUM),
    ("7", "g", 10, 14, "fine Au", "2.8", "supplier page"),
    ("25", "dwt", 10, 14, "fine Au", "10", "supplier page"),
    ("15", "dwt", 14, 18, "fine Au", "10", "supplier page"),
    ("1", "dwt", 16, 18, "fine Au", "0.3333333", WARREN),
    ("25", "dwt", 14, 10, "master alloy", "10", "supplier page"),
    ("9", "dwt", 18, 10, "master alloy", "7.2", FORUM),
    ("6", "ozt", 24, 16, "master alloy", "3", WARREN),
    ("500", "ozt", 14, 10, "master alloy", "200", "blog post by a watch-parts supplier, printed 199.95"),
    ("20", "dwt", 18, 14, "master alloy", "5.7142857", "supplier page, printed 5.72"),
]


def gold(karat: int) -> dict[str, Any]:
    """Gold of that karat in copper, in permille to three decimals."""
    au = round(Decimal(karat) * 1000 / 24, 3)
    return {"composition": {"Au": str(au), "Cu": str(1000 - au)}, "density": "10 g/cm3"}


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda one: f"{one[0]}{one[1]}-{one[2]}-{one[3]}")
def test_the_printed_addition_is_what_is_bought(
    ask: Ask, reference: Reference, example: tuple[str, str, int, int, str, str, str]
) -> None:
    mass, unit, lot, target, what, printed, _ = example
    lot_grams = reference.units.convert(Fraction(mass), unit, "g", Dimension.MASS)
    added_grams = reference.units.convert(Fraction(printed), unit, "g", Dimension.MASS)
    asked = {
        "volume": f"{float(lot_grams + added_grams) / 10:.9f} cm3",
        "final_metal": gold(target),
        "allowances": {"sprue_share": 0, "melt_loss": 0, "finishing_loss": 0},
        "on_hand": [{"metal": gold(lot), "mass": f"{mass} {unit}", "kind": "fresh"}],
        "purchase": {"form": "fine-and-master", "increment": "0.0001 g"},
    }
    bought = {one.what: Fraction(one.needed) for one in ask(ORDER, asked).result.to_buy.items}
    scale = max(Fraction(1), added_grams / 100)
    assert abs(bought.pop(what) - added_grams) < CLOSE * scale
    assert sum(bought.values()) < CLOSE * scale


def test_22_karat_gold_raises_16_to_18(ask: Ask) -> None:
    """Warren, pp. 204-207: 1 dwt of 16 carat and 1/2 dwt of 22 carat make 18: nothing else is bought."""
    asked = {
        "volume": f"{1.5 * 1.55517384 / 10:.9f} cm3",
        "final_metal": gold(18),
        "allowances": {"sprue_share": 0, "melt_loss": 0, "finishing_loss": 0},
        "on_hand": [
            {"metal": gold(16), "mass": "1 dwt", "kind": "fresh"},
            {"metal": gold(22), "mass": "1 dwt", "kind": "fresh"},
        ],
        "purchase": {"form": "fine-and-master", "increment": "0.0001 g"},
    }
    result = ask(ORDER, asked).result
    first, second = (Fraction(lot.used) / Fraction("1.55517384") for lot in result.to_buy.on_hand)
    assert abs(first - 1) < CLOSE
    assert abs(second - Fraction(1, 2)) < CLOSE
    assert sum(Fraction(one.needed) for one in result.to_buy.items) < CLOSE
