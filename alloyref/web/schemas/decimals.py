"""Decimal commas in input: each declared number with a point, whatever mark it was written with. No Flask here."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from alloyref.domain.calculation import (
    AssayOf,
    CompositionOf,
    FinenessOf,
    Kind,
    ListOf,
    MarkName,
    MetalName,
    Number,
    Permille,
    Quantity,
    Record,
    Share,
    Text,
    items,
)
from alloyref.domain.errors import AlloyrefError, InvalidInput, Issue, pointer_token
from alloyref.domain.numbers import POINT, point_for_comma
from alloyref.web.schemas.served import WORDS

NUMBERS = (FinenessOf, MarkName, Number, Permille, Quantity, Share)
"""What is written as a number, with or without a unit beside it."""
MAPS = (AssayOf, CompositionOf, MetalName)
"""What may be an object of numbers. As one line of text they part commas themselves."""
TEXTS = ("id", "name", *WORDS)
"""What is words in them, as an answer shows it, and may begin with a number."""
Reader = Callable[[str], str]


def with_points(type_: type, data: Any, mark: str) -> Any:
    """The input with decimal points; `mark` is how it was written, as `point_for_comma` has it.

    What is ambiguous is refused (`InvalidInput`), each with its pointer. What is not declared is left alone.
    """
    if mark == POINT:
        return data
    issues: list[Issue] = []
    read = _record(type_, data, partial(point_for_comma, mark=mark), "", issues)
    if issues:
        raise InvalidInput(*issues)
    return read


def _record(type_: type, data: Any, reader: Reader, pointer: str, issues: list[Issue]) -> Any:
    if not isinstance(data, Mapping):
        return data
    declared = {one.name: one for one in items(type_).values()}
    return {
        name: _value(declared[name].kind, value, reader, f"{pointer}/{name}", issues) if name in declared else value
        for name, value in data.items()
    }


def _value(kind: Kind, value: Any, reader: Reader, pointer: str, issues: list[Issue]) -> Any:
    if isinstance(kind, Record):
        return _object(kind, value, reader, pointer, issues)
    if isinstance(kind, ListOf) and isinstance(value, (list, tuple)):
        return [_object(kind.record, one, reader, f"{pointer}/{row}", issues) for row, one in enumerate(value)]
    if is_number(kind):
        return _number(value, reader, pointer, issues)
    if isinstance(kind, MAPS) and isinstance(value, Mapping):
        return _numbers(value, reader, pointer, issues)
    return value


def _object(kind: Record, value: Any, reader: Reader, pointer: str, issues: list[Issue]) -> Any:
    if isinstance(value, Mapping) or kind.shorthand is None:
        return _record(kind.type, value, reader, pointer, issues)
    short = next(one for one in items(kind.type).values() if one.name == kind.shorthand)
    return _value(short.kind, value, reader, pointer, issues)


def is_number(kind: Kind) -> bool:
    """Whether it is written as a number, as some ring sizes are."""
    return isinstance(kind, NUMBERS) or (isinstance(kind, Text) and kind.digits)


def _number(value: Any, reader: Reader, pointer: str, issues: list[Issue]) -> Any:
    if isinstance(value, Mapping):
        number = {name: inner for name, inner in value.items() if name == "value"}
        return {**value, **_numbers(number, reader, pointer, issues)}
    if not isinstance(value, str):
        return value
    try:
        return reader(value)
    except AlloyrefError as error:
        issues.extend(issue.under(pointer) for issue in error.issues)
        return value


def _numbers(value: Mapping[str, Any], reader: Reader, pointer: str, issues: list[Issue]) -> dict[str, Any]:
    """An object of numbers: a density, an assay, a composition within an object; what is words in it stays."""
    return {
        name: inner
        if name in TEXTS
        else _numbers(inner, reader, f"{pointer}/{pointer_token(name)}", issues)
        if isinstance(inner, Mapping) and name != "value"
        else _number(inner, reader, f"{pointer}/{pointer_token(name)}", issues)
        for name, inner in value.items()
    }
