"""Estimates against published figures: colour designations of gold, fixed points, measured densities."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.estimate_alloy import ESTIMATE
from alloyref.domain.provenance import Status

Ask = Callable[[Calculation, dict[str, Any]], Outcome]

# Nominal compositions of ISO 8654:1987 in permille of Au, Ag, Cu, as a forum thread on gold colours quotes them
# (source colour-designation-thread), and the carat that each designation is of.
DESIGNATIONS = {
    "0N": (585, 340, 75, 14),
    "1N": (585, 260, 155, 14),
    "2N": (750, 160, 90, 18),
    "3N": (750, 125, 125, 18),
    "4N": (750, 90, 160, 18),
    "5N": (750, 45, 205, 18),
}
# H. Preston-Thomas, The International Temperature Scale of 1990, Metrologia 27 (1990) 3.
FIXED_POINTS = {"Au": "1064.18", "Ag": "961.78", "Cu": "1084.62"}


@pytest.mark.parametrize("designation", DESIGNATIONS)
def test_a_colour_designation_is_of_its_carat(ask: Ask, designation: str) -> None:
    gold, silver, copper, carat = DESIGNATIONS[designation]
    result = ask(ESTIMATE, {"composition": {"Au": gold, "Ag": silver, "Cu": copper}}).result
    assert result.metal == "Au"
    assert result.fineness.value == gold
    assert result.karat.value == Decimal(gold) * 24 / 1000
    assert round(result.karat.value) == carat
    below, above = result.nearest_marks
    assert below.fineness == gold < above.fineness
    assert below.difference == 0


def test_at_one_fineness_the_yellower_gold_is_the_denser(ask: Ask) -> None:
    """Silver (10.49) for copper (8.96) raises the density: follows from the densities of the elements."""
    for carat in (14, 18):
        densities = [
            ask(ESTIMATE, {"composition": {"Au": gold, "Ag": silver, "Cu": copper}}).result.density.value
            for gold, silver, copper, of in DESIGNATIONS.values()
            if of == carat
        ]
        assert len(densities) > 1
        assert densities == sorted(densities, reverse=True)


@pytest.mark.parametrize(("symbol", "printed"), FIXED_POINTS.items())
def test_a_pure_metal_melts_at_its_fixed_point(ask: Ask, symbol: str, printed: str) -> None:
    result = ask(ESTIMATE, {"composition": {symbol: 1000}}).result
    assert result.solidus == result.liquidus
    assert result.solidus.value == Decimal(printed)
    assert result.solidus.status is Status.STANDARD


@pytest.mark.parametrize(
    ("shares", "printed", "tolerance"),
    [
        # Karmarsch 1877 (L = 8.814 + 0.00579 n): measured silver-copper of 925 permille.
        ({"Ag": 925, "Cu": 75}, 10.356, 0.002),
        # T. K. Rose, The Metallurgy of Gold, Table XIV: measured gold-silver, 917 permille.
        ({"Au": 917, "Ag": 83}, 18.08, 0.007),
        # Rose's gold-copper of 900 permille, as a data page quotes it.
        ({"Au": 900, "Cu": 100}, 17.16, 0.01),
    ],
)
def test_the_density_meets_the_measured_one(
    ask: Ask, shares: dict[str, int], printed: float, tolerance: float
) -> None:
    density = ask(ESTIMATE, {"composition": shares}).result.density
    assert float(density.value) == pytest.approx(printed, rel=tolerance)
    assert float(density.low) <= printed <= float(density.high)
