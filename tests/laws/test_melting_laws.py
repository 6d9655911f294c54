"""Laws of the melting estimate: order, exactness, continuity, and a refusal that does not waver."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.composition import Composition
from alloyref.domain.errors import NotAvailable
from alloyref.domain.melting import (
    GOLD_ERROR,
    LEAST_GOLD,
    LEAST_SILVER,
    LITTLE_GOLD,
    STEPS,
    SYSTEM,
    MeltingTable,
    node_index,
)
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference

LAW = settings(max_examples=150, derandomize=True, deadline=None)
MILLION = 1_000_000
Ends = tuple[Property, Property]
Melting = Callable[[Composition], Ends]


@pytest.fixture(scope="module")
def melting(reference: Reference) -> Melting:
    """The one door to the estimate, as a function: hypothesis would print all that a method belongs to."""

    def estimated(whole: Composition) -> Ends:
        return reference.estimated_melting(whole)

    return estimated


@pytest.fixture(scope="module")
def table(reference: Reference) -> Callable[[], MeltingTable]:
    """The table, behind a call: hypothesis would print all of it."""
    return lambda: reference.melting


@st.composite
def shares(draw: st.DrawFn) -> tuple[int, int]:
    """Gold and silver in millionths of the mass, the rest copper."""
    gold = draw(st.integers(0, MILLION))
    return gold, draw(st.integers(0, MILLION - gold))


def composition(gold: int, silver: int) -> Composition:
    """The composition of those millionths."""
    parts = zip(SYSTEM, (gold, silver, MILLION - gold - silver), strict=True)
    return Composition(tuple((symbol, Decimal(share).scaleb(-3)) for symbol, share in parts if share))


def served(melting: Melting, gold: int, silver: int) -> Ends | None:
    """The estimate, or None where it is refused."""
    try:
        return melting(composition(gold, silver))
    except NotAvailable:
        return None


@LAW
@given(at=shares())
def test_solid_below_liquid_and_each_inside_its_range(melting: Melting, at: tuple[int, int]) -> None:
    ends = served(melting, *at)
    if ends is not None:
        assert ends[0].value <= ends[1].value
        assert all(one.low <= one.value <= one.high for one in ends)


@LAW
@given(at=shares())
def test_between_nodes_never_outside_the_corners(table: Callable[[], MeltingTable], at: tuple[int, int]) -> None:
    """Also where the service refuses: the table itself is whole."""
    held = table()
    gold, silver = (Decimal(share).scaleb(-3) for share in at)
    row, column = at[0] // 10_000, at[1] // 10_000
    near = [(row + a, column + b) for a in (0, 1) for b in (0, 1) if row + a + column + b <= STEPS]
    for value, nodes in zip(held.at(gold, silver), (held.solidus, held.liquidus), strict=True):
        corners = [Decimal(nodes[node_index(*node)]) / 100 for node in near]
        assert min(corners) <= value <= max(corners)


@LAW
@given(gold=st.integers(0, STEPS), part=st.integers(0, STEPS))
def test_exact_at_the_nodes(table: Callable[[], MeltingTable], gold: int, part: int) -> None:
    silver = part * (STEPS - gold) // STEPS
    held, index = table(), node_index(gold, silver)
    assert held.at(Decimal(gold * 10), Decimal(silver * 10)) == (
        Decimal(held.solidus[index]) / 100,
        Decimal(held.liquidus[index]) / 100,
    )


@LAW
@given(at=shares(), steps=st.lists(st.sampled_from([(1, 0), (0, 1), (1, -1)]), min_size=1, max_size=6))
def test_continuous(table: Callable[[], MeltingTable], at: tuple[int, int], steps: list[tuple[int, int]]) -> None:
    """A millionth of the mass moves neither end by more than the steepest triangle allows, 300 C a percent."""
    path = [at]
    for across, along in steps:
        gold, silver = path[-1][0] + across, path[-1][1] + along
        if min(gold, silver) >= 0 and gold + silver <= MILLION:
            path.append((gold, silver))
    held = table()
    temperatures = [held.at(Decimal(gold).scaleb(-3), Decimal(silver).scaleb(-3)) for gold, silver in path]
    for one, other in pairwise(temperatures):
        assert abs(one[0] - other[0]) <= Decimal("0.03")
        assert abs(one[1] - other[1]) <= Decimal("0.03")


@LAW
@given(at=shares())
def test_a_refusal_is_stable(melting: Melting, at: tuple[int, int]) -> None:
    """It depends on the field alone: the same again, and whatever order the parts are told in."""
    whole = composition(*at)
    turned = Composition(tuple(reversed(whole.parts)))
    first, again = served(melting, *at), served(melting, *at)
    assert first == again
    try:
        other = melting(turned)
    except NotAvailable:
        other = None
    assert other == first
    gold, silver, copper = (Decimal(part).scaleb(-3) for part in (*at, MILLION - sum(at)))
    in_silver = gold <= LITTLE_GOLD and silver >= LEAST_SILVER
    assert (first is None) == (1 < gold < LEAST_GOLD and copper > 1 and not in_silver)


little_gold = st.integers(1, int(LITTLE_GOLD) * 1000)
ratios = st.integers(515, 998)
"""Permille of silver in silver and copper; with less copper it is an alloy of gold and silver."""


@LAW
@given(gold=little_gold, ratio=ratios, less=st.integers(0, 1000))
def test_a_little_gold_in_silver_moves_both_ends_a_little(melting: Melting, gold: int, ratio: int, less: int) -> None:
    """Of so many permille of silver in silver and copper: neither value nor range jumps, also not at a trace."""

    def at(share: int) -> Ends:
        return melting(composition(share, (MILLION - share) * ratio // 1000))

    for more, fewer in zip(at(gold), at(max(0, gold - less)), strict=True):
        for end in ("value", "low", "high"):
            # A permille of gold: 0.3 C by the table, 0.5 C of doubt, 30 C over the 40 permille of the dilute.
            assert abs(getattr(more, end) - getattr(fewer, end)) <= Decimal(less) * Decimal("0.00155") + Decimal(
                "0.4"
            )


@LAW
@given(gold=little_gold, ratio=ratios)
def test_the_range_has_room_for_gold_that_does_nothing_or_twice_what_the_model_says(
    melting: Melting, table: Callable[[], MeltingTable], gold: int, ratio: int
) -> None:
    whole = composition(gold, (MILLION - gold) * ratio // 1000)
    without = table().at(Decimal(0), Decimal(ratio))
    for served, alone, error in zip(melting(whole), without, (30, 12), strict=True):
        change = served.value - alone
        doubt = GOLD_ERROR * whole.fineness("Au")
        assert 2 * abs(change) <= doubt + Decimal("0.6")
        # By silver-copper's own error further down only where nothing colder can be.
        assert served.high - served.value >= min(doubt, error)
        assert served.low <= alone <= served.high


@pytest.mark.parametrize("symbol", SYSTEM)
def test_a_pure_metal_has_one_exact_point(reference: Reference, symbol: str) -> None:
    ends = reference.estimated_melting(Composition.pure(symbol))
    assert ends[0] is ends[1] is reference.elements[symbol].melting_point


@LAW
@given(symbol=st.sampled_from(SYSTEM), less=st.integers(1, 20))
def test_nearly_pure_is_nearly_the_pure_metal(
    reference_points: dict[str, Decimal], melting: Melting, symbol: str, less: int
) -> None:
    """Up to 20 ppm of another metal the range holds the fixed point to a tenth of a degree."""
    other = "Cu" if symbol == "Ag" else "Ag"
    whole = Composition(((symbol, 1000 - Decimal(less).scaleb(-3)), (other, Decimal(less).scaleb(-3))))
    for one in melting(whole):
        assert one.low - Decimal("0.2") <= reference_points[symbol] <= one.high + Decimal("0.2")


@pytest.fixture(scope="module")
def reference_points(reference: Reference) -> dict[str, Decimal]:
    """Melting points by element, in C."""
    return {symbol: reference.elements[symbol].melting_point.value for symbol in SYSTEM}
