"""Weighings against worked examples, Student's factors and the propagation of distributions.

The examples of purity by density are textbook problems on the web (a volume of gold in copper, and in platinum):
mass and volume are turned into readings in water at 20 C.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from scipy import stats

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.density_test import DENSITY_TEST
from alloyref.domain.density_test.hydrostatic import LARGE_SAMPLE, STUDENT

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
WATER_20, AIR = Decimal("0.99820675"), Decimal("0.0012")
DRAWS = 200_000


def test_fine_gold(ask: Ask) -> None:
    """10.0000 g in air, 9.4834 g in water at 20 C, air 0.0012 g/cm3: 19.300 by arithmetic, to the digits weighed."""
    result = ask(DENSITY_TEST, DENSITY_TEST.example).result
    by_hand = 10 / (10 - 9.4834) * (0.99820675 - 0.0012) + 0.0012
    assert float(result.density.value) == pytest.approx(by_hand, abs=1e-6)
    assert float(result.density.value) == pytest.approx(19.300, abs=0.001)
    assert result.density.low < Decimal("19.30") < result.density.high
    # Taking the water as 1 and leaving the air out gives 19.357.
    assert result.density.high < Decimal("19.357")
    assert result.candidates[0].id == "fine-gold"


def reading(mass: str, volume: str) -> dict[str, Any]:
    """The readings that a mass in g and a volume in cm3 give in water at 20 C."""
    in_liquid = Decimal(mass) - Decimal(volume) * (WATER_20 - AIR)
    pair = {"in_air": f"{mass} g", "in_liquid": f"{in_liquid:.6f} g"}
    return {"weighings": [pair], "temperature": "20 C", "readability": "0.00001 g", "air_density": "1.2 kg/m3"}


@pytest.mark.parametrize(
    ("mass", "volume", "printed"),
    [
        # 8.5 g and 0.64 cm3: 15.4 karat with copper of 8.5 g/cm3.
        ("8.5", "0.64", 13.28),
        # 11.4 g and 0.576 cm3: 8.51 g of gold with platinum.
        ("11.4", "0.576", 19.79),
    ],
)
def test_the_density_of_a_textbook_problem(ask: Ask, mass: str, volume: str, printed: float) -> None:
    result = ask(DENSITY_TEST, reading(mass, volume)).result
    # Air weighs in twice: the mass in air is short by the air displaced, 0.0012 g/cm3 of the density.
    assert float(result.density.value) == pytest.approx(float(mass) / float(volume) + 0.0012, abs=0.0005)
    assert float(result.density.value) == pytest.approx(printed, abs=0.01)


def test_the_gold_of_a_textbook_problem_is_left_open(ask: Ask) -> None:
    """8.5 g and 0.64 cm3 of gold and copper: with copper of 8.96 it is 60.7 % or 14.58 karat, by ideal volumes."""
    gold = ask(DENSITY_TEST, reading("8.5", "0.64")).result.gold
    share = (1 / 8.96 - 0.64 / 8.5) / (1 / 8.96 - 1 / 19.3)
    assert share == pytest.approx(0.607, abs=0.001)
    # Copper is the lightest partner, so its answer lies at the gold-rich end; the mixing rule errs by some percent.
    assert 590 < gold.fineness_high < 660
    assert gold.fineness_low < Decimal(607) < gold.fineness_high
    assert {one.karat for one in gold.karats if one.agrees} == {14}


@pytest.mark.parametrize("freedom", STUDENT)
def test_the_factors_of_student(freedom: int) -> None:
    """scipy.stats, two-sided 95 %."""
    assert float(STUDENT[freedom]) == pytest.approx(stats.t.ppf(0.975, freedom), abs=0.0006)


def test_the_factor_of_a_large_sample() -> None:
    """scipy.stats, two-sided 95 %."""
    assert float(LARGE_SAMPLE) == pytest.approx(stats.norm.ppf(0.975), abs=0.0001)


CASES = [
    # mass in air, in water, temperature, readability, suspension
    ("10.0000", "9.4834", "20", "0.0001", None),
    ("5.000", "4.620", "22.5", "0.001", None),
    ("6.31", "5.70", "18", "0.01", None),
    ("31.10", "28.112", "30", "0.01", "0.02"),
    ("250.0", "230.1", "15", "0.1", "1.3"),
]


@pytest.mark.parametrize("case", CASES, ids=lambda one: one[0])
def test_propagation_agrees_with_a_monte_carlo(ask: Ask, case: tuple[str, str, str, str, str | None]) -> None:
    """Standard uncertainty within 3 %, coverage 94 to 99.5 %: each doubt drawn evenly within its width."""
    air, liquid, celsius, step, wire = case
    asked: dict[str, Any] = {
        "weighings": [{"in_air": f"{air} g", "in_liquid": f"{liquid} g"}],
        "temperature": f"{celsius} C",
        "readability": f"{step} g",
    }
    if wire is not None:
        asked["suspension"] = f"{wire} g"
    result = ask(DENSITY_TEST, asked).result
    rng = np.random.default_rng(20261125)

    def evenly(middle: float, half: float) -> Any:
        return rng.uniform(middle - half, middle + half, DRAWS)

    t = evenly(float(celsius), 1.0)
    # Tanaka et al. (2001), written out again.
    water = 999.974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))) / 1000
    water += evenly(0, 0.0001)
    buoyant = evenly(0.0012, 0.0001)
    half = float(step) / 2
    hanging = evenly(float(liquid), half) - (evenly(float(wire), half) if wire is not None else 0)
    weight = evenly(float(air), half)
    drawn = weight * (water - buoyant) / (weight - hanging) + buoyant
    assert float(result.standard_uncertainty) == pytest.approx(drawn.std(), rel=0.03)
    inside = ((float(result.density.low) <= drawn) & (drawn <= float(result.density.high))).mean()
    assert 0.94 < inside < 0.995
    assert float(result.density.value) == pytest.approx(np.median(drawn), rel=0.002)
