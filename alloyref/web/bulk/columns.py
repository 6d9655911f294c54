"""The columns of a csv answer: which the head may name, and which the result adds."""

from __future__ import annotations

import typing
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from operator import attrgetter, itemgetter
from typing import Any

from alloyref.domain import calculation as declared
from alloyref.domain.calculation import Item, items
from alloyref.domain.errors import InvalidInput, Issue, unknown_field
from alloyref.domain.numbers import COMMA, POINT, STEPS, fraction_to_decimal
from alloyref.domain.provenance import Property
from alloyref.domain.units import BASE_UNIT, Dimension
from alloyref.web.bulk.form import ERROR, RESULT
from alloyref.web.csvtext import marked, safe, separator
from alloyref.web.schemas.query import query_names

MOST_COLUMNS = 100
HEADLINE = "/columns"


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a result: how its value is had, where it is rounded, and whether it is a mass."""

    name: str
    value: Callable[[Any], Any]
    decimals: int | None = None
    mass: bool = False

    def text(self, result: Any, mark: str = POINT) -> str:
        """The cell; a rounded number shows all its decimals, and the decimal mark asked for."""
        return cell(self.value(result), self.decimals, mark)


def cell(value: Any, decimals: int | None, mark: str = POINT) -> str:
    """A value as a cell: nothing for None, digits without an exponent for a number."""
    if value is None:
        return ""
    if decimals is not None:
        exact = (
            fraction_to_decimal(value, decimals) if isinstance(value, Fraction) else value.quantize(STEPS[decimals])
        )
        return format(exact, "f").replace(POINT, mark)
    if isinstance(value, Decimal):
        return marked(value, mark)
    if isinstance(value, bool):
        return "true" if value else "false"
    return safe_cell(str(value))


def safe_cell(text: str, mark: str = POINT) -> str:
    """A cell that no spreadsheet takes for a formula, as `safe` has it; a plain number stays as it is.

    >>> [safe_cell(one) for one in ("=1+1", "-1.5", "-1.5 g", "sterling")]
    ["'=1+1", '-1.5', "'-1.5 g", 'sterling']
    >>> safe_cell("-1,5"), safe_cell("-1,5", ",")
    ("'-1,5", '-1,5')
    """
    made = safe(text)
    if made == text:
        return text
    try:
        float(text if POINT in text else text.replace(mark, POINT))
    except ValueError:
        return made
    return text if text[-1].isdigit() and text.isascii() and "_" not in text else made


def result_columns(type_: type) -> tuple[Column, ...]:
    """The columns of a declared result. What is a list or a table of its own has none."""
    hints = typing.get_type_hints(type_)
    found: list[Column] = []
    for attribute, one in items(type_).items():
        found += _columns(attribute, one, hints[attribute])
    return tuple(found)


def _columns(attribute: str, one: Item, hint: Any) -> list[Column]:
    kind, name = one.kind, f"{RESULT}_{one.name}"
    if isinstance(kind, declared.Measured):
        return _measured(attribute, name, kind, {hint, *typing.get_args(hint)})
    if isinstance(kind, declared.Exact):
        is_mass = kind.dimension is Dimension.MASS
        return [
            Column(name, _of(attribute, itemgetter(0)), kind.decimals, is_mass),
            Column(f"{name}_unit", _of(attribute, itemgetter(1))),
        ]
    if isinstance(kind, (declared.ListOf, declared.MapOf, declared.Record, declared.TextList)):
        return []
    return [Column(name, _of(attribute, lambda value: value))]


def _measured(attribute: str, name: str, kind: declared.Measured, types: set[Any]) -> list[Column]:
    is_mass = kind.dimension is Dimension.MASS
    if Decimal in types:
        number = [Column(name, _of(attribute, lambda value: value), kind.decimals, is_mass)]
    else:
        number = [
            Column(name + suffix, _of(attribute, attrgetter(part)), kind.decimals, is_mass)
            for suffix, part in (("", "value"), ("_low", "low"), ("_high", "high"))
        ]
    if Property not in types:
        unit = BASE_UNIT[kind.dimension]
        return [*number, Column(f"{name}_unit", lambda result: unit)]
    words = [Column(f"{name}_{part}", _of(attribute, attrgetter(part))) for part in ("unit", "status", "source")]
    return [*number, *words]


def _of(attribute: str, part: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """A part of an attribute, or None where there is nothing."""

    def value(result: Any) -> Any:
        whole = getattr(result, attribute)
        return None if whole is None else part(whole)

    return value


def check_head(names: list[str], type_: type, keep: tuple[str, ...], mark: str = POINT) -> None:
    """Refuse a head with unknown, repeated, missing or too many columns; each issue points to `/columns`."""
    other = separator(COMMA if mark == POINT else POINT)
    if len(names) == 1 and other in names[0]:
        how = "with `decimal=,` they are parted by semicolons, without it by commas"
        raise InvalidInput.of("not-csv", f"The columns are parted by {other!r}; {how}.", HEADLINE)
    if len(names) > MOST_COLUMNS:
        raise InvalidInput.of("too-many", f"At most {MOST_COLUMNS} columns.", HEADLINE)
    known = query_names(type_)
    issues = [_unknown(name, known) for name in dict.fromkeys(names) if name not in (*known, *keep)]
    twice = [name for name in dict.fromkeys(names) if names.count(name) > 1]
    issues += [Issue("duplicate", f"The column {name[:40]!r} stands twice.", HEADLINE) for name in twice]
    needed = [one.name for one in items(type_).values() if not one.optional] + list(keep)
    issues += [
        Issue("missing", f"The column {name[:40]!r} is needed.", HEADLINE) for name in needed if name not in names
    ]
    if issues:
        raise InvalidInput(*issues)


def check_keep(keep: tuple[str, ...], type_: type) -> None:
    """Refuse to carry along what the calculation reads or the answer adds."""
    known = (*query_names(type_), RESULT, ERROR)
    for name in keep:
        if name in known or name.startswith(f"{RESULT}_") or not name:
            raise InvalidInput.of("contradiction", f"{name[:40]!r} cannot be a column of your own.", "/keep")


def _unknown(name: str, known: tuple[str, ...]) -> Issue:
    near = unknown_field(name, known)
    detail = f"{near.detail} A column of your own is carried along if `keep` names it."
    return Issue("unknown-field", detail, HEADLINE, near.suggestions)
