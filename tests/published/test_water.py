"""Density of water against the formula of Tanaka et al. (2001), and against IAPWS-95 in an independent library.

M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell, Metrologia 38 (2001) 301: values in kg/m3 of air-free water
at 101325 Pa, computed from the printed coefficients. The library is iapws (International Association for the
Properties of Water and Steam, formulation of 1995); it lies up to 0.0012 kg/m3 above the formula at 40 C.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from iapws import IAPWS95

from alloyref.domain.density_test.water import water_density, water_slope
from alloyref.domain.errors import InvalidInput
from alloyref.domain.reference import Reference

TANAKA = {
    0: "999.84283",
    4: "999.97495",
    5: "999.96678",
    10: "999.70270",
    12: "999.50049",
    15: "999.10257",
    16: "998.94594",
    17: "998.77778",
    18: "998.59836",
    19: "998.40794",
    20: "998.20675",
    21: "997.99502",
    22: "997.77298",
    23: "997.54083",
    24: "997.29878",
    25: "997.04702",
    26: "996.78574",
    27: "996.51511",
    28: "996.23530",
    29: "995.94648",
    30: "995.64880",
    35: "994.03260",
    40: "992.21521",
}
ALMOST_ZERO = Decimal("0.01")
"""IAPWS-95 is asked just above the melting point."""


@pytest.mark.parametrize("celsius", TANAKA)
def test_it_is_the_published_formula(reference: Reference, celsius: int) -> None:
    density = water_density(Decimal(celsius), reference.constants) * 1000
    assert density == pytest.approx(Decimal(TANAKA[celsius]), abs=Decimal("0.00001"))


@pytest.mark.parametrize("celsius", TANAKA)
def test_an_independent_formulation_is_within_its_known_difference(reference: Reference, celsius: int) -> None:
    asked = max(Decimal(celsius), ALMOST_ZERO)
    theirs = IAPWS95(T=float(asked) + 273.15, P=0.101325).rho
    assert float(water_density(asked, reference.constants)) * 1000 == pytest.approx(theirs, abs=0.0012)


def test_it_is_not_the_formula_that_is_passed_about_under_its_name(reference: Reference) -> None:
    """1000 (1 - (t + 288.9414) / (508929.2 (t + 68.12963)) (t - 3.9863)^2) gives 998.2336 at 20 C, 27 ppm more."""
    wrong = 1000 * (1 - (20 + 288.9414) / (508929.2 * (20 + 68.12963)) * (20 - 3.9863) ** 2)
    assert wrong == pytest.approx(998.2336, abs=0.0005)
    assert float(water_density(Decimal(20), reference.constants)) * 1000 < wrong - 0.025


@pytest.mark.parametrize("celsius", [1, 4, 10, 20, 30, 39])
def test_the_slope_is_that_of_the_densities(reference: Reference, celsius: int) -> None:
    step = Decimal("0.5")
    ends = [water_density(celsius + sign * step, reference.constants) for sign in (1, -1)]
    slope = water_slope(Decimal(celsius), reference.constants)
    assert float(slope) == pytest.approx(float(ends[0] - ends[1]), abs=2e-7)


@pytest.mark.parametrize("celsius", ["-0.1", "40.01", "100"])
def test_outside_the_range_of_the_formula_it_is_refused(reference: Reference, celsius: str) -> None:
    with pytest.raises(InvalidInput, match="0 to 40 C"):
        water_density(Decimal(celsius), reference.constants)
