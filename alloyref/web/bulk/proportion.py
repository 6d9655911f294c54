"""Rows that differ in one number only, answered from one run.

Where a calculation is declared proportional to one input, a run at 1 tells the answer at any number. The
product is formed in binary floating point, which is safe as long as it does not come near the middle between
two roundings; there the row is asked by itself, so every cell is what a single question gives.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from alloyref.domain.calculation import Calculation, items
from alloyref.web.bulk.columns import Column

# A number that a unit may follow; never one that goes on as a longer number would.
NUMBER = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,12})?)((?: *[A-Za-z\[].*)?)", re.ASCII)
EXPONENT = re.compile(r" *[eE][+-]?[0-9]", re.ASCII)
PLACE = re.compile(r"%\.[0-9]+f")
# Four roundings of a double and some room; relative to the scaled number.
DOUBT = 4e-15


@dataclass(frozen=True, slots=True)
class Proportion:
    """The answer at 1: factors of the masses, the rest of the row as a template, and the largest number taken."""

    factors: tuple[float, ...]
    scales: tuple[float, ...]
    template: str
    most: float

    @property
    def between(self) -> tuple[str, ...]:
        """The cells before the first number, between each two, and after the last, as csv without outer commas."""
        parts = PLACE.split(self.template.removesuffix("\r\n"))
        first, last = parts[0].removesuffix(","), parts[-1].removeprefix(",")
        return tuple(one.replace("%%", "%") for one in (first, *(part[1:-1] for part in parts[1:-1]), last))

    def text(self, number: str) -> str | None:
        """The result cells at this number, or None where the row must be asked by itself."""
        value = float(number)
        if not 0 < value <= self.most:
            return None
        products = [value * factor for factor in self.factors]
        for product, scale in zip(products, self.scales, strict=True):
            scaled = product * scale
            if abs(scaled % 1.0 - 0.5) <= scaled * DOUBT:
                return None
        return self.template % tuple(products)


def split_number(text: str) -> tuple[str, str] | None:
    """A plain number and what follows it, such as its unit; None for anything that is read by itself.

    >>> split_number("4.82 dwt"), split_number("4.82"), split_number("4e3 g"), split_number("-4")
    (('4.82', ' dwt'), ('4.82', ''), None, None)
    """
    match = NUMBER.fullmatch(text)
    if match is None or EXPONENT.match(match[2]):
        return None
    return match[1], match[2]


def proportion(
    calculation: Calculation, columns: tuple[Column, ...], at_one: tuple[Any, Any], row: Callable[[list[str]], str]
) -> Proportion | None:
    """The proportion that inputs and result at 1 tell, with `row` writing cells as csv; None if it cannot be used."""
    inputs, result = at_one
    attribute, kind = next(
        (attribute, one.kind)
        for attribute, one in items(calculation.inputs).items()
        if one.name == calculation.proportional
    )
    if any(getattr(inputs, name) is not None for name in calculation.unless):
        return None
    base: Decimal = getattr(inputs, attribute)
    factors, scales, cells = [], [], []
    for column in columns:
        if not column.mass:
            cells.append(column.text(result).replace("%", "%%"))
        elif column.decimals is None:
            return None
        else:
            factors.append(float(column.value(result)))
            scales.append(float(10**column.decimals))
            cells.append(f"%.{column.decimals}f")
    # A hair below the bound, so that the bound itself is judged on the exact number.
    most = float(kind.most / base) * (1 - 1e-12)  # type: ignore[attr-defined]  # declared for quantities only
    return Proportion(tuple(factors), tuple(scales), row(cells), most)
