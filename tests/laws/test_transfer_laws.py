"""Laws of the transfer from one metal to another: there and back, order, range."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from math import hypot
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.reference import Reference
from alloyref.domain.transfer import TRANSFER, TransferResult

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Plain = dict[str, Any]
LAW = settings(max_examples=120, derandomize=True, deadline=None)
CLOSE = Fraction(1, 10**20)

masses = st.integers(1, 10_000_000).map(lambda tenths: f"{tenths / 10_000:.4f} g")
contractions = st.integers(0, 1999).map(lambda parts: f"{parts / 10_000:.4f}")


def given_metal(hundredths: int, gold: int = 750) -> Plain:
    """A metal of given density."""
    return {"composition": {"Au": gold, "Cu": 1000 - gold}, "density": f"{hundredths / 100:.2f} g/cm3"}


given_metals = st.builds(given_metal, st.integers(50, 2500), st.sampled_from([333, 585, 750]))


@pytest.fixture(scope="module")
def metals(reference: Reference) -> st.SearchStrategy[Any]:
    """Any metal: of the catalogue, an element, of given composition, of given density."""
    names = st.sampled_from([*reference.alloys, *reference.elements])
    return st.one_of(names, given_metals, st.just({"composition": {"Au": 500, "Ag": 500}}))


def transferred(ask: Ask, mass: str, from_metal: Any, to_metal: Any, **more: str) -> TransferResult:
    asked = {"mass": mass, "from_metal": from_metal, "to_metal": to_metal, **more}
    result: TransferResult = ask(TRANSFER, asked).result
    return result


@LAW
@given(data=st.data(), mass=masses)
def test_there_and_back(ask: Ask, metals: st.SearchStrategy[Any], data: st.DataObject, mass: str) -> None:
    one, other = data.draw(metals), data.draw(metals)
    there = transferred(ask, mass, one, other).mass.value
    back = transferred(ask, f"{there:f} g", other, one)
    start = Fraction(mass.removesuffix(" g"))
    assert abs(Fraction(back.mass.value) / start - 1) <= CLOSE
    ratios = [Fraction(transferred(ask, mass, *pair).ratio.value) for pair in ((one, other), (other, one))]
    assert abs(ratios[0] * ratios[1] - 1) <= CLOSE


@LAW
@given(data=st.data(), mass=masses)
def test_the_same_metal_is_exactly_one(
    ask: Ask, metals: st.SearchStrategy[Any], data: st.DataObject, mass: str
) -> None:
    metal = data.draw(metals)
    result = transferred(ask, mass, metal, metal)
    assert result.ratio.low == result.ratio.value == result.ratio.high == 1
    assert result.mass.low == result.mass.value == result.mass.high == Decimal(mass.removesuffix(" g"))


@LAW
@given(data=st.data(), mass=masses, readability=st.sampled_from([None, "0.01 g", "0.1 g", "1 g"]))
def test_every_value_lies_in_its_range(
    ask: Ask, metals: st.SearchStrategy[Any], data: st.DataObject, mass: str, readability: str | None
) -> None:
    more = {} if readability is None else {"readability": readability}
    result = transferred(ask, mass, data.draw(metals), data.draw(metals), **more)
    for one in (result.mass, result.ratio):
        assert 0 <= one.low <= one.value <= one.high


@LAW
@given(mass=masses, pair=st.tuples(given_metals, given_metals), shrunk=st.tuples(contractions, contractions))
def test_all_given_leaves_no_doubt(ask: Ask, mass: str, pair: tuple[Plain, Plain], shrunk: tuple[str, str]) -> None:
    """Both densities and both contractions given: low, value and high are one number."""
    result = transferred(ask, mass, *pair, contraction_from=shrunk[0], contraction_to=shrunk[1])
    densities = [Fraction(metal["density"].removesuffix(" g/cm3")) for metal in pair]
    exact = densities[1] / densities[0] * ((1 - Fraction(shrunk[1])) / (1 - Fraction(shrunk[0]))) ** 3
    assert abs(Fraction(result.ratio.value) / exact - 1) <= CLOSE
    for one in (result.mass, result.ratio):
        assert one.low == one.value == one.high


@pytest.fixture(scope="module")
def served(reference: Reference) -> dict[str, tuple[float, float, float]]:
    """Low, value and high of the density of every alloy of the catalogue."""
    densities = {name: alloy.metal.density for name, alloy in reference.alloys.items()}
    return {name: (float(one.low), float(one.value), float(one.high)) for name, one in densities.items()}


@LAW
@given(data=st.data())
def test_the_range_is_the_root_of_the_sum_of_squares(
    ask: Ask, served: dict[str, tuple[float, float, float]], data: st.DataObject
) -> None:
    """Low: a light final metal, a dense first one, 0.3 percent for contraction; high: the other way round."""
    one, other = (data.draw(st.sampled_from(list(served))) for _ in range(2))
    assume(one != other and served[one] != served[other])
    ratio = transferred(ask, "1 g", one, other).ratio
    (light, first, dense), (lightest, final, densest) = served[one], served[other]
    below = hypot(1 - lightest / final, dense / first - 1, 0.003)
    above = hypot(densest / final - 1, 1 - light / first, 0.003)
    assert float(ratio.value) == pytest.approx(final / first, rel=1e-12)
    assert float(ratio.low) == pytest.approx(final / first * (1 - below), rel=1e-12)
    assert float(ratio.high) == pytest.approx(final / first * (1 + above), rel=1e-12)


@LAW
@given(data=st.data(), tenths=st.integers(1, 10_000_000), more=st.integers(1, 1_000_000))
def test_more_mass_gives_more_in_proportion(
    ask: Ask, metals: st.SearchStrategy[Any], data: st.DataObject, tenths: int, more: int
) -> None:
    one, other = data.draw(metals), data.draw(metals)
    light = transferred(ask, f"{tenths / 10_000:.4f} g", one, other).mass
    heavy = transferred(ask, f"{(tenths + more) / 10_000:.4f} g", one, other).mass
    for end in ("low", "value", "high"):
        small, large = Fraction(getattr(light, end)), Fraction(getattr(heavy, end))
        assert large > small
        assert abs(large / small / Fraction(tenths + more, tenths) - 1) <= CLOSE


@LAW
@given(mass=masses, one=st.integers(50, 2400), other=st.integers(50, 2400), more=st.integers(1, 100))
def test_densities_pull_their_own_way(ask: Ask, mass: str, one: int, other: int, more: int) -> None:
    """A denser final metal weighs more; from a denser first metal the same mass means less."""
    base = transferred(ask, mass, given_metal(one, 333), given_metal(other, 750)).mass.value
    denser_final = transferred(ask, mass, given_metal(one, 333), given_metal(other + more, 750)).mass.value
    denser_first = transferred(ask, mass, given_metal(one + more, 333), given_metal(other, 750)).mass.value
    assert denser_first < base < denser_final


@LAW
@given(mass=masses, shrunk=st.integers(0, 1900), more=st.integers(1, 90))
def test_a_metal_that_shrinks_more_weighs_less(ask: Ask, mass: str, shrunk: int, more: int) -> None:
    pair = (given_metal(1036, 333), given_metal(1545, 750))
    contractions_to = [f"{one / 10_000:.4f}" for one in (shrunk, shrunk + more)]
    less, most = (
        transferred(ask, mass, *pair, contraction_from="0.01", contraction_to=one).mass.value
        for one in reversed(contractions_to)
    )
    assert less < most


@LAW
@given(data=st.data(), mass=st.integers(10_000, 10_000_000).map(lambda tenths: f"{tenths / 10_000:.4f} g"))
def test_a_coarser_balance_never_narrows_the_range(
    ask: Ask, metals: st.SearchStrategy[Any], data: st.DataObject, mass: str
) -> None:
    one, other = data.draw(metals), data.draw(metals)
    fine = transferred(ask, mass, one, other, readability="0.001 g").mass
    coarse = transferred(ask, mass, one, other, readability="0.1 g").mass
    assert coarse.value == fine.value
    assert coarse.low < fine.low
    assert coarse.high > fine.high
