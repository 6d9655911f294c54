"""A form as the nested input it stands for: each field is named by the JSON pointer (RFC 6901) of its value.

So an issue of the core, which carries a pointer, finds its field by itself, and a form is filled again from
the input it stood for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from alloyref.domain.calculation import (
    AssayOf,
    Choice,
    Flag,
    Item,
    ListOf,
    MaterialName,
    MetalName,
    Record,
    Text,
    Whole,
    items,
)
from alloyref.domain.errors import InvalidInput, Issue
from alloyref.domain.numbers import EITHER

MOST_DEPTH = 6
MOST_FIELDS = 2000
MOST_ROWS = 100
ROW_DIGITS = 4
WIDGETS = {MetalName: "metal", MaterialName: "material", Flag: "flag", Whole: "whole"}


@dataclass(frozen=True, slots=True)
class Place:
    """A field of a form: where its value stands in the input, and what people call it."""

    pointer: str
    label: str


@dataclass(frozen=True, slots=True)
class Part:
    """A group of fields; with `rows`, a list of such. A folded part opens when it says something."""

    title: str
    places: tuple[Place, ...]
    lead: str = ""
    rows: str = ""
    folded: bool = False


def nested(fields: Iterable[tuple[str, str]]) -> dict[str, Any]:
    """The input that a form's fields stand for. Blank fields say nothing; blank rows of a list close up.

    >>> nested([("/trial/mass", "6.31 g"), ("/on_hand/1/mass", "3 g"), ("/on_hand/0/mass", " "), ("/name", "")])
    {'trial': {'mass': '6.31 g'}, 'on_hand': [{'mass': '3 g'}]}
    """
    tree: dict[str, Any] = {}
    for count, (pointer, value) in enumerate(fields):
        if count >= MOST_FIELDS:
            raise InvalidInput.of("too-many", f"The form has more than {MOST_FIELDS} fields.")
        if pointer.startswith("/") and value.strip():
            _put(tree, pointer[1:].split("/"), value.strip())
    closed = _closed(tree)
    return closed if isinstance(closed, dict) else {}


def _put(tree: dict[str, Any], tokens: list[str], value: str) -> None:
    if len(tokens) > MOST_DEPTH:
        raise InvalidInput.of("too-deep", "A field of the form is nested too deep.")
    for token in tokens[:-1]:
        inner = tree.setdefault(token, {})
        if not isinstance(inner, dict):
            raise _clash(tokens)
        tree = inner
    if tokens[-1] in tree:
        raise _clash(tokens)
    tree[tokens[-1]] = value


def _clash(tokens: list[str]) -> InvalidInput:
    pointer = "/" + "/".join(tokens)
    return InvalidInput.of("duplicate", f"{pointer[:80]} is given twice, or both as a value and in parts.", pointer)


def _closed(tree: Any) -> Any:
    """Objects whose names are all numbers are lists."""
    if not isinstance(tree, dict):
        return tree
    if tree and all(_is_row(name) for name in tree):
        return [_closed(tree[name]) for name in sorted(tree, key=int)]
    return {name: _closed(inner) for name, inner in tree.items()}


def _is_row(name: str) -> bool:
    return name.isdecimal() and len(name) <= ROW_DIGITS


def at(data: Any, pointer: str) -> Any:
    """What stands at a pointer of the input; an empty text if nothing does.

    >>> at({"trial": {"mass": "6.31 g"}}, "/trial/mass"), at({}, "/trial/mass")
    ('6.31 g', '')
    """
    for token in pointer[1:].split("/"):
        if isinstance(data, list) and _is_row(token) and int(token) < len(data):
            data = data[int(token)]
        elif isinstance(data, Mapping) and token in data:
            data = data[token]
        else:
            return ""
    return data


def declared(type_: type, pointer: str) -> Item:
    """The declaration of the field at a pointer; numbers stand for any entry of a list."""
    tokens = [token for token in pointer[1:].split("/") if not token.isdecimal()]
    found = _named(type_, tokens[0])
    for token in tokens[1:]:
        # Of an assay each element is a field.
        found = (
            Item(Text(), "In permille.", token)
            if isinstance(found.kind, AssayOf)
            else _named(_inner(found.kind), token)
        )
    return found


def _named(type_: type, name: str) -> Item:
    return next(one for one in items(type_).values() if one.name == name)


def _inner(kind: Any) -> type:
    record = kind.record if isinstance(kind, ListOf) else kind
    if not isinstance(record, Record):
        raise TypeError("only objects have fields")
    return record.type


def widget(one: Item) -> str:
    """How a field is asked for."""
    if isinstance(one.kind, Choice):
        return "choice"
    if isinstance(one.kind, Text) and one.kind.format == "date":
        return "date"
    return WIDGETS.get(type(one.kind), "text")


def rows_shown(data: Any, pointer: str, more: str) -> range:
    """Which rows of a list a form shows: those filled in, one blank, and two more where more were asked for."""
    filled = at(data, pointer)
    count = len(filled) if isinstance(filled, list) else 0
    return range(min(count + 1 + (2 if more == pointer else 0), MOST_ROWS))


@dataclass(frozen=True, slots=True)
class Form:
    """A form as a page shows it: its declaration, what was filled in and how, and what is wrong with that."""

    inputs: type
    parts: tuple[Part, ...]
    data: Mapping[str, Any]
    issues: tuple[Issue, ...] = ()
    more: str = ""
    mark: str = EITHER

    def item(self, pointer: str) -> Item:
        """The declaration of a field."""
        return declared(self.inputs, pointer)

    def widget(self, pointer: str) -> str:
        """How a field is asked for."""
        return widget(self.item(pointer))

    def value(self, pointer: str) -> Any:
        """What was filled in."""
        return at(self.data, pointer)

    def faults(self, pointer: str) -> list[Issue]:
        """What is wrong with a field, its parts and units included."""
        return [one for one in self.issues if one.pointer == pointer or one.pointer.startswith(f"{pointer}/")]

    def required(self, pointer: str) -> bool:
        """Whether the form cannot do without the field."""
        return pointer.count("/") == 1 and not self.item(pointer).optional

    def rows(self, pointer: str) -> range:
        """Which rows of a list to show."""
        return rows_shown(self.data, pointer, self.more)

    def holds(self, part: Part) -> bool:
        """Whether a part of the form says something, has a fault, or was asked for more rows."""
        if part.rows:
            return bool(at(self.data, part.rows)) or self.more == part.rows or self._faulty(part.rows)
        return any(self.value(place.pointer) != "" or self.faults(place.pointer) for place in part.places)

    def _faulty(self, pointer: str) -> bool:
        return any(one.pointer.startswith(pointer) for one in self.issues)

    def shows(self, pointer: str) -> bool:
        """Whether the form has a field of exactly this pointer."""
        for part in self.parts:
            tokens = [place.pointer for place in part.places]
            if part.rows:
                tokens = [f"{part.rows}/{row}/{token}" for row in self.rows(part.rows) for token in tokens]
            if pointer in tokens:
                return True
        return False
