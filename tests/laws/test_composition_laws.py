"""Laws of composition and purity: shares sum to exactly 1000, and purity conversions invert."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.composition import PRECIOUS, Composition
from alloyref.domain.density import ideal_mixing
from alloyref.domain.errors import InvalidInput
from alloyref.domain.purity import PURITY
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension, Units

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
LAW = settings(max_examples=120, derandomize=True, deadline=None)
SYMBOLS = ["Au", "Ag", "Cu", "Pd", "Pt", "Zn", "Ni"]
SCALES = ["karat", "permille", "percent", "fraction"]


@pytest.fixture(scope="module")
def densities(reference: Reference) -> dict[str, Decimal]:
    """Density by element, in g/cm3."""
    return {symbol: reference.element_density[symbol] for symbol in SYMBOLS}


@pytest.fixture(scope="module")
def gold_marks(reference: Reference) -> list[Decimal]:
    """Every fineness of gold that some law knows."""
    marks = {mark.fineness for mark in reference.marks if mark.metal == "gold"}
    return sorted(mark for mark in marks if mark is not None)


@st.composite
def shares(draw: st.DrawFn, miss: int = 50_000) -> dict[str, Decimal]:
    """Permille shares to five decimals that miss 1000 by at most `miss` hundred-thousandths."""
    symbols = draw(st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=6, unique=True))
    cuts = sorted(draw(st.lists(st.integers(0, 10**8), min_size=len(symbols) - 1, max_size=len(symbols) - 1)))
    edges = [0, *cuts, 10**8]
    parts = [high - low for low, high in pairwise(edges)]
    largest = parts.index(max(parts))
    parts[largest] += draw(st.integers(-miss, miss))
    return {symbol: Decimal(part).scaleb(-5) for symbol, part in zip(symbols, parts, strict=True)}


@LAW
@given(given_shares=shares())
def test_the_sum_is_exactly_1000(given_shares: dict[str, Decimal]) -> None:
    composition = Composition.from_permille(given_shares, SYMBOLS)
    assert sum(Fraction(share) for _, share in composition.parts) == 1000
    assert all(share > 0 for _, share in composition.parts)
    assert set(composition.elements) <= set(given_shares)


@LAW
@given(given_shares=shares())
def test_one_share_takes_up_what_the_sum_misses(given_shares: dict[str, Decimal]) -> None:
    """The others keep their three decimals; it is a base metal's where there is one that can bear it."""
    composition = Composition.from_permille(given_shares, SYMBOLS)
    moved = {symbol: composition.fineness(symbol) - share for symbol, share in given_shares.items()}
    adjusted = [symbol for symbol, by in moved.items() if abs(by) > Decimal("0.0005")]
    assert len(adjusted) <= 1
    assert all(abs(by) <= Decimal("0.51") for by in moved.values())
    can_bear = [symbol for symbol in given_shares if symbol not in PRECIOUS and given_shares[symbol] > 1]
    assert not can_bear or not set(adjusted) & set(PRECIOUS)


@LAW
@given(given_shares=shares())
def test_the_metal_an_alloy_is_named_for_is_made_no_finer(given_shares: dict[str, Decimal]) -> None:
    composition = Composition.from_permille(given_shares, SYMBOLS)
    if sum(share > 0 for share in given_shares.values()) > 1:
        base = composition.base
        assert composition.fineness(base) <= given_shares[base] + Decimal("0.0005") or base not in PRECIOUS


@LAW
@given(given_shares=shares(miss=0), off=st.integers(50_001, 10**7), sign=st.sampled_from([-1, 1]))
def test_another_sum_is_refused(given_shares: dict[str, Decimal], off: int, sign: int) -> None:
    symbol = max(given_shares, key=lambda name: given_shares[name])
    given_shares[symbol] += sign * Decimal(off).scaleb(-5)
    with pytest.raises(InvalidInput):
        Composition.from_permille(given_shares, SYMBOLS)


@LAW
@given(given_shares=shares())
def test_the_base_is_a_part_and_gold_from_300(given_shares: dict[str, Decimal]) -> None:
    composition = Composition.from_permille(given_shares, SYMBOLS)
    assert composition.base in composition.elements
    if composition.fineness("Au") >= 300:
        assert composition.base == "Au"


@LAW
@given(given_shares=shares())
def test_the_density_lies_between_those_of_the_elements(
    densities: dict[str, Decimal], given_shares: dict[str, Decimal]
) -> None:
    """And equals the mean of volumes by fractions."""
    composition = Composition.from_permille(given_shares, SYMBOLS)
    mixed = ideal_mixing(composition, densities)
    volume = sum(Fraction(share) / Fraction(densities[symbol]) for symbol, share in composition.parts)
    assert abs(Fraction(mixed) * volume / 1000 - 1) < Fraction(1, 10**25)
    ends = [densities[symbol] for symbol in composition.elements]
    assert min(ends) - Decimal("1e-20") <= mixed <= max(ends) + Decimal("1e-20")


@LAW
@given(value=st.fractions(min_value=0, max_value=1, max_denominator=10**9))
def test_purity_conversions_invert(units: Units, value: Fraction) -> None:
    for scale in SCALES:
        there = units.convert(value, "fraction", scale, Dimension.PURITY)
        assert units.convert(there, scale, "fraction", Dimension.PURITY) == value


@LAW
@given(hundredths=st.integers(0, 2400), to=st.sampled_from(SCALES))
def test_karat_goes_out_and_comes_back(ask: Ask, hundredths: int, to: str) -> None:
    """Through the calculation itself, which keeps fifteen digits where a decimal does not end."""
    karat = Decimal(hundredths) / 100
    there, unit = ask(PURITY, {"value": str(karat), "from": "karat", "to": to}).result.purity
    assert unit == to
    back, _ = ask(PURITY, {"value": f"{there:f}", "from": to, "to": "karat"}).result.purity
    assert abs(back - karat) <= Decimal("1e-12")


@LAW
@given(data=st.data())
def test_the_nearest_marks_enclose_the_purity(ask: Ask, gold_marks: list[Decimal], data: st.DataObject) -> None:
    """At a mark itself that mark is the lower one, with no difference, and the next one the upper."""
    anywhere = st.decimals(min_value=0, max_value=1000, places=2, allow_nan=False)
    permille = data.draw(st.sampled_from([*gold_marks, None]))
    if permille is None:
        permille = data.draw(anywhere)
    result = ask(PURITY, {"value": str(permille), "from": "permille", "to": "karat"}).result
    below = [mark for mark in gold_marks if mark <= permille]
    above = [mark for mark in gold_marks if mark > permille]
    assert [mark.fineness for mark in result.nearest_marks] == below[-1:] + above[:1]
    assert all(mark.difference == permille - mark.fineness for mark in result.nearest_marks)


@LAW
@given(karat=st.decimals(min_value="24.000001", max_value=1000, places=6, allow_nan=False))
def test_more_than_fine_is_refused(ask: Ask, karat: Decimal) -> None:
    with pytest.raises(InvalidInput):
        ask(PURITY, {"value": str(karat), "from": "karat", "to": "permille"})
