"""Ring size rules against the figures that are published for them, and against published mistakes."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloyref.domain.errors import InvalidInput
from alloyref.domain.reference import Reference
from alloyref.domain.ring_sizes import SYSTEMS, circumference_of, diameter_of, size_number, size_text

INCH = Decimal("25.4")


def sizes(reference: Reference, system: str) -> dict[str, tuple[Decimal, Decimal]]:
    """Diameter and circumference in mm by size."""
    return {
        one.size: (one.diameter.value, one.circumference.value)
        for one in reference.ring_sizes
        if one.system == system
    }


def test_uk_letters(reference: Reference) -> None:
    """GNU units 2.22, from BS 6820: A 37.50 to Z 68.75 mm, each 1.25 more; size C is 40 mm."""
    table = sizes(reference, "UK")
    for place, letter in enumerate("ABCDEFGHIJKLMNOPQRSTUVWXYZ"):
        assert table[letter][1] == Decimal("37.50") + place * Decimal("1.25")
    assert (table["C"][1], table["Z"][1]) == (40, Decimal("68.75"))


def test_japanese_sizes(reference: Reference) -> None:
    """GNU units 2.22: size 1 is 13 mm inside, each further size a third of a millimetre more."""
    table = sizes(reference, "Japan")
    assert table["1"][0] == 13
    assert table["4"][0] == 14
    assert table["13"][0] == 17
    assert len(table) == 30


def test_us_sizes(reference: Reference) -> None:
    """Encyclopaedic page on ring sizes: size 0 is 0.458 inch, each size 0.032 inch (0.8128 mm) more."""
    table = sizes(reference, "US")
    for size, (diameter, _) in table.items():
        assert abs(diameter - (Decimal("0.458") + Decimal("0.032") * Decimal(size)) * INCH) <= Decimal("0.00005")
    assert len(table) == 65


def test_the_metric_form_of_the_us_rule_is_the_same(reference: Reference) -> None:
    """Encyclopaedic page: d = 11.63 + 0.8128 n mm, which is rounded, so within 0.004 mm."""
    for size, (diameter, _) in sizes(reference, "US").items():
        assert abs(diameter - (Decimal("11.63") + Decimal("0.8128") * Decimal(size))) < Decimal("0.004")


def test_iso_and_continental_sizes_are_not_one(reference: Reference) -> None:
    """ISO 8653 is the circumference (encyclopaedic page, 49 to 72); minus 40 is the continental way (GNU units)."""
    iso, continental = sizes(reference, "ISO"), sizes(reference, "continental")
    assert all(circumference == Decimal(size) for size, (_, circumference) in iso.items())
    assert all(circumference == Decimal(size) + 40 for size, (_, circumference) in continental.items())


@pytest.mark.parametrize("size", ["3", "7", "13.5"])
def test_published_mistakes_are_not_ours(size: str) -> None:
    """A misprint of the US rule in GNU units 2.22 (0.32 n for 0.032 n), and "ISO 8653 = C - 40" (enacademic)."""
    us = diameter_of(SYSTEMS["US"], size_number(SYSTEMS["US"], size))
    assert us < (Decimal("0.458") + Decimal("0.32") * Decimal(size)) * INCH / 2
    assert circumference_of(SYSTEMS["ISO"], Fraction(54)) == 54 != 54 + 40


@pytest.mark.parametrize(("zero", "step"), [("0.455", "0.0326"), ("0.4525", "0.0324")])
def test_other_us_rules_differ_by_a_fifth_of_a_size_at_most(zero: str, step: str) -> None:
    """GNU units 2.22 quotes both from other sources, for sizes to 13."""
    for size in range(3, 14):
        ours = diameter_of(SYSTEMS["US"], Fraction(size))
        theirs = (Decimal(zero) + Decimal(step) * size) * INCH
        assert abs(ours - theirs) < Decimal("0.2") * Decimal("0.8128")


def test_circumference_is_pi_diameters(reference: Reference) -> None:
    assert len(reference.ring_sizes) == 231
    for one in reference.ring_sizes:
        assert float(one.circumference.value) == pytest.approx(math.pi * float(one.diameter.value), abs=2.1e-4)


QUARTERS = st.integers(min_value=0, max_value=120).map(lambda quarters: Fraction(quarters, 4))


@given(QUARTERS, st.sampled_from(sorted(SYSTEMS)))
def test_what_is_written_is_read_back(number: Fraction, name: str) -> None:
    system = SYSTEMS[name]
    assert size_number(system, size_text(system, number)) == number
    assert system.number(system.extent(number)) == number


@given(QUARTERS, QUARTERS, st.sampled_from(sorted(SYSTEMS)))
def test_a_larger_size_is_a_larger_ring(one: Fraction, other: Fraction, name: str) -> None:
    system = SYSTEMS[name]
    assert (one < other) == (diameter_of(system, one) < diameter_of(system, other))


@pytest.mark.parametrize(
    ("system", "size", "number"),
    [
        ("US", "7", "7"),
        ("US", "7.25", "29/4"),
        ("US", " 7 1/2 ", "15/2"),
        ("US", "7½", "15/2"),
        ("US", "7-1/2", "15/2"),
        ("UK", "n 1/2", "27/2"),
        ("UK", "N1/2", "27/2"),
        ("UK", "N¼", "53/4"),
        ("UK", "Z+6 1/2", "63/2"),
        ("ISO", "54.4", "272/5"),
    ],
)
def test_sizes_as_people_write_them(system: str, size: str, number: str) -> None:
    assert size_number(SYSTEMS[system], size) == Fraction(number)


@pytest.mark.parametrize(
    ("system", "size"),
    [
        ("US", "N"),
        ("US", ""),
        ("US", "-1"),
        ("US", "7.5 1/2"),
        ("US", "7 1/0"),
        ("UK", "7"),
        ("UK", "N+1"),
        ("UK", "NN"),
        ("UK", "N 1/3"),
        ("ISO", "1e2"),
    ],
)
def test_what_is_no_size_is_refused(system: str, size: str) -> None:
    with pytest.raises(InvalidInput, match="size"):
        size_number(SYSTEMS[system], size)
