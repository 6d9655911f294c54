"""Wire gauges against their rule and the breakpoints as published."""

from __future__ import annotations

import math
from decimal import Decimal
from itertools import pairwise

import pytest

from alloyref.domain.gauge import AWG, SWG, awg_inches, gauge_number
from alloyref.domain.reference import Reference

SWG_BREAKPOINTS = [
    (-6, "0.5"),
    (-5, "0.464"),
    (-3, "0.4"),
    (-2, "0.372"),
    (3, "0.252"),
    (6, "0.192"),
    (10, "0.128"),
    (14, "0.08"),
    (19, "0.04"),
    (23, "0.024"),
    (26, "0.018"),
    (28, "0.0148"),
    (30, "0.0124"),
    (39, "0.0052"),
    (49, "0.0012"),
    (50, "0.001"),
]
"""Inches; GNU units 2.22, `brwiregauge`, which is straight between these."""


def table(reference: Reference, system: str) -> dict[int, Decimal]:
    """Inches by number."""
    return {gauge_number(one.gauge): one.diameter_in for one in reference.gauges if one.system == system}


def test_the_two_gauges_that_define_awg() -> None:
    """ASTM B258, as quoted in GNU units 2.22: 0000 is 0.46 inch and 36 is 0.005 inch, exactly."""
    assert awg_inches(-3) == Decimal("0.46")
    assert awg_inches(36) == Decimal("0.005")


def test_each_awg_step_is_one_ratio(reference: Reference) -> None:
    """GNU units 2.22: 92^(1/39) is close to 2^(1/6), so the diameter halves about every six gauges."""
    inches = table(reference, AWG)
    assert sorted(inches) == list(range(-3, 57))
    for number in range(-3, 50):
        assert float(inches[number] / inches[number + 6]) == pytest.approx(2, abs=0.01)


def test_awg_by_floating_point(reference: Reference) -> None:
    """The rule of ASTM B258 by the mathematics library, and the standard's own rounding to 0.0001 inch."""
    for number, inches in table(reference, AWG).items():
        exact = math.exp(math.log(0.005) + (36 - number) / 39 * math.log(92))
        assert float(inches) == pytest.approx(exact, abs=5e-9)
    assert [round(table(reference, AWG)[number], 4) for number in (-3, 0, 18)] == [
        Decimal("0.4600"),
        Decimal("0.3249"),
        Decimal("0.0403"),
    ]


def test_the_table_gives_each_awg_gauge_in_mm_as_the_rule_does(reference: Reference) -> None:
    """To the 0.00001 mm that is served: the inches of the table are not rounded so far that the mm differ."""
    for number, inches in table(reference, AWG).items():
        exact = math.exp(math.log(0.005) + (36 - number) / 39 * math.log(92)) * 25.4
        assert f"{inches * Decimal('25.4'):.5f}" == f"{exact:.5f}", number


def test_swg_is_straight_between_its_breakpoints(reference: Reference) -> None:
    inches = table(reference, SWG)
    assert sorted(inches) == list(range(-6, 51))
    for (first, thick), (last, thin) in pairwise(SWG_BREAKPOINTS):
        for number in range(first, last + 1):
            along = Decimal(number - first) / (last - first)
            expected = Decimal(thick) + (Decimal(thin) - Decimal(thick)) * along
            assert abs(inches[number] - expected) < Decimal("1e-12"), number


def test_awg_is_not_swg(reference: Reference) -> None:
    """The same number is another wire: why a gauge without its system is refused."""
    awg, swg = table(reference, AWG), table(reference, SWG)
    for number in range(1, 36):
        assert 0.002 < abs(float(awg[number] / swg[number]) - 1) < 0.35, number


def test_millimetres_are_inches_exactly(reference: Reference) -> None:
    for one in reference.gauges:
        assert one.diameter.value == one.diameter_in * Decimal("25.4")
