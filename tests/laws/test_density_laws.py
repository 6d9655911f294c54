"""Laws of the density model: ranges hold, ideal pairs run smoothly, order and scale do not matter."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.composition import Composition
from alloyref.domain.density import WORST_ERROR, DensityModel, ideal_mixing
from alloyref.domain.errors import NotAvailable
from alloyref.domain.reference import Reference

LAW = settings(max_examples=120, derandomize=True, deadline=None)
ELEMENTS = ["Au", "Ag", "Cu", "Pd", "Pt", "Ni", "Zn", "Sn", "Co", "Ru", "Ir", "Rh", "Ga", "In", "Ge", "Si", "Mn"]
ELEMENTS += ["Fe", "Al", "Cr", "Ti", "Cd", "Pb", "W", "Sb", "Mo", "Li", "Be"]
CONTRACTING = {frozenset(("Cu", "Si")), frozenset(("Cu", "Zn"))}
SWELLING = frozenset(("Au", "Cu"))
TERMS = CONTRACTING | {SWELLING}
TINY = Decimal("1e-20")


@pytest.fixture(scope="module")
def model(reference: Reference) -> DensityModel:
    """The model as served."""
    return reference.density_model


@st.composite
def compositions(draw: st.DrawFn, known: list[str] = ELEMENTS) -> Composition:
    """Up to six elements in any shares."""
    symbols = draw(st.lists(st.sampled_from(known), min_size=1, max_size=6, unique=True))
    weights = [draw(st.integers(1, 1000)) for _ in symbols]
    shares = [Decimal(weight * 1000) / sum(weights) for weight in weights]
    return Composition.from_permille(dict(zip(symbols, shares, strict=True)), ELEMENTS)


def pair(first: str, second: str, permille: Decimal | int) -> Composition:
    shares = {first: Decimal(permille), second: 1000 - Decimal(permille)}
    return Composition.from_permille(shares, ELEMENTS)


def test_every_element_is_tried(reference: Reference) -> None:
    assert set(ELEMENTS) == set(reference.elements)


@LAW
@given(composition=compositions())
def test_an_estimate_lies_in_its_range_or_is_refused_with_a_reason(
    model: DensityModel, composition: Composition
) -> None:
    try:
        served = model.estimate(composition)
    except NotAvailable:
        with pytest.raises(NotAvailable, match="Give the measured density"):
            model.estimate(composition)
        assert len(composition.parts) > 1
        return
    assert served.low < served.value <= served.high
    assert abs(served.value - model.density(composition)) <= Decimal("0.005")
    assert served.high <= served.value * (1 + WORST_ERROR) + Decimal("0.02")
    assert served.note or len(composition.parts) == 1


@LAW
@given(composition=compositions())
def test_without_a_term_it_lies_between_the_elements(model: DensityModel, composition: Composition) -> None:
    held = set(composition.elements)
    mixed = model.density(composition)
    values = {symbol: one.value for symbol, one in model.elements.items()}
    ideal = ideal_mixing(composition, values)
    contracts, swells = any(term <= held for term in CONTRACTING), held >= SWELLING
    if contracts and not swells:
        assert mixed > ideal
    if swells and not contracts:
        assert mixed <= ideal
    ends = [values[symbol] for symbol in held]
    if not contracts:
        assert min(ends) - TINY <= mixed <= max(ends) + TINY


@LAW
@given(gold=st.integers(10, 990), others=st.integers(1, 60), symbol=st.sampled_from(["Ag", "Pd", "Sn"]))
def test_a_term_that_fades_stays_in_the_range(model: DensityModel, gold: int, others: int, symbol: str) -> None:
    """Gold-copper with a third metal: the whole term lies in the served range, and none of it once it is gone."""
    rest = (1000 - others) * Decimal(gold) / 1000
    alloy = Composition.from_permille({"Au": rest, "Cu": 1000 - others - rest, symbol: Decimal(others)}, ELEMENTS)
    whole = replace(model, terms=[replace(term, fades=None) for term in model.terms])
    served = model.estimate(alloy)
    assert served.low <= whole.density(alloy) <= served.high
    if others >= 50:
        assert model.density(alloy) == replace(model, terms=()).density(alloy)


@LAW
@given(gold=st.integers(100, 900), others=st.integers(0, 60))
def test_a_permille_of_silver_moves_red_gold_little(model: DensityModel, gold: int, others: int) -> None:
    """No step where the term of gold-copper fades out, neither in the value nor in the range."""
    near = [
        model.estimate(
            Composition.from_permille(
                {"Au": Decimal(gold), "Ag": Decimal(silver), "Cu": Decimal(1000 - gold - silver)}, ELEMENTS
            )
        )
        for silver in (others, others + 1)
    ]
    for end in ("value", "low", "high"):
        assert abs(getattr(near[1], end) / getattr(near[0], end) - 1) < Decimal("0.004")


@LAW
@given(
    symbols=st.lists(st.sampled_from(ELEMENTS), min_size=2, max_size=2, unique=True).filter(
        lambda two: frozenset(two) not in TERMS
    )
)
def test_an_ideal_pair_runs_one_way_and_without_steps(model: DensityModel, symbols: list[str]) -> None:
    light, heavy = sorted(symbols, key=lambda symbol: model.elements[symbol].value)
    densities = [model.density(pair(heavy, light, share)) for share in range(0, 1001, 20)]
    span = densities[-1] - densities[0]
    steepest = densities[-1] / densities[0]  # of the reciprocal rule, at the heavy end
    for low, high in pairwise(densities):
        assert Decimal(0) <= high - low <= span * steepest * Decimal("0.0201") + TINY


@LAW
@given(share=st.integers(0, 1000), symbols=st.sampled_from([("Cu", "Zn"), ("Cu", "Si"), ("Ag", "Cu"), ("Au", "Cu")]))
def test_a_thousandth_more_moves_the_density_little(
    model: DensityModel, share: int, symbols: tuple[str, str]
) -> None:
    here = model.density(pair(*symbols, share))
    near = model.density(pair(*symbols, min(share + 1, 1000)))
    assert abs(near / here - 1) < Decimal("0.005")


@LAW
@given(composition=compositions(), seed=st.randoms(use_true_random=False))
def test_the_order_of_the_parts_does_not_matter(model: DensityModel, composition: Composition, seed: object) -> None:
    parts = list(composition.parts)
    seed.shuffle(parts)  # type: ignore[attr-defined]
    turned = model.density(Composition(tuple(parts)))
    assert abs(turned / model.density(composition) - 1) < TINY


@LAW
@given(composition=compositions(), factor=st.decimals(min_value="0.1", max_value=10, places=3))
def test_it_scales_with_the_unit_of_volume(model: DensityModel, composition: Composition, factor: Decimal) -> None:
    """Densities in another unit, and terms in its inverse, give the same density in that unit."""
    elements = {symbol: replace(one, value=one.value * factor) for symbol, one in model.elements.items()}
    terms = [replace(term, value=term.value / factor) for term in model.terms]
    scaled = DensityModel(elements, terms, model.limits).density(composition)
    assert abs(scaled / factor / model.density(composition) - 1) < TINY


@LAW
@given(
    gold=st.integers(300, 800),
    silver=st.integers(10, 190),
    trace=st.sampled_from([symbol for symbol in ELEMENTS if symbol not in ("Au", "Ag", "Cu", "Li", "Be")]),
)
def test_a_trace_widens_the_range_by_a_trace(model: DensityModel, gold: int, silver: int, trace: str) -> None:
    """Half a permille of something no row backs may not open the range of a field at a stroke."""
    shares = {"Au": Decimal(gold), "Ag": Decimal(silver), "Cu": Decimal(1000 - gold - silver)}
    clean = Composition.from_permille(shares, ELEMENTS)
    soiled = Composition.from_permille({**shares, "Au": gold - Decimal("0.5"), trace: Decimal("0.5")}, ELEMENTS)
    widths = [one.high / one.value - 1 for one in (model.estimate(clean), model.estimate(soiled))]
    assert abs(widths[1] - widths[0]) < Decimal("0.002")
