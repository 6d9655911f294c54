"""Factors of units against libraries that are not pint: scipy.constants, astropy.units and GNU units.

scipy.constants holds the grain, the troy units and the carat; astropy.units the avoirdupois units, lengths,
volumes and temperatures; the definitions file of GNU units all of them (asked only where the program is).
The three compute in binary floating point, so agreement is asked to 1e-14 relative.
"""

from __future__ import annotations

import shutil
import subprocess
from decimal import Decimal

import pytest
from astropy import units as astro
from astropy.units import imperial
from scipy import constants

from alloyref.domain.reference import Reference
from alloyref.domain.units import BASE_UNIT, Dimension

CLOSE = 1e-14
BY_SCIPY = {
    "grain": constants.grain,
    "ozt": constants.troy_ounce,
    "lbt": constants.troy_pound,
    "oz_av": constants.oz,
    "lb_av": constants.lb,
    "ct": constants.carat,
}
"""Masses in kg."""

G_CM3 = astro.g / astro.cm**3
TROY_OUNCE = 480 * imperial.lb / 7000
BY_ASTROPY = [
    ("kg", Dimension.MASS, (1 * astro.kg).to_value(astro.g)),
    ("mg", Dimension.MASS, (1 * astro.mg).to_value(astro.g)),
    ("oz_av", Dimension.MASS, (1 * imperial.oz).to_value(astro.g)),
    ("lb_av", Dimension.MASS, (1 * imperial.lb).to_value(astro.g)),
    ("in", Dimension.LENGTH, (1 * imperial.inch).to_value(astro.mm)),
    ("um", Dimension.LENGTH, (1 * astro.um).to_value(astro.mm)),
    ("in3", Dimension.VOLUME, (1 * imperial.inch**3).to_value(astro.cm**3)),
    ("mm3", Dimension.VOLUME, (1 * astro.mm**3).to_value(astro.cm**3)),
    ("kg/m3", Dimension.DENSITY, (1 * astro.kg / astro.m**3).to_value(G_CM3)),
    ("lb/in3", Dimension.DENSITY, (1 * imperial.lb / imperial.inch**3).to_value(G_CM3)),
    ("ozt/in3", Dimension.DENSITY, (1 * TROY_OUNCE / imperial.inch**3).to_value(G_CM3)),
    ("dwt/in3", Dimension.DENSITY, (1 * TROY_OUNCE / 20 / imperial.inch**3).to_value(G_CM3)),
]
"""Symbol, dimension, and how many of the base unit astropy makes of it."""

BY_GNU_UNITS = {
    "grain": "grain",
    "dwt": "pennyweight",
    "ozt": "troyounce",
    "lbt": "troypound",
    "oz_av": "ounce",
    "lb_av": "pound",
    "dr_av": "dram",
    "scruple": "scruple",
    "drachm_ap": "apdram",
    "ct": "carat",
    "point": "jewelerspoint",
    "tola": "tola",
    "momme": "momme",
    "assay_ton_short": "assayton",
    "assay_ton_long": "brassayton",
}


@pytest.mark.parametrize(("symbol", "kilograms"), BY_SCIPY.items())
def test_masses_agree_with_scipy(reference: Reference, symbol: str, kilograms: float) -> None:
    served = reference.units.convert(Decimal(1), symbol, "kg", Dimension.MASS)
    assert float(served) == pytest.approx(kilograms, rel=CLOSE)


def test_the_pennyweight_is_a_twentieth_of_the_ounce_of_scipy(reference: Reference) -> None:
    served = reference.units.convert(Decimal(20), "dwt", "kg", Dimension.MASS)
    assert float(served) == pytest.approx(constants.troy_ounce, rel=CLOSE)


@pytest.mark.parametrize(("symbol", "dimension", "expected"), BY_ASTROPY)
def test_units_agree_with_astropy(reference: Reference, symbol: str, dimension: Dimension, expected: float) -> None:
    served = reference.units.convert(Decimal(1), symbol, BASE_UNIT[dimension], dimension)
    assert float(served) == pytest.approx(expected, rel=CLOSE)


@pytest.mark.parametrize("celsius", [-40.0, 0.0, 20.0, 779.1, 1064.18])
def test_temperatures_agree_with_astropy(reference: Reference, celsius: float) -> None:
    quantity = celsius * astro.deg_C
    for symbol, unit in (("K", astro.K), ("F", imperial.deg_F)):
        served = reference.units.convert(Decimal(str(celsius)), "C", symbol, Dimension.TEMPERATURE)
        expected = quantity.to_value(unit, equivalencies=astro.temperature())
        assert float(served) == pytest.approx(expected, rel=1e-12)


@pytest.mark.skipif(shutil.which("units") is None, reason="GNU units is not installed")
@pytest.mark.parametrize(("symbol", "name"), BY_GNU_UNITS.items())
def test_masses_agree_with_gnu_units(reference: Reference, symbol: str, name: str) -> None:
    asked = ["units", "--terse", "--digits", "15", name, "g"]
    answer = subprocess.run(asked, capture_output=True, text=True, check=True, timeout=30)
    served = reference.units.convert(Decimal(1), symbol, "g", Dimension.MASS)
    assert float(served) == pytest.approx(float(answer.stdout), rel=CLOSE)
