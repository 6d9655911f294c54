"""What is known only between two ends: a range and no number, unless the ends are one."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple


class AtLeast(NamedTuple):
    """An amount that leaves out what has no price: the whole is at least this."""

    value: Decimal
    currency: str


Amount = tuple[Decimal, str] | AtLeast


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
    """An amount between two ends, or `at_least` between them where it leaves out what has no price."""

    low: Decimal
    high: Decimal
    currency: str
    at_least: bool = False

    @classmethod
    def of(cls, one: Decimal, other: Decimal, currency: str, at_least: bool = False) -> MoneyRange:
        """The range between two amounts, in either order."""
        return cls(min(one, other), max(one, other), currency, at_least)

    @property
    def value(self) -> Decimal | None:
        """The amount, if it is known."""
        return self.low if self.low == self.high else None
