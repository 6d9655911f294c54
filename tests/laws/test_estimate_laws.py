"""Laws of an estimate: one composition in either form, a distance that is one, and nothing left unsaid."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate_alloy import ESTIMATE, FARTHEST_NEAR, PROPERTIES, difference
from alloyref.domain.reference import Reference

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
LAW = settings(max_examples=60, derandomize=True, deadline=None)
SYMBOLS = ["Au", "Ag", "Cu", "Pd", "Pt", "Zn", "Ni", "Sn"]


@st.composite
def compositions(draw: st.DrawFn) -> dict[str, str]:
    """Shares to a tenth of a permille, summing to 1000."""
    symbols = draw(st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=5, unique=True))
    weights = [draw(st.integers(1, 1000)) for _ in symbols]
    tenths = [10_000 * weight // sum(weights) for weight in weights]
    tenths[0] += 10_000 - sum(tenths)
    return {symbol: str(Decimal(part) / 10) for symbol, part in zip(symbols, tenths, strict=True) if part}


def made(shares: dict[str, str]) -> Composition:
    return Composition.from_permille({symbol: Decimal(share) for symbol, share in shares.items()}, SYMBOLS)


@pytest.fixture(scope="module")
def catalogue(reference: Reference) -> dict[str, Composition]:
    """The composition of every alloy by id."""
    return {one.id: one.metal.composition for one in reference.alloys.values()}


@LAW
@given(shares=compositions(), joint=st.sampled_from([" ", ":", "=", " : ", ""]), comma=st.sampled_from([",", ", "]))
def test_a_line_says_the_same_as_an_object(ask: Ask, shares: dict[str, str], joint: str, comma: str) -> None:
    line = comma.join(f"{symbol}{joint}{share}" for symbol, share in shares.items())
    by_line, by_object = (ask(ESTIMATE, {"composition": one}) for one in (line, shares))
    assert by_line == by_object


@LAW
@given(shares=compositions())
def test_each_property_has_a_figure_or_a_reason(ask: Ask, shares: dict[str, str]) -> None:
    result = ask(ESTIMATE, {"composition": shares}).result
    reasons = {one.name: one.reason for one in result.not_available}
    for name in PROPERTIES:
        assert (getattr(result, name) is None) == bool(reasons.get(name)), name
    for name in PROPERTIES:
        figure = getattr(result, name)
        assert figure is None or figure.low <= figure.value <= figure.high
    assert (result.solidus is None) == (result.liquidus is None)
    if result.solidus is not None:
        assert result.solidus.value <= result.liquidus.value


@LAW
@given(shares=compositions(), wanted=st.sampled_from(PROPERTIES))
def test_the_one_number_is_the_property_asked_for(ask: Ask, shares: dict[str, str], wanted: str) -> None:
    result = ask(ESTIMATE, {"composition": shares, "property": wanted}).result
    figure = getattr(result, wanted)
    assert result.number == (None if figure is None else (figure.value, figure.unit))
    assert bool(result.why_none) == (figure is None)


@LAW
@given(shares=compositions())
def test_karat_is_fineness_in_24ths(ask: Ask, shares: dict[str, str]) -> None:
    result = ask(ESTIMATE, {"composition": shares}).result
    if result.metal != "Au":
        assert result.karat is None
    else:
        exact = Fraction(shares["Au"]) * 24 / 1000
        assert abs(Fraction(result.karat.value) - exact) <= Fraction(1, 2000)


@LAW
@given(one=compositions().map(made), other=compositions().map(made), third=compositions().map(made))
def test_the_difference_is_a_distance(one: Composition, other: Composition, third: Composition) -> None:
    assert difference(one, one) == 0
    assert difference(one, other) == difference(other, one)
    assert 0 <= difference(one, other) <= 1000
    assert difference(one, third) <= difference(one, other) + difference(other, third)
    assert (difference(one, other) == 1000) == set(one.elements).isdisjoint(other.elements)


@LAW
@given(shares=compositions())
def test_no_alloy_left_out_is_nearer(ask: Ask, catalogue: dict[str, Composition], shares: dict[str, str]) -> None:
    near = ask(ESTIMATE, {"composition": shares}).result.nearest_alloys
    apart = sorted(difference(made(shares), one) for one in catalogue.values())
    within = [one for one in apart if one <= FARTHEST_NEAR]
    assert [one.difference for one in near] == within[: len(near)]
    assert len(near) == min(len(within), 5)


def test_every_alloy_of_the_catalogue_finds_itself(ask: Ask, catalogue: dict[str, Composition]) -> None:
    for id_, composition in catalogue.items():
        near = ask(ESTIMATE, {"composition": dict(composition.parts)}).result.nearest_alloys
        assert id_ in [one.id for one in near if one.difference == 0]


@pytest.mark.parametrize("line", ["", "Au", "750", "Au 750/Ag 250", "Au 750, , Ag 250", "Au 750, Au 250", "Au -1"])
def test_what_is_no_composition_is_refused(ask: Ask, line: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        ask(ESTIMATE, {"composition": line})
    assert [issue.pointer for issue in refused.value.issues] == ["/composition"] * len(refused.value.issues)
