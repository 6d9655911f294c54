"""Query parameters and flat options as the nested input they stand for."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from alloyref.domain.calculation import Quantity, items
from alloyref.domain.errors import InvalidInput, Issue, unknown_field
from alloyref.domain.numbers import POINT
from alloyref.domain.units import unit_in
from alloyref.web.schemas.decimals import with_points
from alloyref.web.schemas.fields import TakenUnit

UNIT = "unit"
TO_UNIT = "to_unit"


def query_names(type_: type) -> tuple[str, ...]:
    """The query parameters of a declared input; a quantity also takes `NAME_unit`, the main one `unit`."""
    names: list[str] = []
    for one in items(type_).values():
        names.append(one.name)
        if isinstance(one.kind, Quantity):
            names.append(f"{one.name}_{UNIT}")
    return (*names, UNIT) if main_quantity(type_) is not None else tuple(names)


def main_quantity(type_: type) -> str | None:
    """The one required quantity, which a bare `unit` parameter belongs to."""
    required = [one.name for one in items(type_).values() if isinstance(one.kind, Quantity) and not one.optional]
    return required[0] if len(required) == 1 else None


def from_query(type_: type, given: Iterable[tuple[str, str]], mark: str = POINT) -> dict[str, Any]:
    """The input that query parameters stand for; repeated and unknown parameters are refused.

    Where the caller's decimal mark is a comma, numbers may have one: a cell joins its own figures into the address.
    """
    known = query_names(type_)
    data: dict[str, Any] = {}
    issues: list[Issue] = []
    for name, value in given:
        if name not in known:
            issues.append(unknown_field(name, known))
        elif name in data:
            issues.append(Issue("duplicate", f"{name} is given twice.", f"/{name}"))
        data[name] = value
    if issues:
        raise InvalidInput(*issues)
    return joined(type_, with_points(type_, data, mark))


def joined(type_: type, data: dict[str, Any]) -> dict[str, Any]:
    """The same input with every unit that stands apart put to its number; `data` itself is changed.

    Values may be texts, as in a query, or what JSON holds.
    """
    main = main_quantity(type_)
    _wanted_unit(data, main, {one.name for one in items(type_).values()})
    for one in items(type_).values():
        if isinstance(one.kind, Quantity):
            _join_unit(data, one.name, (f"{one.name}_{UNIT}", UNIT) if one.name == main else (f"{one.name}_{UNIT}",))
    return data


def _wanted_unit(data: dict[str, Any], main: str | None, names: set[str]) -> None:
    """A cell that gives pennyweights reads pennyweights: the unit that came in is the unit that goes out."""
    if main is None or TO_UNIT not in names or data.get(TO_UNIT) is not None:
        return
    unit = data.get(UNIT) or data.get(f"{main}_{UNIT}") or _unit_within(data.get(main))
    if unit:
        data[TO_UNIT] = TakenUnit(unit) if isinstance(unit, str) else unit


def _unit_within(value: Any) -> Any:
    """The unit that a quantity carries itself, as `4.82 dwt` or as an object."""
    if isinstance(value, str):
        return unit_in(value)
    return value.get(UNIT) if isinstance(value, dict) else None


def _join_unit(data: dict[str, Any], name: str, units: tuple[str, ...]) -> None:
    """Put a number and its unit together, if the unit was given apart."""
    given = [data.pop(unit) for unit in units if unit in data]
    if len(given) > 1:
        raise InvalidInput.of("duplicate", "The unit is given twice.", f"/{UNIT}")
    if given and name not in data:
        raise InvalidInput.of("missing", f"A unit is given, but no {name}.", f"/{name}")
    if given:
        data[name] = {"value": data[name], "unit": given[0]}
