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
from alloyref.domain.numbers import POINT
from alloyref.web.bulk.columns import Column
from alloyref.web.csvtext import separator

DIGITS = r"[0-9]{1,9}(?:\.[0-9]{1,12})?"
# A number that a unit may follow; never one that goes on as a longer number would.
NUMBER = re.compile(rf"({DIGITS})((?: *[A-Za-z\[].*)?)", re.ASCII)
EXPONENT = re.compile(r" *[eE][+-]?[0-9]", re.ASCII)
# Four roundings of a double and some room; relative to the scaled number.
DOUBT = 4e-15


@dataclass(frozen=True, slots=True)
class Proportion:
    """The answer at 1, and the largest number it serves for.

    Each mass has a factor and its decimals; `between` is the csv before the first mass, between each two, and after
    the last, without the separators beside them, or None where nothing stands there.
    """

    factors: tuple[float, ...]
    decimals: tuple[int, ...]
    between: tuple[str | None, ...]
    most: float
    mark: str = POINT

    def rounded(self, number: str) -> list[str] | None:
        """The masses at this number, to their decimals, or None where the row must be asked by itself."""
        value = float(number)
        if not 0 < value <= self.most:
            return None
        cells = []
        for factor, decimals in zip(self.factors, self.decimals, strict=True):
            product = value * factor
            scaled = product * 10**decimals
            if abs(scaled % 1.0 - 0.5) <= scaled * DOUBT:
                return None
            cells.append(f"{product:.{decimals}f}")
        return cells

    def text(self, number: str) -> str | None:
        """The result cells at this number as csv, or None where the row must be asked by itself."""
        cells = self.rounded(number)
        if cells is None:
            return None
        parts = [self.between[0]]
        for cell, after in zip(cells, self.between[1:], strict=True):
            parts.append(cell if self.mark == POINT else cell.replace(POINT, self.mark))
            parts.append(after)
        return separator(self.mark).join([part for part in parts if part is not None])


def split_number(text: str, mark: str = POINT) -> tuple[str, str] | None:
    """A plain number, with a point, and what follows it, such as its unit; None for what is read by itself.

    >>> split_number("4.82 dwt"), split_number("4.82"), split_number("4e3 g"), split_number("-4")
    (('4.82', ' dwt'), ('4.82', ''), None, None)
    >>> split_number("4,82 dwt", ","), split_number("4,82")
    (('4.82', ' dwt'), None)
    """
    match = NUMBER.fullmatch(text if mark == POINT or POINT in text else text.replace(mark, POINT))
    if match is None or EXPONENT.match(match[2]):
        return None
    return match[1], match[2]


def most_of(calculation: Calculation, at_one: Any) -> float | None:
    """The largest number that is taken with inputs that are otherwise as these at 1; None if an input forbids it."""
    attribute, kind = next(
        (attribute, one.kind)
        for attribute, one in items(calculation.inputs).items()
        if one.name == calculation.proportional
    )
    if any(getattr(at_one, name) is not None for name in calculation.unless):
        return None
    base: Decimal = getattr(at_one, attribute)
    # A hair below the bound, so that the bound itself is judged on the exact number.
    return float(kind.most / base) * (1 - 1e-12)  # type: ignore[attr-defined]  # declared for quantities only


def proportion(
    calculation: Calculation,
    columns: tuple[Column, ...],
    at_one: tuple[Any, Any],
    row: Callable[[list[str]], str],
    mark: str = POINT,
) -> Proportion | None:
    """The proportion that inputs and result at 1 tell, with `row` writing cells as csv; None if it cannot be used."""
    inputs, result = at_one
    most = most_of(calculation, inputs)
    if most is None:
        return None
    factors: list[float] = []
    decimals: list[int] = []
    cells: list[list[str]] = [[]]
    for column in columns:
        if not column.mass:
            cells[-1].append(column.text(result, mark))
        elif column.decimals is None or column.value(result) is None:
            return None  # not in proportion, or not known
        else:
            factors.append(float(column.value(result)))
            decimals.append(column.decimals)
            cells.append([])
    cells[-1].append("")  # no error
    between = tuple(_joined(group, row, separator(mark)) for group in cells)
    return Proportion(tuple(factors), tuple(decimals), between, most, mark)


def _joined(cells: list[str], row: Callable[[list[str]], str], parted_by: str) -> str | None:
    """Cells as csv without a line end, an empty one without quotes; None for no cells."""
    if not cells:
        return None
    return row([*cells, ""]).removesuffix("\r\n").removesuffix(parted_by)
