"""JSON rows that differ in one number only, answered from one run, as `proportion` answers rows of csv."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Any

import orjson

from alloyref.domain import calculation as declared
from alloyref.domain.calculation import Calculation, items
from alloyref.domain.estimate import Estimate
from alloyref.domain.figures import MASS_DECIMALS
from alloyref.domain.units import Dimension, Units
from alloyref.web.bulk.proportion import Proportion, most_of, split_number
from alloyref.web.schemas.write import DISPLAY, IN_UNIT, MOST_FLOAT_DIGITS, InUnit

SPOT = re.compile(r'"\\u0001(\d+)"')
"""A mass in the written result, by its place among the masses."""
VALUE = "value"
Document = dict[str, Any]
Mass = tuple[Document, str, Decimal | Fraction, int]
"""Where a mass stands in a document, and what it is rounded from, to which decimals."""


class NotPlain(Exception):
    """The result holds masses in a way that is not answered by proportion."""


def split_member(given: Document, name: str) -> tuple[str, Document] | None:
    """The number of a member, and the row with 1 in its place; None for what is read by itself.

    >>> split_member({"mass": "4.82 dwt", "metal": "Ag"}, "mass")
    ('4.82', {'mass': '1 dwt', 'metal': 'Ag'})
    >>> split_member({"mass": {"value": 5, "unit": "g"}}, "mass"), split_member({"mass": "4e3"}, "mass")
    (('5', {'mass': {'value': 1, 'unit': 'g'}}), None)
    """
    value = given.get(name)
    if isinstance(value, dict):
        if IN_UNIT in value:
            return None
        inner = split_member(value, VALUE)
        return None if inner is None else (inner[0], {**given, name: inner[1]})
    if isinstance(value, str):
        number = split_number(value)
        return None if number is None else (number[0], {**given, name: "1" + number[1]})
    if isinstance(value, (int, Decimal)) and (number := split_number(str(value))) is not None:
        return number[0], {**given, name: 1}
    return None


def json_proportion(
    calculation: Calculation, at_one: tuple[Any, Any], write: Callable[[Any], Document], units: Units
) -> Proportion | None:
    """The proportion that inputs and result at 1 tell; None if it cannot be used."""
    inputs, result = at_one
    most = most_of(calculation, inputs)
    if most is None:
        return None
    document = write(result)
    try:
        masses = list(_masses(calculation, result, document, units))
    except NotPlain:
        return None
    for place, (holder, name, _, _) in enumerate(masses):
        holder[name] = f"\x01{place}"
    parts = SPOT.split(orjson.dumps(document).decode())
    order = [masses[int(place)] for place in parts[1::2]]
    factors = tuple(float(exact) for _, _, exact, _ in order)
    return Proportion(factors, tuple(decimals for *_, decimals in order), tuple(parts[::2]), most)


def json_text(found: Proportion, number: str) -> str | None:
    """The result at this number as a single answer writes it, or None where the row must be asked by itself."""
    cells = found.rounded(number)
    if cells is None or max(map(len, cells), default=0) > MOST_FLOAT_DIGITS:
        return None
    parts = [str(found.between[0])]
    for cell, after in zip(cells, found.between[1:], strict=True):
        parts += (orjson.dumps(float(cell)).decode(), str(after))
    return "".join(parts)


def _masses(calculation: Calculation, result: Any, document: Document, units: Units) -> Iterator[Mass]:
    for attribute, one in items(calculation.result).items():
        kind, value, held = one.kind, getattr(result, attribute), document[one.name]
        if value is None:
            continue
        if isinstance(kind, declared.Measured) and kind.dimension is Dimension.MASS:
            yield from _measured(value, held, kind.decimals, units)
        elif isinstance(kind, declared.Exact) and kind.dimension is Dimension.MASS:
            if kind.decimals is None:
                raise NotPlain
            yield held, VALUE, value[0], kind.decimals
        elif isinstance(kind, (declared.ListOf, declared.MapOf, declared.Record)):
            raise NotPlain


def _measured(value: Any, held: Document, decimals: int, units: Units) -> Iterator[Mass]:
    whole = value.value if isinstance(value, Estimate) else value
    if not isinstance(whole, Decimal):
        raise NotPlain
    parts = {VALUE: whole}
    if isinstance(value, Estimate):
        parts |= {"low": value.low, "high": value.high}
    for name, part in parts.items():
        yield held, name, part, decimals
    for unit, shown in MASS_DECIMALS.items() if DISPLAY in held else ():
        yield held[DISPLAY], unit, whole / units.to_base(Decimal(1), unit, Dimension.MASS), shown
    if IN_UNIT in held:
        asked = InUnit(held[IN_UNIT]["unit"], units)
        for name, part in parts.items():
            yield held[IN_UNIT], name, part / asked.grams, asked.decimals(decimals)
