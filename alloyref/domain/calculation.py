"""One declaration per calculation.

A calculation is a frozen dataclass in, a frozen dataclass out, and a pure function between. Each field
declares once what it is: its kind, its meaning, its bounds and an example. The JSON schema, the query
parameters, the command line, the written answer and the API description all follow from these fields.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import MISSING, dataclass
from decimal import Decimal
from functools import cache
from typing import Any

from alloyref.domain.metal import Caution
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference
from alloyref.domain.typed import Typed
from alloyref.domain.units import Dimension

# One tonne: far above any charge of a small shop, and low enough that a slipped decimal point shows.
MOST_GRAMS = Decimal(1_000_000)
# From foam to beyond osmium, in g/cm3.
DENSITIES = (Decimal("0.05"), Decimal(25))


@dataclass(frozen=True, slots=True)
class Kind:
    """What a field holds. Subclasses carry the bounds."""


@dataclass(frozen=True, slots=True)
class Quantity(Kind):
    """A number with a unit; inside, a Decimal in the base unit of the dimension. Bounds are in that unit.

    `answered` takes it in the form of an answer too, with the `display` beside it that says the same. A mass may be
    in carats only where it is of `stones`. With `digits` its last digit tells the step of the balance.
    """

    dimension: Dimension
    above: Decimal | None = Decimal(0)
    least: Decimal | None = None
    most: Decimal = MOST_GRAMS
    answered: bool = False
    stones: bool = False
    digits: bool = False


def density_quantity() -> Quantity:
    """A density that something could have."""
    return Quantity(Dimension.DENSITY, above=None, least=DENSITIES[0], most=DENSITIES[1])


@dataclass(frozen=True, slots=True)
class Number(Kind):
    """A bare number whose unit its meaning fixes; `units` are ways to write that unit behind it all the same."""

    above: Decimal | None = None
    least: Decimal | None = None
    below: Decimal | None = None
    most: Decimal | None = None
    units: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Share(Kind):
    """A fraction of one, given as a bare number (0.05) or with a unit (`5 percent`)."""

    least: Decimal = Decimal(0)
    below: Decimal = Decimal(1)
    above: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Whole(Kind):
    """A whole number."""

    least: int
    most: int


@dataclass(frozen=True, slots=True)
class Text(Kind):
    """Free text on one line, kept and given back, never interpreted; `pattern` narrows it.

    Unless it may be `blank`, there must be something to see in it. `says` is how people name what the pattern asks
    for, for the message to whoever wrote something else. With `digits` a JSON number is taken too, as the digits it
    is written with: some sizes are numbers, some not.
    """

    most: int = 120
    pattern: str | None = None
    format: str | None = None
    digits: bool = False
    blank: bool = True
    says: str = ""


DATE = Text(format="date", pattern=r"^\d{4}-\d{2}-\d{2}$", says="a date as year-month-day, such as 2026-11-20")


@dataclass(frozen=True, slots=True)
class Currency(Kind):
    """A currency by its code or by a sign of its own; inside, the code."""


CURRENCY = Currency()


@dataclass(frozen=True, slots=True)
class Flag(Kind):
    """True or false."""


@dataclass(frozen=True, slots=True)
class Choice(Kind):
    """One of a few words; inside, the word."""

    options: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class UnitName(Kind):
    """The name of a unit of one dimension; inside, its symbol."""

    dimension: Dimension


@dataclass(frozen=True, slots=True)
class MetalName(Kind):
    """A metal: a catalogue id, an element symbol, or an object with composition and optional density.

    With `or_label` a name that is not known here is kept as text; the calculation refuses it if it needs it. With
    `composed` a trade name is refused, because what the metal is made of is needed.
    """

    or_label: bool = False
    composed: bool = False


@dataclass(frozen=True, slots=True)
class CompositionOf(Kind):
    """Shares by element symbol in permille; inside, a Composition."""


@dataclass(frozen=True, slots=True)
class FinenessOf(Kind):
    """A purity with its scale, such as `14 karat` or `585 permille`; inside, a Fineness, kept as given."""


@dataclass(frozen=True, slots=True)
class Permille(Kind):
    """A fineness: a bare number is permille, another scale is written (`14 karat`); inside, permille."""

    least: Decimal
    most: Decimal = Decimal(1000)


@dataclass(frozen=True, slots=True)
class AssayOf(Kind):
    """Fineness by element symbol, in permille or with its scale; what was not assayed is left out."""


@dataclass(frozen=True, slots=True)
class Pasted(Kind):
    """Part of an answer that may be sent back along with the rest; whatever it is, it is not read."""


@dataclass(frozen=True, slots=True)
class MarkName(Kind):
    """A fineness mark as it is struck or written; inside, a Mark."""


@dataclass(frozen=True, slots=True)
class MaterialName(Kind):
    """The id of a pattern material or a stone."""

    table: str


@dataclass(frozen=True, slots=True)
class CatalogueWord(Kind):
    """A word of the reference data: an alloy's family, colour or base, or a jurisdiction."""

    of: str


@dataclass(frozen=True, slots=True)
class ElementList(Kind):
    """Elements by symbol or name, separated by commas; inside, symbols."""


@dataclass(frozen=True, slots=True)
class WordList(Kind):
    """Words of a fixed vocabulary, separated by commas."""

    options: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Record(Kind):
    """A nested object. `shorthand` names the field that a bare value stands for."""

    type: type
    shorthand: str | None = None


@dataclass(frozen=True, slots=True)
class ListOf(Kind):
    """A list of nested objects.

    Where `within` names fields, an object that holds the list under them, one inside the other, is taken as well;
    outer ones may be missing. With `stored` the caller's stored quotes may be asked for in its place.
    """

    record: Record
    most: int = 100
    within: tuple[str, ...] = ()
    stored: bool = False


# Kinds that only results use.


@dataclass(frozen=True, slots=True)
class Measured(Kind):
    """A quantity in an answer, from a Decimal, an Estimate or a Property in the base unit.

    `decimals` is where it is rounded, half-even, once. `display` adds a mass in g, dwt and ozt, and a temperature
    with its range in whole degrees F.
    """

    dimension: Dimension
    decimals: int = 4
    display: bool = False


@dataclass(frozen=True, slots=True)
class Exact(Kind):
    """A quantity in an answer whose unit the answer itself names: a pair of value and unit symbol.

    With `decimals` the value may be a fraction and is rounded there, half-even, once; without, it is shown whole.
    """

    dimension: Dimension
    decimals: int | None = None


@dataclass(frozen=True, slots=True)
class Money(Kind):
    """An amount of money: value and currency, to the cent; `at_least` is said of one that leaves something out."""


@dataclass(frozen=True, slots=True)
class MassSpan(Kind):
    """A mass of which only the ends are known, each shown in g, dwt and ozt; no value unless they are one."""


@dataclass(frozen=True, slots=True)
class MoneySpan(Kind):
    """An amount of which only the ends are known; its value is null unless they are one. See also `Money`."""


@dataclass(frozen=True, slots=True)
class BookEntry(Kind):
    """A mass in g in a table of account whose unit stands once at its head; not rounded."""


@dataclass(frozen=True, slots=True)
class MapOf(Kind):
    """Values of one kind by element symbol."""

    kind: Kind


@dataclass(frozen=True, slots=True)
class TextList(Kind):
    """A list of sentences."""


@dataclass(frozen=True, slots=True)
class Item:
    """One declared field."""

    kind: Kind
    doc: str
    name: str
    example: object = None
    optional: bool = False
    default: object = None
    nullable: bool = False


def item(kind: Kind, doc: str, *, default: Any = MISSING, name: str = "", example: object = None) -> Any:
    """Declare one field of a calculation: what it holds, what it means, and what an example looks like."""
    meta = {"item": (kind, doc, name, example)}
    if isinstance(default, (list, dict)):
        raise TypeError("give a tuple as default")
    return dataclasses.field(default=default, metadata=meta)


@cache
def items(type_: type) -> dict[str, Item]:
    """The declared fields of a dataclass by attribute name, in order."""
    declared = {}
    for field in dataclasses.fields(type_):
        kind, doc, name, example = field.metadata["item"]
        optional = field.default is not MISSING
        default = field.default if optional else None
        nullable = "None" in str(field.type)
        declared[field.name] = Item(kind, doc, name or field.name, example, optional, default, nullable)
    return declared


def asked_unit(inputs: Any) -> str | None:
    """The unit (its symbol) of the first mass of metal that was given, in which answers say masses too."""
    type_: type = type(inputs)
    for attribute, one in items(type_).items():
        value, kind = getattr(inputs, attribute), one.kind
        if isinstance(kind, Quantity):
            of_metal = kind.dimension is Dimension.MASS and not kind.stones
            unit = value.unit if of_metal and isinstance(value, Typed) else None
        else:
            within = value if isinstance(kind, ListOf) else (value,) if isinstance(kind, Record) else ()
            unit = next(filter(None, map(asked_unit, filter(None, within))), None)
        if unit is not None:
            return unit
    return None


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something the answer rests on that the caller did not say, with its standing and source."""

    id: str
    text: str
    basis: Property


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a calculation gives back: the result and what it rests on.

    `answered` is false where the result only tells why there is no answer.
    """

    result: Any
    assumptions: tuple[Assumption, ...] = ()
    cautions: tuple[Caution, ...] = ()
    answered: bool = True


@dataclass(frozen=True, slots=True)
class Calculation:
    """A named calculation: the one declaration that every face derives from.

    `query` allows GET with query parameters; `text` names the result field that `text/plain` answers with.
    `bulk` allows many at once, one a row. `proportional` names the one input that every mass in the result is
    proportional to, while everything else in the result does not change with it; `unless` names the optional
    inputs that end this. Many rows are then answered from few runs. `searches` says that a run may take seconds:
    whoever serves many runs it where nobody else waits for it.
    """

    name: str
    title: str
    doc: str
    inputs: type
    result: type
    run: Callable[[Any, Reference], Outcome]
    query: bool = False
    text: str | None = None
    bulk: bool = False
    proportional: str | None = None
    unless: tuple[str, ...] = ()
    searches: bool = False
    example: dict[str, Any] = dataclasses.field(default_factory=dict)
