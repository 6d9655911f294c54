"""Which of many optional inputs a question needs: what is missing and what is too much is refused by name."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import Any, TypeVar

from alloyref.domain.calculation import items
from alloyref.domain.errors import InvalidInput, Issue

Value = TypeVar("Value")


def given(inputs: Any, names: Iterable[str]) -> tuple[str, ...]:
    """Those of the fields that were given."""
    return tuple(name for name in names if getattr(inputs, name) is not None)


def require(inputs: Any, needed: Collection[str], allowed: Collection[str], what: str) -> None:
    """Refuse inputs that lack a needed field or hold one that `what` has no use for (`InvalidInput`, each by name).

    Only fields whose default is None are looked at: the others are always there.
    """
    issues = list(_issues(inputs, needed, allowed, what))
    if issues:
        raise InvalidInput(*issues)


def _issues(inputs: Any, needed: Collection[str], allowed: Collection[str], what: str) -> Iterator[Issue]:
    declared: type = type(inputs)
    for name, one in items(declared).items():
        there = getattr(inputs, name) is not None
        if name in needed and not there:
            yield Issue("missing", f"{what} needs this.", f"/{one.name}")
        if there and one.optional and one.default is None and name not in needed and name not in allowed:
            takes = ", ".join((*needed, *allowed)) or "nothing"
            yield Issue("not-needed", f"{what} has no {one.name}; it takes: {takes}.", f"/{one.name}")


def require_one(inputs: Any, names: tuple[str, ...], what: str) -> str:
    """The one of the fields that is given; `InvalidInput` if there is none or more than one."""
    there = given(inputs, names)
    if not there:
        raise InvalidInput.of("missing", f"{what}: give one of {', '.join(names)}.", "", names)
    if len(there) > 1:
        detail = f"{what}: give only one of {', '.join(names)}."
        raise InvalidInput(*(Issue("too-many", detail, f"/{name}", names) for name in there[1:]))
    return there[0]


def there(value: Value | None) -> Value:
    """A value that `require` has made sure of.

    >>> there(0)
    0
    """
    if value is None:
        raise LookupError("a needed input was not asked for")
    return value
