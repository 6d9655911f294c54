"""Ring sizes: each system is a straight line from its number to an inside diameter or circumference."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from alloyref.domain.errors import InvalidInput
from alloyref.domain.numbers import EXACT, PI, fraction_to_decimal
from alloyref.domain.provenance import Property


class Measure(StrEnum):
    """What a size system measures, in mm."""

    DIAMETER = "diameter"
    CIRCUMFERENCE = "circumference"


@dataclass(frozen=True, slots=True)
class RingSystem:
    """A size system: inside `measure` in mm = zero + step x number.

    `letters` if sizes are written as letters; `rule` says it in words.
    """

    name: str
    measure: Measure
    zero: Fraction
    step: Fraction
    rule: str
    letters: bool = False

    def extent(self, number: Fraction) -> Fraction:
        """The inside diameter or circumference, whichever the system measures, in mm."""
        return self.zero + self.step * number

    def number(self, extent: Fraction) -> Fraction:
        """The number whose inside diameter or circumference is `extent` mm."""
        return (extent - self.zero) / self.step


_DIAMETER, _CIRCUMFERENCE = Measure.DIAMETER, Measure.CIRCUMFERENCE
SYSTEMS = {
    one.name: one
    for one in (
        RingSystem(
            "US",
            _DIAMETER,
            Fraction("11.6332"),
            Fraction("0.8128"),
            "diameter 0.458 + 0.032 n inch; other rules differ by up to a fifth of a size",
        ),
        RingSystem(
            "UK", _CIRCUMFERENCE, Fraction("37.5"), Fraction("1.25"), "circumference 37.5 + 1.25 k mm, A = 0", True
        ),
        RingSystem("ISO", _CIRCUMFERENCE, Fraction(0), Fraction(1), "circumference in mm"),
        RingSystem("Japan", _DIAMETER, Fraction(38, 3), Fraction(1, 3), "diameter (38 + n)/3 mm"),
        RingSystem("continental", _CIRCUMFERENCE, Fraction(40), Fraction(1), "circumference less 40 mm"),
    )
}
"""US and Canada; UK letters; ISO 8653; Japan; Switzerland, Italy, Spain, Netherlands."""
MEASURED = {
    one.name: one
    for one in (
        RingSystem("diameter-mm", _DIAMETER, Fraction(0), Fraction(1), "inside diameter as measured"),
        RingSystem("circumference-mm", _CIRCUMFERENCE, Fraction(0), Fraction(1), "inside circumference as measured"),
    )
}
GIVEN_SYSTEMS = {**SYSTEMS, **MEASURED}
"""Everything a size may be given in."""
LEAST_DIAMETER, MOST_DIAMETER = Decimal(8), Decimal(40)
"""In mm: from a baby's ring to beyond a thumb's; outside it something slipped."""

_LAST_LETTER = ord("Z") - ord("A")
_FRACTIONS = {"¼": "1/4", "½": "1/2", "¾": "3/4"}
_NUMBER = re.compile(r"(\d{1,3}(?:\.\d{1,6})?)(?:[ -]?(\d)/([1-9]))?", re.ASCII)
_LETTER = re.compile(r"([A-Z])(?:\+(\d))?(?:\s*([1-3])/([24]))?", re.ASCII)


@dataclass(frozen=True, slots=True)
class RingSize:
    """One size of one system: inside diameter and circumference in mm."""

    system: str
    size: str
    diameter: Property
    circumference: Property

    @property
    def id(self) -> str:
        """System and size."""
        return f"{self.system} {self.size}"


def size_number(system: RingSystem, size: str) -> Fraction:
    """The number of a size as written: `7`, `7.25`, `7 1/4` or `7¼`; letters as `N`, `N 1/2`, `Z+1`.

    Raises `InvalidInput` if it is not a size of that system.

    >>> size_number(SYSTEMS["US"], "7 1/4"), size_number(SYSTEMS["UK"], "N½"), size_number(SYSTEMS["UK"], "Z+1")
    (Fraction(29, 4), Fraction(27, 2), Fraction(26, 1))
    """
    text = size.strip()
    for sign, meant in _FRACTIONS.items():
        text = text.replace(sign, f" {meant}")
    text = " ".join(text.split())
    if system.letters:
        return _letter_number(text, size)
    match = _NUMBER.fullmatch(text)
    if match is None or (match[2] and "." in match[1]):
        raise InvalidInput.of(
            "not-a-ring-size", f"{size[:20]!r} is not a size in {system.name}: write 7, 7.25 or 7 1/4."
        )
    return Fraction(match[1]) + (Fraction(int(match[2]), int(match[3])) if match[2] else 0)


def _letter_number(text: str, size: str) -> Fraction:
    match = _LETTER.fullmatch(text.upper())
    if match is None or (match[2] and match[1] != "Z"):
        raise InvalidInput.of(
            "not-a-ring-size", f"{size[:20]!r} is not a UK size: write a letter, N, N 1/2 or Z+1.", "", ("N", "N 1/2")
        )
    whole = ord(match[1]) - ord("A") + int(match[2] or 0)
    return whole + (Fraction(int(match[3]), int(match[4])) if match[3] else Fraction(0))


def size_text(system: RingSystem, number: Fraction) -> str:
    """A number as its system writes it; letters with quarters, halves and three quarters.

    >>> size_text(SYSTEMS["UK"], Fraction(53, 2)), size_text(SYSTEMS["US"], Fraction(29, 4))
    ('Z+1 1/2', '7.25')
    """
    if not system.letters:
        return f"{fraction_to_decimal(number, None):f}"
    whole, rest = divmod(number, 1)
    beyond = int(whole) - _LAST_LETTER
    letter = f"Z+{beyond}" if beyond > 0 else chr(ord("A") + int(whole))
    return f"{letter} {rest}" if rest else letter


def diameter_of(system: RingSystem, number: Fraction) -> Decimal:
    """Inside diameter in mm of a size.

    >>> round(diameter_of(SYSTEMS["UK"], Fraction(2)), 4)
    Decimal('12.7324')
    """
    extent = fraction_to_decimal(system.extent(number), 30)
    return extent if system.measure is Measure.DIAMETER else EXACT.divide(extent, PI)


def circumference_of(system: RingSystem, number: Fraction) -> Decimal:
    """Inside circumference in mm of a size.

    >>> round(circumference_of(SYSTEMS["US"], Fraction(7)), 4)
    Decimal('54.4212')
    """
    extent = fraction_to_decimal(system.extent(number), 30)
    return extent if system.measure is Measure.CIRCUMFERENCE else EXACT.multiply(extent, PI)


@dataclass(frozen=True, slots=True)
class Inside:
    """The inside of a ring in mm, and the number of its size in the system it was given in."""

    system: RingSystem
    number: Fraction
    diameter: Decimal
    circumference: Decimal

    def number_in(self, system: RingSystem) -> Fraction:
        """The exact number of the same ring in another system."""
        if system.measure is self.system.measure:
            return system.number(self.system.extent(self.number))
        extent = self.diameter if system.measure is Measure.DIAMETER else self.circumference
        return system.number(Fraction(extent))


def inside_of(system_name: str, size: str, place: str = "/size") -> Inside:
    """The inside of a ring of that size; `InvalidInput` at `place` if there is no such size or ring.

    >>> round(inside_of("Japan", "13").diameter, 4)
    Decimal('17.0000')
    """
    system = GIVEN_SYSTEMS[system_name]
    try:
        number = size_number(system, size.removesuffix("mm") if system_name in MEASURED else size)
    except InvalidInput as error:
        raise InvalidInput(*(issue.under(place) for issue in error.issues)) from None
    diameter = diameter_of(system, number)
    if not LEAST_DIAMETER <= diameter <= MOST_DIAMETER:
        detail = f"{size[:20]!r} in {system_name} is {diameter:.2f} mm inside: rings are 8 to 40."
        raise InvalidInput.of("out-of-range", detail, place)
    return Inside(system, number, diameter, circumference_of(system, number))


def nearest_size(inside: Inside, system: RingSystem, sizes: Iterable[RingSize]) -> RingSize | None:
    """The size of a system's table whose circumference is nearest; none beyond half a step from its ends."""
    table = [one for one in sizes if one.system == system.name]
    half = (table[1].circumference.value - table[0].circumference.value) / 2
    if not table[0].circumference.value - half <= inside.circumference <= table[-1].circumference.value + half:
        return None
    return min(table, key=lambda one: abs(one.circumference.value - inside.circumference))
