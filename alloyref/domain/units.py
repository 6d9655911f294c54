"""Units of measure: one pint registry, built once, from which exact factors are taken.

Arithmetic then runs on plain numbers in the base units (g, cm3, mm, g/cm3, C, fraction of one); a
conversion between defined units is exact, because every factor is a ratio of whole numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Context, Decimal
from enum import StrEnum
from fractions import Fraction

import pint

from alloyref.domain.errors import InvalidInput, Issue, did_you_mean, nearest
from alloyref.domain.numbers import (
    DECIMAL_TEXT,
    EXACT,
    about_comma,
    fraction_to_decimal,
    parse_decimal,
    plain,
    with_decimals,
)
from alloyref.domain.provenance import Status
from alloyref.domain.typed import Typed, same_amount


class Dimension(StrEnum):
    """What a quantity measures."""

    MASS = "mass"
    VOLUME = "volume"
    LENGTH = "length"
    DENSITY = "density"
    TEMPERATURE = "temperature"
    PURITY = "purity"
    RATIO = "ratio"


BASE_UNIT = {
    Dimension.MASS: "g",
    Dimension.VOLUME: "cm3",
    Dimension.LENGTH: "mm",
    Dimension.DENSITY: "g/cm3",
    Dimension.TEMPERATURE: "C",
    Dimension.PURITY: "fraction",
    Dimension.RATIO: "1",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as the table defines it; `factor` is its exact multiple of the base unit of its dimension."""

    symbol: str
    name: str
    dimension: Dimension
    factor: Fraction
    ucum: str
    aliases: tuple[str, ...]
    status: Status
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class AmbiguousName:
    """A name that could mean more than one unit, and is therefore refused with the candidates named."""

    name: str
    dimension: Dimension
    candidates: tuple[str, ...]
    why: str


# The blank registry knows nothing that the units table does not define.
_BASES = (
    "g = [mass]",
    "mm = [length]",
    "K = [temperature]",
    "C = K; offset: 273.15",
    "F = 5/9 * K; offset: 233.15 + 200/9",
    "cm3 = 1000 * mm ** 3",
    "m3 = 1000000 * cm3",
    "one = []",
)
_PINT_BASE = {
    Dimension.MASS: "g",
    Dimension.VOLUME: "cm3",
    Dimension.LENGTH: "mm",
    Dimension.TEMPERATURE: "K",
    Dimension.RATIO: "one",
    Dimension.PURITY: "one",
}
FEW_DIGITS = Context(prec=9)
STONE_UNITS = ("ct", "point", "pearl_grain", "carat_old_english")
"""What weighs stones and pearls only: of a metal, 14 ct is how fine it is."""
_TWO_UNITS = re.compile(
    rf"\s*({DECIMAL_TEXT})\s*([A-Za-z][A-Za-z ]*?)[ ,]+({DECIMAL_TEXT})\s*([A-Za-z][A-Za-z ]*?)\s*", re.ASCII
)
_QUANTITY = re.compile(rf"\s*({DECIMAL_TEXT})\s*(\S.*?)?\.?\s*", re.ASCII | re.DOTALL)


def build_registry(units: Iterable[Unit]) -> pint.UnitRegistry:
    """The one pint registry, holding exactly the units of the table, in exact fractions.

    Compound units (`lb/in3`) are left for pint to derive from their parts, which checks their printed factor.
    """
    registry = pint.UnitRegistry(None, non_int_type=Fraction)
    for line in _BASES:
        registry.define(line)
    defined = {line.split(" ")[0] for line in _BASES}
    for unit in units:
        name = pint_name(unit.symbol)
        if "/" in unit.symbol or name in defined or unit.dimension not in _PINT_BASE:
            continue
        defined.add(name)
        registry.define(f"{name} = {unit.factor} * {_PINT_BASE[unit.dimension]}")
    return registry


def pint_name(symbol: str) -> str:
    """The name of a unit inside the registry, where a bare number or the keyword `in` cannot stand."""
    if "/" in symbol:
        return " / ".join(pint_name(part) for part in symbol.split("/"))
    return {"1": "one", "in": "inch_", "lb": "lb_av"}.get(symbol, symbol)


def fahrenheit(celsius: Decimal) -> Decimal:
    """A temperature in degrees Fahrenheit, exactly.

    >>> fahrenheit(Decimal(1000)), fahrenheit(Decimal(-40))
    (Decimal('1832'), Decimal('-40'))
    """
    return celsius * 9 / 5 + 32


class Units:
    """All known units by every name they answer to.

    >>> gram = Unit("g", "gram", Dimension.MASS, Fraction(1), "g", (), Status.STANDARD, "si", "")
    >>> dwt = Unit("dwt", "pennyweight", Dimension.MASS, Fraction("1.55517384"), "", (), Status.STANDARD, "x", "")
    >>> Units([gram, dwt], []).to_base(Decimal(2), "dwt", Dimension.MASS)
    Decimal('3.11034768')
    """

    def __init__(self, units: Iterable[Unit], ambiguous: Iterable[AmbiguousName]) -> None:
        self.all = tuple(units)
        self.registry = build_registry(self.all)
        self._by_name: dict[Dimension, dict[str, Unit]] = {dimension: {} for dimension in Dimension}
        self._ambiguous: dict[Dimension, dict[str, AmbiguousName]] = {dimension: {} for dimension in Dimension}
        self._in_any_case: dict[Dimension, dict[str, set[str]]] = {dimension: {} for dimension in Dimension}
        self._factor: dict[tuple[Dimension, str], Fraction] = {}
        self._decimal: dict[tuple[Dimension, str], Decimal] = {}
        for unit in self.all:
            for name in (unit.symbol, unit.ucum, *unit.aliases):
                if name:
                    self._by_name[unit.dimension].setdefault(name, unit)
                    self._in_any_case[unit.dimension].setdefault(name.casefold(), set()).add(unit.symbol)
            self._take_factor(unit)
        for unclear in ambiguous:
            self._ambiguous[unclear.dimension].setdefault(unclear.name.casefold(), unclear)

    def _take_factor(self, unit: Unit) -> None:
        """Ask pint once for the exact factor to the base unit, and keep it as fraction and, if it ends, decimal."""
        if unit.dimension is Dimension.TEMPERATURE:
            return
        base = pint_name(BASE_UNIT[unit.dimension]) if unit.dimension is not Dimension.PURITY else "one"
        asked = self.registry.Quantity(Fraction(1), pint_name(unit.symbol) if unit.symbol != "fraction" else "one")
        factor = Fraction(asked.to(base).magnitude)
        self._factor[unit.dimension, unit.symbol] = factor
        exact = EXACT.divide(Decimal(factor.numerator), Decimal(factor.denominator))
        if Fraction(exact) == factor:
            self._decimal[unit.dimension, unit.symbol] = exact

    def __iter__(self) -> Iterator[Unit]:
        return iter(self.all)

    def names(self, dimension: Dimension, stones: bool = True) -> tuple[str, ...]:
        """Every name a unit of this dimension answers to; not those that weigh stones only, unless `stones`."""
        known = self._by_name[dimension].items()
        return tuple(name for name, unit in known if stones or unit.symbol not in STONE_UNITS)

    def symbols(self, dimension: Dimension) -> tuple[str, ...]:
        """The symbols of this dimension, in table order."""
        return tuple(unit.symbol for unit in self.all if unit.dimension is dimension)

    def factor(self, unit: Unit) -> Fraction:
        """The exact multiple of the base unit, as pint derives it."""
        return self._factor[unit.dimension, unit.symbol]

    def find(self, name: str, dimension: Dimension) -> Unit:
        """The unit of that name, or `InvalidInput` that teaches: ambiguous, of another dimension, or unknown.

        Capital and small letters make no difference where only one unit can be meant.
        """
        known = self._by_name[dimension]
        unit = known.get(name)
        if unit is not None:
            return unit
        folded = name.casefold()
        symbols = self._in_any_case[dimension].get(folded, ())
        if len(symbols) != 1 or folded in self._ambiguous[dimension]:
            raise InvalidInput(self._refusal(name, dimension))
        return known[next(iter(symbols))]

    def _refusal(self, name: str, dimension: Dimension) -> Issue:
        shown = repr(name[:40])
        unclear = self._ambiguous[dimension].get(name.casefold())
        if unclear is not None:
            return Issue("unit-ambiguous", f"{shown} is not taken: {unclear.why}", "", unclear.candidates)
        for other, known in self._by_name.items():
            if name in known or name.casefold() in self._in_any_case[other]:
                detail = f"{shown} is a unit of {other.value}; a unit of {dimension.value} is needed here."
                return Issue("unit-dimension", detail, "", self.symbols(dimension)[:4])
        near = nearest(name, self._by_name[dimension])
        usual = self.symbols(dimension)[:4]
        closing = did_you_mean(near) or f" Known are {', '.join(usual)}, for example."
        return Issue(
            "unit-unknown", f"{shown} is not a unit of {dimension.value} known here.{closing}", "", near or usual
        )

    def typed(self, number: Decimal, name: str, dimension: Dimension, stones: bool = True) -> Typed:
        """The quantity with that number and unit; a mass of metal (not `stones`) is refused in carats and points."""
        unit = self.find(name, dimension)
        base = self.to_base(number, unit.symbol, dimension)
        if not stones and dimension is Dimension.MASS and unit.symbol in STONE_UNITS:
            raise InvalidInput(_weighs_stones(number, name, base))
        return Typed(base, number, unit.symbol)

    def is_round(self, base: Decimal, name: str, dimension: Dimension) -> bool:
        """Whether a quantity in the base unit is a number of few digits in that unit, as people type it."""
        inside = EXACT.divide(base, self.to_base(Decimal(1), name, dimension))
        return same_amount(FEW_DIGITS.plus(inside), inside)

    def to_base(self, value: Decimal, name: str, dimension: Dimension) -> Decimal:
        """The value in the base unit of its dimension; exact where the unit's factor is an ending decimal."""
        unit = self.find(name, dimension)
        if dimension is Dimension.TEMPERATURE:
            celsius = self._celsius(Fraction(value), unit)
            return EXACT.divide(Decimal(celsius.numerator), Decimal(celsius.denominator))
        factor = self._decimal.get((dimension, unit.symbol))
        if factor is not None:
            return EXACT.multiply(value, factor)
        exact = Fraction(value) * self._factor[dimension, unit.symbol]
        return EXACT.divide(Decimal(exact.numerator), Decimal(exact.denominator))

    def _together(self, two: re.Match[str]) -> tuple[Decimal, str]:
        """A mass in two units as a number of the first; `InvalidInput` if it does not end as a decimal."""
        more = self.convert(parse_decimal(two[3]), two[4], two[2], Dimension.MASS)
        exact = fraction_to_decimal(more, None)
        if Fraction(exact) != more:
            raise InvalidInput.of("not-a-quantity", f"{two[0][:40]!r}: write the mass in one unit.")
        return parse_decimal(two[1]) + exact, two[2]

    def convert(self, value: Decimal | Fraction, from_: str, to: str, dimension: Dimension) -> Fraction:
        """The value in another unit, exactly.

        Converting back gives the very same number, for every pair of units.
        """
        source, target = self.find(from_, dimension), self.find(to, dimension)
        if dimension is Dimension.TEMPERATURE:
            return self._from_celsius(self._celsius(Fraction(value), source), target)
        return Fraction(value) * self.factor(source) / self.factor(target)

    def _celsius(self, value: Fraction, unit: Unit) -> Fraction:
        return Fraction(self.registry.Quantity(value, unit.symbol).to("C").magnitude)

    def _from_celsius(self, value: Fraction, unit: Unit) -> Fraction:
        return Fraction(self.registry.Quantity(value, "C").to(unit.symbol).magnitude)

    def parse(self, text: str, dimension: Dimension) -> Decimal:
        """Read `"4.82 dwt"` as a number in the base unit. A missing unit is refused."""
        number, name = self.split(text, dimension)
        return self.to_base(number, name, dimension)

    def split(self, text: str, dimension: Dimension) -> tuple[Decimal, str]:
        """Read `"4.82 dwt"` as its number and the name of its unit, not yet looked up.

        Also `4 1/2 dwt`, and a mass in two units such as `3 dwt 12 grains`, which is told in the first.
        """
        text = with_decimals(text)
        two = _TWO_UNITS.fullmatch(text) if dimension is Dimension.MASS else None
        if two is not None:
            return self._together(two)
        match = _QUANTITY.fullmatch(text)
        if match is None:
            raise InvalidInput.of(
                "not-a-quantity", f"{text[:40]!r} is not a number followed by a unit, such as '4.82 dwt'."
            )
        number, name = match.groups()
        if name is not None and name.startswith(","):
            raise InvalidInput.of(
                "not-a-quantity", f"{text[:40]!r} is not a number with its unit.{about_comma(text)}"
            )
        if name is None:
            usual = self.symbols(dimension)[:4]
            detail = f"{text[:40]!r} has no unit; write it after the number: {', '.join(usual)} or another."
            raise InvalidInput.of("unit-missing", detail, suggestions=usual)
        return parse_decimal(number), name


def unit_in(text: str) -> str:
    """The name of the unit in a quantity that is written as text; empty if there is none.

    >>> unit_in("4.82 dwt"), unit_in("4.82dwt"), unit_in("4.82")
    ('dwt', 'dwt', '')
    """
    text = with_decimals(text)
    two = _TWO_UNITS.fullmatch(text)
    match = _QUANTITY.fullmatch(text)
    return two[2] if two else match[2] or "" if match else ""


def _weighs_stones(number: Decimal, name: str, grams: Decimal) -> Issue:
    """Why a mass of metal is not taken in a unit of stones, with what it would be."""
    detail = (
        f"{name!r} weighs stones and pearls, not metal: {plain(number)} {name} would be {grams:.6g} g, but ct of a "
        "metal is read as its fineness in karat. Write the mass in g, dwt or ozt."
    )
    return Issue("unit-ambiguous", detail, "", ("g", "dwt", "ozt"))
