"""Declared fields: their names, order, defaults and examples, read from the dataclass alone."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, dataclass
from decimal import Decimal

import pytest

from alloyref.domain.calculation import ListOf, Number, Quantity, Record, Text, item, items
from alloyref.domain.finder import AlloyQuery
from alloyref.domain.order.inputs import OrderInputs
from alloyref.domain.units import Dimension
from alloyref.services.calculations import CALCULATIONS


@dataclass(frozen=True, slots=True)
class Sample:
    """Fields of several makes."""

    mass: Decimal = item(Quantity(Dimension.MASS), "A mass.", example="1 g")
    from_: str = item(Text(), "Whence.", name="from")
    share: Decimal | None = item(Number(), "A share.", default=None)
    count: int = item(Number(), "A count.", default=3)


def test_fields_come_in_order_with_what_was_declared() -> None:
    found = items(Sample)
    assert list(found) == ["mass", "from_", "share", "count"]
    assert [one.name for one in found.values()] == ["mass", "from", "share", "count"]
    assert found["mass"].kind == Quantity(Dimension.MASS)
    assert (found["mass"].doc, found["mass"].example) == ("A mass.", "1 g")


def test_a_field_with_a_default_is_optional() -> None:
    found = items(Sample)
    assert [one.optional for one in found.values()] == [False, False, True, True]
    assert [one.default for one in found.values()] == [None, None, None, 3]
    assert [one.nullable for one in found.values()] == [False, False, True, False]


def test_a_declaration_is_read_once() -> None:
    assert items(Sample) is items(Sample)


@pytest.mark.parametrize("default", [[], {}, [1]])
def test_a_default_that_could_be_changed_is_refused(default: object) -> None:
    with pytest.raises(TypeError, match="tuple"):
        item(Text(), "A list.", default=default)


def test_an_undeclared_field_is_an_error() -> None:
    @dataclass(frozen=True)
    class Plain:
        """A field without a declaration."""

        mass: int = 0

    with pytest.raises(KeyError):
        items(Plain)


def every_record(type_: type) -> list[type]:
    """A declared dataclass and all within it."""
    found = [type_]
    for one in items(type_).values():
        record = one.kind.record if isinstance(one.kind, ListOf) else one.kind
        if isinstance(record, Record):
            found += every_record(record.type)
    return found


@pytest.mark.parametrize(
    "type_",
    dict.fromkeys(
        one
        for calculation in CALCULATIONS.values()
        for top in (calculation.inputs, calculation.result, AlloyQuery)
        for one in every_record(top)
    ),
    ids=lambda one: one.__name__,
)
def test_every_declared_dataclass_is_frozen_and_its_names_are_its_own(type_: type) -> None:
    names = [one.name for one in items(type_).values()]
    assert len(names) == len(set(names))
    assert all(name == name.lower() and name.isascii() for name in names)
    assert type_.__dataclass_params__.frozen  # type: ignore[attr-defined]
    for one in items(type_).values():
        if isinstance(one.kind, Record) and one.kind.shorthand is not None:
            assert one.kind.shorthand in items(one.kind.type)


def test_inputs_cannot_be_changed_after_loading() -> None:
    sample = Sample(Decimal(1), "g")
    with pytest.raises(FrozenInstanceError):
        sample.mass = Decimal(2)  # type: ignore[misc]


def test_the_order_needs_only_its_metal() -> None:
    assert [one.name for one in items(OrderInputs).values() if not one.optional] == ["final_metal"]
