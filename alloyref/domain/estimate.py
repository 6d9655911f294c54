"""Values that are not exact: value, low and high, and how ranges combine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

ZERO = Decimal(0)
ONE = Decimal(1)


class Ranged(Protocol):
    """Anything with a value and a range about it."""

    @property
    def value(self) -> Decimal:
        """The best value."""

    @property
    def low(self) -> Decimal:
        """The low end of the range."""

    @property
    def high(self) -> Decimal:
        """The high end of the range."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Relative half-widths of a range (fractions of the value), below and above it."""

    below: Decimal = ZERO
    above: Decimal = ZERO

    @classmethod
    def of(cls, ranged: Ranged) -> Spread:
        """The spread of a value with a range."""
        return cls((ranged.value - ranged.low) / ranged.value, (ranged.high - ranged.value) / ranged.value)

    @classmethod
    def even(cls, half_width: Decimal) -> Spread:
        """The same relative half-width on both sides."""
        return cls(half_width, half_width)

    def inverse(self) -> Spread:
        """The spread of one over the value: what widens upward in a divisor widens downward in the quotient."""
        return Spread(self.above, self.below)


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with a low and a high end, about 95 % coverage, all in the unit of its field."""

    value: Decimal
    low: Decimal
    high: Decimal

    @classmethod
    def widened(cls, value: Decimal, *spreads: Spread) -> Estimate:
        """The value widened by independent spreads, combined as the root of the sum of squares.

        >>> Estimate.widened(Decimal(10), Spread.even(Decimal("0.03")), Spread.even(Decimal("0.04")))
        Estimate(value=Decimal('10'), low=Decimal('9.50'), high=Decimal('10.50'))
        """
        below = _root_of_squares([spread.below for spread in spreads])
        above = _root_of_squares([spread.above for spread in spreads])
        # Without doubt an end is the value itself, to its last digit.
        low = value * (ONE - min(below, ONE)) if below else value
        return cls(value, low, value * (ONE + above) if above else value)

    def times(self, factor: Decimal) -> Estimate:
        """All three scaled by an exact, non-negative factor."""
        return Estimate(self.value * factor, self.low * factor, self.high * factor)

    def spanning(self, *others: Ranged) -> Estimate:
        """The same value in a range that holds those of the others too."""
        lows, highs = [one.low for one in others], [one.high for one in others]
        return Estimate(self.value, min(self.low, *lows), max(self.high, *highs)) if others else self


def _root_of_squares(parts: Sequence[Decimal]) -> Decimal:
    """The root of the sum of squares; of a single part that is the part itself, without the work or the rounding."""
    if len(parts) == 1:
        return abs(parts[0])
    return sum((part * part for part in parts), ZERO).sqrt()
