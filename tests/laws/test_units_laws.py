"""Laws of the units: every conversion turns round exactly, and every written number survives reading."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.errors import InvalidInput
from alloyref.domain.numbers import parse_decimal, plain
from alloyref.domain.reference import Reference
from alloyref.domain.units import BASE_UNIT, Dimension, Units

LAW = settings(max_examples=50, derandomize=True, deadline=None)
numbers = st.fractions(min_value=-(10**9), max_value=10**9, max_denominator=10**9)
written = st.decimals(min_value=0, max_value=10**9, allow_nan=False, allow_infinity=False, places=6)


@LAW
@given(value=numbers)
def test_there_and_back_is_the_same_number_for_every_pair(units: Units, value: Fraction) -> None:
    for dimension in Dimension:
        for one, other in permutations(units.symbols(dimension), 2):
            there = units.convert(value, one, other, dimension)
            assert units.convert(there, other, one, dimension) == value, (one, other)


@LAW
@given(value=numbers, data=st.data())
def test_a_way_round_by_a_third_unit_is_the_straight_way(units: Units, value: Fraction, data: st.DataObject) -> None:
    for dimension in Dimension:
        one, other, third = (data.draw(st.sampled_from(units.symbols(dimension))) for _ in range(3))
        straight = units.convert(value, one, other, dimension)
        round_about = units.convert(units.convert(value, one, third, dimension), third, other, dimension)
        assert round_about == straight


@LAW
@given(value=numbers, more=numbers)
def test_conversion_adds_up(units: Units, value: Fraction, more: Fraction) -> None:
    """Of masses, lengths, volumes, densities, purities: the sum converts to the sum. Temperatures do not."""
    for dimension in Dimension:
        base = BASE_UNIT[dimension]
        for symbol in units.symbols(dimension):
            both = units.convert(value + more, symbol, base, dimension)
            parts = units.convert(value, symbol, base, dimension) + units.convert(more, symbol, base, dimension)
            if dimension is Dimension.TEMPERATURE and symbol != base:
                assert both != parts
            else:
                assert both == parts


@LAW
@given(value=written)
def test_every_name_of_a_unit_reads_the_same(units: Units, value: Decimal) -> None:
    """Symbol, UCUM code and aliases: written after a number, each gives the same amount in the base unit."""
    for unit in units.all:
        text = f"{value:f}"
        expected = units.to_base(value, unit.symbol, unit.dimension)
        for name in (unit.symbol, unit.ucum, *unit.aliases):
            if name:
                assert units.parse(f"{text} {name}", unit.dimension) == expected, name
                assert units.parse(f" {text}  {name} ", unit.dimension) == expected, name


@LAW
@given(value=written)
def test_the_decimal_in_the_base_unit_is_exact_where_it_ends(units: Units, value: Decimal) -> None:
    for unit in units.all:
        if unit.dimension is Dimension.TEMPERATURE:
            continue
        exact = Fraction(value) * unit.factor
        got = Fraction(units.to_base(value, unit.symbol, unit.dimension))
        if ends(unit.factor):
            assert got == exact, unit.symbol
        else:
            assert abs(got - exact) <= exact / 10**48, unit.symbol


def ends(number: Fraction) -> bool:
    """Whether its decimals end: a denominator of twos and fives only."""
    rest = number.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    return rest == 1


@LAW
@given(value=st.decimals(allow_nan=False, allow_infinity=False, min_value=-(10**12), max_value=10**12, places=9))
def test_decimal_text_is_read_back_exactly(value: Decimal) -> None:
    assert parse_decimal(str(value)) == value
    assert parse_decimal(f"{value:f}") == value
    assert parse_decimal(plain(value)) == value


@LAW
@given(value=st.floats(min_value=1e-9, max_value=1e12))
def test_a_json_number_is_its_shortest_text(value: float) -> None:
    """A float is taken as it prints, never as its binary neighbour."""
    assert parse_decimal(value) == Decimal(repr(value))
    assert float(parse_decimal(value)) == value


def ways(name: str) -> set[str]:
    """A name in capital and in small letters, and with the first letter large."""
    return {name.upper(), name.lower(), name.capitalize(), name.swapcase()}


def test_letters_of_any_size_mean_the_same_unit_or_are_refused(units: Units) -> None:
    """Nobody gets another unit than the one whose name was typed, however it was typed."""
    for unit in units.all:
        for name in filter(None, (unit.symbol, unit.ucum, *unit.aliases)):
            for way in ways(name):
                assert _meant(units, way, unit.dimension) in (unit.symbol, "unit-ambiguous"), way


def _meant(units: Units, name: str, dimension: Dimension) -> str:
    """The symbol of the unit, or why it is refused."""
    try:
        return units.find(name, dimension).symbol
    except InvalidInput as refused:
        return refused.issues[0].code


def test_what_is_refused_by_name_is_refused_in_any_letters(reference: Reference) -> None:
    """And each unit that it may mean is named, and is taken."""
    for name, dimension in (("oz", "mass"), ("gr", "mass"), ("lb", "mass"), ("carat", "purity"), ("dram", "mass")):
        for way in {name, *ways(name)}:
            with pytest.raises(InvalidInput) as refused:
                reference.units.find(way, Dimension(dimension))
            (issue,) = refused.value.issues
            assert issue.code == "unit-ambiguous"
            assert all(reference.units.find(one, Dimension(dimension)).symbol == one for one in issue.suggestions)


@LAW
@given(number=st.decimals("0.0001", "999999", places=4), data=st.data())
def test_a_mass_keeps_what_was_typed(units: Units, number: Decimal, data: st.DataObject) -> None:
    """Number, digits and unit, while it reckons like any number."""
    symbol = data.draw(st.sampled_from(units.symbols(Dimension.MASS)))
    typed = units.typed(number, symbol, Dimension.MASS)
    assert (str(typed.number), typed.unit) == (str(number), symbol)
    assert typed == units.to_base(number, symbol, Dimension.MASS)
    assert type(typed + typed) is Decimal
    assert units.is_round(units.to_base(round(number, 1), symbol, Dimension.MASS), symbol, Dimension.MASS)
