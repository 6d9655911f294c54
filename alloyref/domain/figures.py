"""How figures are written for people, on a page and on a printed sheet alike; rounding was done before."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

from alloyref.domain.numbers import POINT, plain, round_to
from alloyref.domain.units import fahrenheit

MASS_DECIMALS = {"g": 2, "dwt": 2, "ozt": 4}
"""What a bench reads of a mass in each unit: its balance shows no more."""
OTHER_DECIMALS = 4
"""In any other unit that somebody asks in."""
UNIT_SIGNS = {"g/cm3": "g/cm³", "kg/m3": "kg/m³", "cm3": "cm³", "mm3": "mm³", "C": "°C", "permille": "‰"}
_CUBES = re.compile(r"\b(?:g/cm3|kg/m3|cm3|mm3)\b", re.ASCII)
# A decimal number within a text: no part of a name, of a version (0.1.0) or of an address.
_IN_TEXT = re.compile(r"(?<![\w./-])-?\d+\.\d+(?![\w/]|\.\d)", re.ASCII)


def number(value: Any) -> str:
    """A figure without needless zeros; a text as it is.

    >>> number(13.640), number(961.78), number("1.10"), number(0.07 * 100)
    ('13.64', '961.78', '1.10', '7')
    """
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def fixed(value: Any, decimals: int) -> str:
    """A figure with so many decimals, as columns have it.

    >>> fixed(13.6, 2)
    '13.60'
    """
    return f"{value:.{decimals}f}"


def mass_in(unit: str, value: Any, more: int = 0) -> str:
    """A mass as a bench reads it in a unit, or with so many decimals more.

    >>> mass_in("g", 6.307), mass_in("ozt", 0.20278)
    ('6.31', '0.2028')
    """
    return fixed(value, MASS_DECIMALS.get(unit, OTHER_DECIMALS) + more)


def asked(one: Mapping[str, Any]) -> Mapping[str, Any]:
    """A mass of an answer in the unit that it was asked in.

    >>> asked({"value": 5.9, "unit": "g", "in_unit": {"value": 3.8, "unit": "dwt"}})["unit"], asked({"unit": "g"})
    ('dwt', {'unit': 'g'})
    """
    found: Mapping[str, Any] = one.get("in_unit", one)
    return found


def as_asked(one: Mapping[str, Any]) -> str:
    """A mass with the unit that it was asked in.

    >>> as_asked({"value": 5.909660592, "unit": "g", "in_unit": {"value": 3.8, "unit": "dwt"}})
    '3.8 dwt'
    """
    return f"{number(asked(one)['value'])} {asked(one)['unit']}"


def mass_units(one: Mapping[str, Any]) -> tuple[str, ...]:
    """The units that masses are listed in: those of the bench, and the one that was asked in if it is another.

    >>> mass_units({"value": 11.66, "unit": "g", "in_unit": {"value": 1, "unit": "tola"}})
    ('g', 'dwt', 'ozt', 'tola')
    """
    return tuple(dict.fromkeys((*MASS_DECIMALS, asked(one)["unit"])))


def mass_cells(one: Mapping[str, Any], more: int = 0) -> tuple[str, ...]:
    """A mass in each of these units, as `mass_in` has it; empty where an answer does not say it.

    >>> mass_cells({"value": 5.9097, "unit": "g", "in_unit": {"value": 3.80002, "unit": "dwt"}})
    ('5.91', '3.80', '')
    """
    known = {one["unit"]: one["value"], asked(one)["unit"]: asked(one)["value"], **one.get("display", {})}
    return tuple(mass_in(unit, known[unit], more) if unit in known else "" for unit in mass_units(one))


def both_ways(one: Mapping[str, Any]) -> str:
    """A mass in g, and in the unit that it was asked in.

    >>> both_ways({"value": 5.9097, "unit": "g", "in_unit": {"value": 3.80002, "unit": "dwt"}})
    '5.91 g = 3.80 dwt'
    """
    shown = {one["unit"]: one["value"], asked(one)["unit"]: asked(one)["value"]}
    return " = ".join(f"{mass_in(unit, value)} {unit}" for unit, value in shown.items())


def mass_range(one: Mapping[str, Any]) -> str:
    """The range of a mass in the unit that it was asked in; empty if it has none.

    >>> mass_range({"value": 6.0, "unit": "g", "low": 5.9, "high": 6.1})
    '5.90 to 6.10'
    """
    shown = asked(one)
    return " to ".join(mass_in(shown["unit"], shown[end]) for end in ("low", "high")) if "low" in shown else ""


def unit_sign(symbol: str) -> str:
    """A unit as people write it.

    >>> unit_sign("g/cm3"), unit_sign("mm")
    ('g/cm³', 'mm')
    """
    return UNIT_SIGNS.get(symbol, symbol)


def with_signs(text: str) -> str:
    """A text whose cubes are written with their sign.

    >>> with_signs("0.135 g/cm3 off, a bubble of 1 mm3")
    '0.135 g/cm³ off, a bubble of 1 mm³'
    """
    return _CUBES.sub(lambda found: unit_sign(found.group()), text)


def figure(one: Mapping[str, Any], sign: Callable[[str], str] = unit_sign) -> str:
    """A value with its unit and its range; shares as percent.

    >>> figure({"value": 0.5, "low": 0.4, "high": 0.5, "unit": "1"})
    '50 % (40 to 50)'
    """
    scale, unit = (100, "%") if one["unit"] == "1" else (1, sign(one["unit"]))
    value, low, high = (number(float(one[key]) * scale) for key in ("value", "low", "high"))
    return f"{value} {unit}" + (f" ({low} to {high})" if low != high else "")


def degrees(low: Decimal, high: Decimal | None = None) -> str:
    """A temperature in C, or a range of them, with the same in whole degrees F.

    >>> degrees(Decimal(1000)), degrees(Decimal("870.9"), Decimal("930.9"))
    ('1000 C (1832 F)', '870.9 to 930.9 C (1600 to 1708 F)')
    """
    ends = [low] if high is None or high == low else [low, high]
    celsius, warm = (" to ".join(map(plain, part)) for part in (ends, [round_to(fahrenheit(one), 0) for one in ends]))
    return f"{celsius} C ({warm} F)"


def with_mark(text: str, mark: str) -> str:
    """A text whose decimal numbers have the reader's decimal mark.

    >>> with_mark("4.18 g (4.1 to 4.3), dataset 0.1.0", ",")
    '4,18 g (4,1 to 4,3), dataset 0.1.0'
    """
    return text if mark == POINT else _IN_TEXT.sub(lambda found: found.group().replace(POINT, mark), text)
