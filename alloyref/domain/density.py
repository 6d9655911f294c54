"""Density of a composition: specific volumes add, but for the few pairs that measured rows say otherwise of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property

from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.density_range import DensityLimit, Width, width_of
from alloyref.domain.errors import Issue, NotAvailable
from alloyref.domain.estimate import ONE, ZERO, Spread
from alloyref.domain.numbers import EXACT, Rounding, round_to
from alloyref.domain.provenance import Property, Status

IDEAL_MIXING = "ideal-mixing"
DENSITY_MODEL = "density-model"
DENSITY_DECIMALS = 2
AS_CAST_POROSITY = Decimal("0.01")
"""As-cast porosity of 0 to 1 percent lowers the density of a casting (common practice, no source)."""
WORST_ERROR = Decimal("0.10")
"""An estimate that may be off by more than a tenth is no answer to order metal by."""


@dataclass(frozen=True, slots=True)
class MixingTerm:
    """What a pair of elements adds to the specific volume: `value` (cm3/g) times the mass fractions of both.

    `rows` are the published rows that the value was fitted to. Where they hold nothing but the pair, they say
    nothing of alloys with a third metal: the term then fades as others come in, and is gone at `fades` permille.
    """

    first: str
    second: str
    value: Decimal
    fades: Decimal | None
    status: Status
    source: str
    rows: tuple[str, ...]

    @property
    def id(self) -> str:
        """The pair, such as `Cu-Zn`."""
        return f"{self.first}-{self.second}"

    def whole(self, fractions: Mapping[str, Decimal]) -> Decimal:
        """The excess specific volume in cm3/g as if nothing but the pair were there; 0 where one of it is absent."""
        return self.value * fractions.get(self.first, ZERO) * fractions.get(self.second, ZERO)

    def faded(self, fractions: Mapping[str, Decimal]) -> Decimal:
        """The fraction of the term that is not carried over: from 0 (none) to 1 (all of it)."""
        if self.fades is None:
            return ZERO
        others = ONE - fractions.get(self.first, ZERO) - fractions.get(self.second, ZERO)
        return min(ONE, EXACT.divide(others * THOUSAND, self.fades))

    def volume(self, fractions: Mapping[str, Decimal]) -> Decimal:
        """The excess specific volume in cm3/g at these mass fractions."""
        whole = self.whole(fractions)
        return whole * (ONE - self.faded(fractions)) if whole else ZERO


def ideal_mixing(composition: Composition, element_density: Mapping[str, Decimal]) -> Decimal:
    """Density in g/cm3 of a composition whose specific volumes add.

    1/rho = sum(w_i / rho_i), with mass fractions w_i and element densities rho_i at 20 C.
    Good to about 0.7 percent for Au-Ag and Ag-Cu; gold-copper comes out up to 1.3 percent too heavy, brass and
    silicon bronze up to 6 percent too light.
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


@dataclass(frozen=True)
class DensityModel:
    """Ideal mixing of the element densities (g/cm3 at 20 C), corrected by the terms, with the limits of both."""

    elements: Mapping[str, Property]
    terms: Sequence[MixingTerm] = ()
    limits: Sequence[DensityLimit] = ()

    @cached_property
    def _values(self) -> Mapping[str, Decimal]:
        """The element densities without their ranges."""
        return {symbol: one.value for symbol, one in self.elements.items()}

    @cached_property
    def _spreads(self) -> Mapping[str, Spread]:
        """How far the printed densities of each element reach below and above the one that is used."""
        return {symbol: Spread.of(one) for symbol, one in self.elements.items()}

    def density(self, composition: Composition) -> Decimal:
        """Density in g/cm3 at 20 C, unrounded: 1/rho = sum(w_i / rho_i) + sum(L_ij w_i w_j).

        Raises `NotAvailable` for an element without a density here.
        """
        ideal = ideal_mixing(composition, self._values)
        excess = self.excess(composition)
        return EXACT.divide(ONE, EXACT.divide(ONE, ideal) + excess) if excess else ideal

    def excess(self, composition: Composition) -> Decimal:
        """What the terms add to the specific volume, in cm3/g; below zero where the alloy contracts."""
        fractions = dict(composition.fractions)
        return sum((term.volume(fractions) for term in self.terms), ZERO)

    def estimate(self, composition: Composition) -> Property:
        """The density served for a composition, with its range, standing and what the range rests on.

        The range holds the error of the model and, below, the porosity of a casting. All three are brought
        to 0.01 g/cm3, the range outward, so that the number shown is the number used. A single element has
        its own density. Raises `NotAvailable` where no row that was read supports an answer.
        """
        if len(composition.parts) == 1 and composition.parts[0][0] in self.elements:
            pure = self.elements[composition.parts[0][0]]
            return replace(pure, low=outward(pure.low * (ONE - AS_CAST_POROSITY), Rounding.DOWN))
        value = self.density(composition)
        width = self.width(composition)
        if max(width.below, width.above) > WORST_ERROR:
            detail = (
                f"No density can be estimated for this composition: {width.basis}. It might be off by more than "
                f"{WORST_ERROR:.0%}. Give the measured density of the alloy."
            )
            raise NotAvailable(Issue("density-not-available", detail))
        shown = round_to(value, DENSITY_DECIMALS)
        low = outward(value * (ONE - width.below) * (ONE - AS_CAST_POROSITY), Rounding.DOWN)
        high = outward(value * (ONE + width.above), Rounding.UP)
        source = DENSITY_MODEL if self.excess(composition) else IDEAL_MIXING
        return Property(shown, "g/cm3", low, high, Status.CALCULATED, source, width.basis)

    def width(self, composition: Composition) -> Width:
        """How far the model may err for this composition, as fractions, and what that rests on."""
        ideal = {symbol: share / self._values[symbol] for symbol, share in composition.parts}
        total = sum(ideal.values(), ZERO)
        volumes = {symbol: volume / total for symbol, volume in ideal.items()}
        width = width_of(composition, volumes, self._spreads, self.limits)
        return self._with_faded(composition, width)

    def _with_faded(self, composition: Composition, width: Width) -> Width:
        """The width, widened by what the terms that fade here may add to the volume or take off it.

        The part not carried over may be there after all; the part carried over may be missing, and that is the
        likelier the more of it has faded.
        """
        fractions = dict(composition.fractions)
        fading = [term for term in self.terms if term.whole(fractions) and term.faded(fractions)]
        if not fading:
            return width
        density = self.density(composition)
        below, above, basis = width.below, width.above, width.basis
        for term in fading:
            faded, change = term.faded(fractions), term.whole(fractions) * density
            ends = (change * faded, -change * faded * (ONE - faded))
            below, above = below + max(ends), above - min(ends)
            room = "more" if term.value > 0 else "less"
            basis += f"; {term.id} alone takes {room} room than mixing says, and how far that holds here is not known"
        return Width(below, above, basis)


def outward(value: Decimal, rounding: Rounding) -> Decimal:
    """An end of a density range, brought to the decimals that densities are served with."""
    return round_to(value, DENSITY_DECIMALS, rounding)
