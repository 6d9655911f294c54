"""A quantity that remembers how it was typed: its number, digits and unit."""

from __future__ import annotations

from decimal import Decimal
from typing import Self

from alloyref.domain.errors import InvalidInput
from alloyref.domain.numbers import EXACT, plain

MOST_PLACES = 12
"""Of a last digit; no balance has more."""
FLOAT_DOUBT = Decimal("1e-13")


class Typed(Decimal):
    """A quantity in the base unit that remembers the number and the unit (its symbol) it was given in.

    Whatever is worked out from it is a plain Decimal.
    """

    __slots__ = ("number", "unit")
    number: Decimal
    unit: str

    def __new__(cls, base: Decimal, number: Decimal, unit: str) -> Self:
        """The quantity `base`, which is `number` in `unit`."""
        made = super().__new__(cls, base)
        made.number, made.unit = number, unit
        return made


def as_given(mass: Decimal) -> str:
    """A mass in words as it was given; one that was worked out, in g.

    >>> as_given(Typed(Decimal("5.909660592"), Decimal("3.8"), "dwt")), as_given(Decimal("5.90"))
    ('3.8 dwt', '5.9 g')
    """
    return f"{plain(mass.number)} {mass.unit}" if isinstance(mass, Typed) else f"{plain(mass)} g"


def same_amount(one: Decimal, other: Decimal) -> bool:
    """Whether two numbers are the same, to the digits that a program which reckons with floats passes on."""
    return abs(one - other) <= FLOAT_DOUBT * abs(other)


def with_step(quantity: Typed, step: Decimal) -> Typed:
    """The quantity with the noughts at the end of its number that show the step; `InvalidInput` if it is none.

    >>> with_step(Typed(Decimal("9.5"), Decimal("9.5"), "g"), Decimal("0.001")).number
    Decimal('9.500')
    """
    places = step.adjusted()
    if step != Decimal(1).scaleb(places) or not -MOST_PLACES <= places <= 0:
        detail = f"The step of a last digit is 1, 0.1, 0.01 and so on, with up to {MOST_PLACES} places."
        raise InvalidInput.of("out-of-range", detail, "/step")
    if places >= _exponent(quantity.number):
        return quantity
    return Typed(quantity, quantity.number.quantize(Decimal(1).scaleb(places), context=EXACT), quantity.unit)


def step_of(quantity: Typed) -> Decimal:
    """What one more in the last digit written is, in the unit of that number; at most one.

    >>> step_of(Typed(Decimal("9.50"), Decimal("9.50"), "g"))
    Decimal('0.01')
    """
    return Decimal(1).scaleb(max(-MOST_PLACES, min(0, _exponent(quantity.number))))


def _exponent(number: Decimal) -> int:
    return int(number.as_tuple().exponent)
