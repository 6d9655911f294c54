"""Figures that are printed and wrong: the service must not agree with them."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.mass import MASS
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.purity import PURITY
from alloyref.domain.reference import Reference
from alloyref.domain.transfer import TRANSFER

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
CROWN_GOLD = {"composition": {"Au": "916.7", "Cu": "83.3"}}


def test_density_is_not_the_mean_by_mass(ask: Ask) -> None:
    """22 carat gold in copper: 18.44 is the mean by mass; T. K. Rose measured 17.48.

    The mean of volumes gives 17.61 (worked example 17.62 of the trade table of specific gravities), which lies
    in the range.
    """
    by_volume = 1 / (Fraction("0.9167") / Fraction("19.3") + Fraction("0.0833") / Fraction("8.96"))
    ratio = ask(TRANSFER, {"mass": "1 g", "from_metal": "Au", "to_metal": CROWN_GOLD}).result.ratio
    assert float(ratio.value) * 19.3 == pytest.approx(17.48, abs=0.03)
    assert float(ratio.high) * 19.3 > float(by_volume)
    assert float(ratio.high) * 19.3 < 18.44


@pytest.mark.parametrize("wrong", ["31.1034807", "31.103431"])
def test_an_ounce_by_a_wrong_copy_is_caught_in_a_kilogram(ask: Ask, wrong: str) -> None:
    """Two wrong ounces from trade pages: in 100 kg of silver they are off by 0.4 mg and 4.7 g."""
    hundred, _ = ask(MASS, {"value": 100, "from": "kg", "to": "ozt", "decimals": 6}).result.mass
    by_wrong = Fraction(100_000) / Fraction(wrong)
    assert abs(Fraction(hundred) - by_wrong) > Fraction(1, 10**6)


def master_to_fine(ask: Ask, final: dict[str, Any]) -> Fraction:
    """Grams of master alloy that an order buys for each gram of fine gold; volume 1 cm3, nothing lost."""
    asked = {
        "volume": "1 cm3",
        "final_metal": final,
        "allowances": {"sprue_share": 0, "melt_loss": 0, "finishing_loss": 0},
        "purchase": {"form": "fine-and-master", "increment": "0.0001 g"},
    }
    fine, master = ask(ORDER, asked).result.to_buy.items
    return Fraction(master.needed) / Fraction(fine.needed)


def test_lowering_fine_gold_to_9_carat(ask: Ask) -> None:
    """Printed factors 1.700 (supplier page) and 1.677 (bench forum thread 27089); 15/9 = 1.6667 is right."""
    final = {"composition": {"Au": 375, "Ag": 100, "Cu": 525}, "density": "10 g/cm3"}
    factor = master_to_fine(ask, final)
    assert factor == Fraction(24 - 9, 9)
    for printed in ("1.700", "1.677"):
        assert abs(factor - Fraction(printed)) > Fraction("0.01")


# A karat table on a supplier page: lot and target in permille, what to add for 1 of the lot, as printed.
FACTOR_TABLE = [
    ("750", "375", Fraction(1), "1.025"),
    ("583.333", "375", Fraction(5, 9), "0.575"),
    ("416.667", "375", Fraction(1, 9), "0.125"),
    ("583.333", "750", Fraction(2, 3), "0.400"),
    ("416.667", "750", Fraction(4, 3), "0.800"),
]


@pytest.mark.parametrize(("lot", "target", "exact", "printed"), FACTOR_TABLE)
def test_a_printed_factor_table_is_wrong(ask: Ask, lot: str, target: str, exact: Fraction, printed: str) -> None:
    """10 g of the lot (gold and copper), and as much bought as the exact factor says."""
    charge = 10 * (1 + exact)
    volume = f"{float(charge) / 10:.9f} cm3"
    asked = {
        "volume": volume,
        "final_metal": {"composition": copper_gold(target), "density": "10 g/cm3"},
        "allowances": {"sprue_share": 0, "melt_loss": 0, "finishing_loss": 0},
        "on_hand": [{"metal": {"composition": copper_gold(lot)}, "mass": "10 g", "kind": "fresh"}],
        "purchase": {"form": "fine-and-master", "increment": "0.0001 g"},
    }
    result = ask(ORDER, asked).result
    (lot_use,) = result.to_buy.on_hand
    bought = {one.what: Fraction(one.needed) for one in result.to_buy.items}
    kind = "fine Au" if Fraction(target) > Fraction(lot) else "master alloy"
    assert abs(Fraction(lot_use.used) - 10) < Fraction("0.001")
    assert abs(bought[kind] / 10 - exact) < Fraction("0.0002")
    assert abs(bought[kind] / 10 - Fraction(printed)) > Fraction("0.01")


def copper_gold(permille: str) -> dict[str, str]:
    """Gold of that fineness in copper."""
    return {"Au": permille, "Cu": str(1000 - Decimal(permille))}


def test_583_and_585_are_never_mixed(ask: Ask) -> None:
    """14 carat is 583.3 by arithmetic and 585 by the Hallmarking Act 1973 (UK): two figures, both given."""
    result = ask(PURITY, {"value": 14, "from": "karat", "to": "permille", "decimals": 1}).result
    assert result.purity == (Decimal("583.3"), "permille")
    stamp = next(mark for mark in result.nearest_marks if mark.fineness == 585)
    assert "UK" in stamp.jurisdictions
    assert stamp.difference < 0


def test_nine_times_the_wax_is_wrong_for_sterling(reference: Reference) -> None:
    """One reply in bench forum thread 9936 says 9 times the wax; the ratio of densities is over 10."""
    sterling, wax = reference.metal("sterling-silver").density, reference.patterns["injection-wax"].density
    assert sterling.low / wax.high > 10
