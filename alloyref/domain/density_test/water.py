"""Density of water by temperature."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import Constant
from alloyref.domain.numbers import plain

COLDEST, WARMEST = Decimal(0), Decimal(40)
"""Where the formula holds, in C."""
COEFFICIENTS = ("water-a1", "water-a2", "water-a3", "water-a4", "water-a5")
_STEP = Decimal("0.01")


def water_density(celsius: Decimal, constants: Mapping[str, Constant]) -> Decimal:
    """Density in g/cm3 of pure, air-free water at 101325 Pa and a temperature in C, from 0 to 40 C.

    rho = a5 (1 - (t + a1)^2 (t + a2) / (a3 (t + a4))), with a5 in kg/m3. Raises `InvalidInput` outside
    that range. Reference: M. Tanaka et al., Metrologia 38 (2001) 301, coefficients in data/constants.csv.
    """
    if not COLDEST <= celsius <= WARMEST:
        detail = f"The density of water is held for {COLDEST} to {WARMEST} C, not for {plain(celsius)} C."
        raise InvalidInput.of("out-of-range", detail, "/temperature")
    return _formula(celsius, constants)


def water_slope(celsius: Decimal, constants: Mapping[str, Constant]) -> Decimal:
    """How the density of water changes with temperature, in g/cm3 for each C, by central difference."""
    return (_formula(celsius + _STEP, constants) - _formula(celsius - _STEP, constants)) / (2 * _STEP)


def _formula(celsius: Decimal, constants: Mapping[str, Constant]) -> Decimal:
    a1, a2, a3, a4, a5 = (constants[name].figure.value for name in COEFFICIENTS)
    return a5 * (1 - (celsius + a1) ** 2 * (celsius + a2) / (a3 * (celsius + a4))) / 1000
