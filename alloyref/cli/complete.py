"""Completion in the shell: what an option of each kind may hold, from the reference data."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import singledispatch

import click
from click.shell_completion import CompletionItem

from alloyref.cli.data import bench
from alloyref.domain.calculation import CatalogueWord, Choice, Flag, Kind, MaterialName, MetalName, UnitName
from alloyref.domain.reference import Reference

Words = Iterable[tuple[str, str]]
Complete = Callable[[click.Context, click.Parameter, str], list[CompletionItem]]


def completion_of(kind: Kind) -> Complete:
    """What completes an option of this kind."""

    def complete(_context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
        return [CompletionItem(word, help=says or None) for word, says in _words(kind) if word.startswith(begun)]

    return complete


def complete_alloys(_context: click.Context, _parameter: click.Parameter, begun: str) -> list[CompletionItem]:
    """The ids of the catalogue that begin so."""
    return [CompletionItem(word, help=says) for word, says in _alloys(bench().reference) if word.startswith(begun)]


def _alloys(reference: Reference) -> Words:
    return [(one.id, one.metal.name) for one in reference.alloys.values()]


@singledispatch
def _words(kind: Kind) -> Words:
    return ()


@_words.register
def _(kind: MetalName) -> Words:
    reference = bench().reference
    trade_names = ((one.id, f"trade name: {one.name}") for one in reference.trade_names.values())
    return [*_alloys(reference), *trade_names, *((one.symbol, one.name) for one in reference.elements.values())]


@_words.register
def _(kind: UnitName) -> Words:
    return [(one.symbol, one.name) for one in bench().reference.units.all if one.dimension is kind.dimension]


@_words.register
def _(kind: MaterialName) -> Words:
    return [(one.id, one.name) for one in getattr(bench().reference, kind.table).values()]


@_words.register
def _(kind: CatalogueWord) -> Words:
    return [(word, "") for word in bench().reference.catalogue_words(kind.of)]


@_words.register
def _(kind: Choice) -> Words:
    return [(word, "") for word in kind.options]


@_words.register
def _(kind: Flag) -> Words:
    return [("true", ""), ("false", "")]
