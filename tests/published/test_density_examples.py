"""Published worked examples of density by mixing, of trial to final, and of wax to metal."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.composition import Composition
from alloyref.domain.density import ideal_mixing
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.reference import Reference
from alloyref.domain.transfer import TRANSFER

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
STERLING = {"Ag": 925, "Cu": 75}

# Trade table of specific gravities and melting points, worked reciprocal rule: shares, printed density.
MIXING = [
    ({"Au": "583", "Ag": "104", "Cu": "313"}, "13.33"),
    ({"Au": "916.7", "Cu": "83.3"}, "17.62"),
]


@pytest.mark.parametrize(("shares", "printed"), MIXING)
def test_density_by_mixing(reference: Reference, shares: dict[str, str], printed: str) -> None:
    permille = {symbol: Decimal(share) for symbol, share in shares.items()}
    composition = Composition.from_permille(permille, set(shares))
    served = ideal_mixing(composition, reference.element_density)
    assert abs(served - Decimal(printed)) <= Decimal("0.015")
    volumes = {"Au": Fraction("19.3"), "Ag": Fraction("10.49"), "Cu": Fraction("8.96")}
    exact = 1000 / sum(Fraction(share) / volumes[symbol] for symbol, share in shares.items())
    assert float(served) == pytest.approx(float(exact), rel=1e-20)
    estimate = reference.estimated_density(composition)
    assert estimate.low <= Decimal(printed) <= estimate.high


def test_a_sterling_model_of_8_grams_in_14_karat(ask: Ask) -> None:
    """Bench forum thread: 8 g of sterling times 1.25 is 10 g of 14 karat; by 13.07/10.40 10.054 g."""
    asked = {
        "mass": "8 g",
        "from_metal": {"composition": STERLING, "density": "10.40 g/cm3"},
        "to_metal": {"composition": {"Au": 583, "Ag": 104, "Cu": 313}, "density": "13.07 g/cm3"},
    }
    result = ask(TRANSFER, asked).result
    assert float(result.mass.value) == pytest.approx(float(8 * Fraction("13.07") / Fraction("10.40")), rel=1e-15)
    assert abs(result.mass.value - 10) < Decimal("0.1")
    assert abs(result.ratio.value - Decimal("1.25")) < Decimal("0.01")


# Supplier page: 5 g of wax and 10 % for the button, times the density printed for the metal.
@pytest.mark.parametrize(("density", "printed"), [("13.5", "74.25"), ("13.07", "71.89")])
def test_five_grams_of_wax(ask: Ask, density: str, printed: str) -> None:
    asked = {
        "pattern": {"mass": "5 g", "density": "1 g/cm3"},
        "final_metal": {
            "composition": {"Au": 583, "Ag": 104, "Cu": 313},
            "density": f"{density} g/cm3",
        },
        "allowances": {"sprue_share": "0.1", "melt_loss": 0, "finishing_loss": 0},
    }
    charge = ask(ORDER, asked).result.charge
    assert abs(charge.value - Decimal(printed)) <= Decimal("0.005")
    assert charge.value == Decimal("5.5") * Decimal(density)


def test_a_measured_ring_keeps_its_finishing_loss(ask: Ask) -> None:
    """T. Teague, paper to the Santa Fe Symposium, as quoted: cast 5.877 g, finished 4.907 g.

    The loss carries over by volume: in the same metal the finished ring is 4.907 g again, and in a metal
    twice as dense both masses double.
    """
    light = {"composition": STERLING, "density": "10 g/cm3"}
    heavy = {"composition": STERLING, "density": "20 g/cm3"}
    for final, times in ((light, 1), (heavy, 2)):
        asked = {
            "trial": {"metal": light, "mass": "5.877 g", "finished_mass": "4.907 g"},
            "final_metal": final,
        }
        result = ask(ORDER, asked).result
        assert result.piece_mass.value == times * Decimal("5.877")
        assert abs(result.finished_mass.value - times * Decimal("4.907")) < Decimal("1e-20")
        lemel = next(one.mass for one in result.returns.items if one.kind == "lemel")
        assert lemel == times * Decimal("0.970")
