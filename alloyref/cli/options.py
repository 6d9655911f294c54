"""Command options from declarations, and the nested input that given ones stand for."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Mapping, Sequence
from typing import Any

import click

from alloyref.cli.complete import completion_of
from alloyref.domain.calculation import Choice, CompositionOf, Item, Kind, ListOf, MetalName, items
from alloyref.domain.shop.stored_prices import STORED
from alloyref.web.schemas.options import Path, flat, option_name

KIND_WORDS = re.compile(r"^Catalogue|(?:Name|Of|List)$")
"""What the name of a kind has besides the word that stands for its values in the help."""


def options_for(type_: type) -> list[click.Parameter]:
    """The options of a declared input."""
    return [
        click.Option(
            [option_name(path), "_".join(path)],
            help=_help(one),
            multiple=isinstance(one.kind, ListOf),
            metavar=_metavar(one.kind),
            shell_complete=completion_of(one.kind),
        )
        for path, one in flat(type_)
    ]


def _help(one: Item) -> str:
    usual = f" [default: {one.default}]" if isinstance(one.default, (str, int)) and one.default else ""
    example = f" E.g. {one.example}" if isinstance(one.example, str) else ""
    return f"{one.doc}{example}{usual}{_inside(one.kind)}"


def _inside(kind: Kind) -> str:
    """The fields of an option that takes JSON, which no option of their own tells."""
    if not isinstance(kind, ListOf):
        return ""
    return f" Each an object with {', '.join(items(kind.record.type))}."


def _metavar(kind: Kind) -> str:
    if isinstance(kind, Choice):
        return "|".join(kind.options)
    if isinstance(kind, ListOf):
        return "JSON"
    return KIND_WORDS.sub("", type(kind).__name__).upper()


def gather(type_: type, given: Mapping[str, Any], base: dict[str, Any]) -> dict[str, Any]:
    """The nested input from options, laid over what a file gave."""
    for path, one in flat(type_):
        value = given.get("_".join(path))
        if value is None or value == ():
            continue
        if isinstance(one.kind, ListOf):
            value = _list(one.kind, value, option_name(path))
        elif isinstance(one.kind, (MetalName, CompositionOf)) and value.lstrip().startswith("{"):
            value = _json(value, option_name(path))
        _put(base, path, value)
    return base


def _list(kind: ListOf, given: Sequence[str], option: str) -> Any:
    """The entries, each in JSON; or the wish for stored quotes, as a word or an object; or what holds the list."""
    if kind.stored and tuple(given) == (STORED,):
        return STORED
    entries = [_json(text, option) for text in given]
    whole = len(entries) == 1 and isinstance(entries[0], dict)
    if whole and ((kind.stored and "from" in entries[0]) or any(name in entries[0] for name in kind.within)):
        return entries[0]
    return entries


def example_of(type_: type, example: Mapping[str, Any]) -> str:
    """The options that an example is asked with, as a shell takes them: what `gather` reads back."""
    said = []
    for path, one in flat(type_):
        value = _at(example, path)
        if value is not None:
            for inner in value if isinstance(one.kind, ListOf) else [value]:
                said.append(
                    f"{option_name(path)} {shlex.quote(inner if isinstance(inner, str) else json.dumps(inner))}"
                )
    return " ".join(said)


def _at(example: Any, path: Path) -> Any:
    for step in path:
        example = example.get(step) if isinstance(example, Mapping) else None
    return example


def _put(base: dict[str, Any], path: Path, value: Any) -> None:
    """Lay one option over the input; a shorthand that stands in its way gives way to it."""
    place = base
    for step in path[:-1]:
        if not isinstance(place.get(step), dict):
            place[step] = {}
        place = place[step]
    place[path[-1]] = value


def _json(text: str, option: str) -> Any:
    try:
        return json.loads(text, parse_float=str)
    except json.JSONDecodeError as error:
        raise click.BadParameter(f"{option} takes JSON: {error}") from None
