"""Density of a composition by ideal mixing of specific volumes."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.errors import Issue, NotAvailable
from alloyref.domain.estimate import ONE
from alloyref.domain.numbers import EXACT, Rounding, round_to
from alloyref.domain.provenance import Property, Status

IDEAL_MIXING = "ideal-mixing"
DENSITY_DECIMALS = 2
AS_CAST_POROSITY = Decimal("0.01")
"""As-cast porosity of 0 to 1 percent lowers the density of a casting (common practice, no source)."""

# How far ideal mixing errs, relative, (below, above) the estimate: measured on the published rows in data/.
_NOBLE = frozenset({"Au", "Ag", "Cu"})
_NOBLE_ERROR = (Decimal("0.010"), Decimal("0.005"))
_PRECIOUS = frozenset({"Au", "Ag", "Cu", "Pd", "Pt", "Ir", "Ru", "Rh", "W"})
_PRECIOUS_ERROR = (Decimal("0.015"), Decimal("0.015"))
# Zinc, silicon, tin and nickel contract on alloying, so brass and nickel silver come out denser than the rule.
_OTHER_ERROR = (Decimal("0.015"), Decimal("0.03"))
_BASE_METAL_ERROR = (Decimal("0.015"), Decimal("0.065"))


def ideal_mixing(composition: Composition, element_density: Mapping[str, Decimal]) -> Decimal:
    """Density in g/cm3 of a composition whose specific volumes add.

    1/rho = sum(w_i / rho_i), with mass fractions w_i and element densities rho_i at 20 C.
    Good to about 0.5 percent for Au-Ag-Cu; brass and nickel silver come out up to 6 percent too light.
    Raises `NotAvailable` for an element without a density here.

    >>> gold = Composition.from_permille({"Au": Decimal("916.7"), "Cu": Decimal("83.3")}, {"Au", "Cu"})
    >>> round(ideal_mixing(gold, {"Au": Decimal("19.30"), "Cu": Decimal("8.96")}), 2)
    Decimal('17.61')

    Reference: the reciprocal (specific volume) rule, as in the worked example 17.62 for 916.7 gold in copper.
    """
    try:
        volume = sum(
            (EXACT.divide(share, element_density[symbol]) for symbol, share in composition.parts), Decimal(0)
        )
    except KeyError as missing:
        detail = f"No density is held for {missing.args[0]}, so none can be estimated."
        raise NotAvailable(Issue("density-not-available", detail)) from None
    return EXACT.divide(THOUSAND, volume)


def mixing_error(composition: Composition) -> tuple[Decimal, Decimal]:
    """How far ideal mixing may err for this composition, as fractions below and above the estimate."""
    elements = set(composition.elements)
    if elements <= _NOBLE:
        return _NOBLE_ERROR
    if elements <= _PRECIOUS:
        return _PRECIOUS_ERROR
    return _OTHER_ERROR if composition.base in ("Au", "Ag", "Pt", "Pd") else _BASE_METAL_ERROR


def estimated_density(composition: Composition, element_density: Mapping[str, Decimal]) -> Property:
    """The density estimate served for a composition, with its range and standing.

    The range holds the error of the mixing rule and, below, the porosity of a casting. All three are
    brought to 0.01 g/cm3, the range outward, so that the number shown is the number used.
    """
    value = round_to(ideal_mixing(composition, element_density), DENSITY_DECIMALS)
    below, above = (Decimal(0), Decimal(0)) if len(composition.parts) == 1 else mixing_error(composition)
    low = round_to(value * (ONE - below) * (ONE - AS_CAST_POROSITY), DENSITY_DECIMALS, Rounding.DOWN)
    high = round_to(value * (ONE + above), DENSITY_DECIMALS, Rounding.UP)
    return Property(value, "g/cm3", low, high, Status.CALCULATED, IDEAL_MIXING)
