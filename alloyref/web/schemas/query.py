"""Query parameters and flat options as the nested input they stand for."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from alloyref.domain.calculation import Quantity, items
from alloyref.domain.errors import Issue, InvalidInput
from alloyref.web.schemas.fields import unknown_field

UNIT = "unit"


def query_names(type_: type) -> dict[str, Any]:
    """The query parameters of a declared input: name to kind; quantities also take `NAME_unit`, or `unit` if alone."""
    names: dict[str, Any] = {}
    for one in items(type_).values():
        names[one.name] = one.kind
        if isinstance(one.kind, Quantity):
            names[f"{one.name}_{UNIT}"] = None
    if main_quantity(type_) is not None:
        names[UNIT] = None
    return names


def main_quantity(type_: type) -> str | None:
    """The one required quantity, which a bare `unit` parameter belongs to."""
    required = [one.name for one in items(type_).values() if isinstance(one.kind, Quantity) and not one.optional]
    return required[0] if len(required) == 1 else None


def from_query(type_: type, given: Iterable[tuple[str, str]]) -> dict[str, Any]:
    """The input that query parameters stand for; repeated and unknown parameters are refused."""
    known = query_names(type_)
    data: dict[str, Any] = {}
    issues: list[Issue] = []
    for name, value in given:
        if name not in known:
            issues.append(unknown_field(name, tuple(known)))
        elif name in data:
            issues.append(Issue("duplicate", f"{name} is given twice.", f"/{name}"))
        data[name] = value
    if issues:
        raise InvalidInput(*issues)
    main = main_quantity(type_)
    for one in items(type_).values():
        if isinstance(one.kind, Quantity):
            unit = data.pop(f"{one.name}_{UNIT}", None)
            if unit is None and one.name == main:
                unit = data.pop(UNIT, None)
            if unit is not None and one.name in data:
                data[one.name] = {"value": data[one.name], "unit": unit}
            elif unit is not None:
                raise InvalidInput.of("missing", f"A unit is given, but no {one.name}.", f"/{one.name}")
    if UNIT in data and UNIT not in {one.name for one in items(type_).values()}:
        raise InvalidInput.of("duplicate", "The unit is given twice.", "/unit")
    return data
