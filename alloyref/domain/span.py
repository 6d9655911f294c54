"""What is known only between two ends: a range and no number, unless the ends are one."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class MassRange:
    """A mass in g between two ends."""

    low: Decimal
    high: Decimal

    @classmethod
    def of(cls, one: Decimal, other: Decimal) -> MassRange:
        """The range between two masses in g, in either order."""
        return cls(min(one, other), max(one, other))

    @property
    def value(self) -> Decimal | None:
        """The mass, if it is known."""
        return self.low if self.low == self.high else None


@dataclass(frozen=True, slots=True)
class MoneyRange:
    """An amount between two ends."""

    low: Decimal
    high: Decimal
    currency: str

    @classmethod
    def of(cls, one: Decimal, other: Decimal, currency: str) -> MoneyRange:
        """The range between two amounts, in either order."""
        return cls(min(one, other), max(one, other), currency)

    @property
    def value(self) -> Decimal | None:
        """The amount, if it is known."""
        return self.low if self.low == self.high else None
