"""Laws of raising and lowering: the metal is all there, the target is met, and what cannot be is refused."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from alloyref.domain.alter_fineness import ALTER_FINENESS, addition_for_each
from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.errors import NotAvailable
from alloyref.domain.numbers import EXACT

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
LAW = settings(max_examples=150, derandomize=True, deadline=None)
TINY = Fraction(1, 10**30)

tenths = st.integers(0, 10_000)
# Up to 90 g: even the worst target then takes less than the tonne that is the most.
masses = st.integers(1, 900_000).map(lambda part: Decimal(part).scaleb(-4))


def permille(part: int) -> str:
    """Tenths of a permille as sent."""
    return f"{part / 10:.1f} permille"


def between(lot: int, target: int, added: int) -> bool:
    """Whether the target lies between the two, the lot's own end included."""
    return lot == target or (lot < target < added) or (added < target < lot)


@LAW
@given(mass=masses, lot=tenths, target=tenths, added=tenths)
def test_the_target_is_met_or_refused(ask: Ask, mass: Decimal, lot: int, target: int, added: int) -> None:
    asked = {"mass": f"{mass} g", "fineness": permille(lot), "target": permille(target)}
    if not between(lot, target, added):
        with pytest.raises(NotAvailable, match=r"cannot (raise|lower)"):
            ask(ALTER_FINENESS, {**asked, "with_fineness": permille(added)})
        return
    got = ask(ALTER_FINENESS, {**asked, "with_fineness": permille(added)}).result
    assert got.total == EXACT.add(got.lot, got.add)
    assert got.lot == mass
    assert got.add >= 0
    fine = Fraction(got.lot) * lot + Fraction(got.add) * added
    assert abs(fine / Fraction(got.total) - target) < TINY
    assert got.action == ("none" if lot == target else "raise" if target > lot else "lower")


@LAW
@given(three=st.tuples(tenths, tenths, tenths), mass=masses, step=st.sampled_from(["0.01", "0.1", "1", "0.0311"]))
def test_a_rounded_addition_never_falls_short(
    ask: Ask, three: tuple[int, int, int], mass: Decimal, step: str
) -> None:
    lot, target, added = three
    assume(lot != target and between(lot, target, added))
    finenesses = {"fineness": permille(lot), "target": permille(target), "with_fineness": permille(added)}
    got = ask(ALTER_FINENESS, {"mass": f"{mass} g", **finenesses, "step": f"{step} g"}).result
    assert got.add % Decimal(step) == 0
    has = (Fraction(got.lot) * lot + Fraction(got.add) * added) / Fraction(got.total)
    assert has >= target
    exact = Fraction(mass) * Fraction(target - lot, added - target)
    assert abs(Fraction(got.add) - exact) < Fraction(step)


@LAW
@given(total=masses, lot=tenths, target=tenths, added=tenths)
def test_a_total_is_shared_between_the_two(ask: Ask, total: Decimal, lot: int, target: int, added: int) -> None:
    assume(lot != target and between(lot, target, added))
    asked = {"mass": f"{total} g", "mass_of": "total", "fineness": permille(lot), "target": permille(target)}
    got = ask(ALTER_FINENESS, {**asked, "with_fineness": permille(added)}).result
    assert EXACT.add(got.lot, got.add) == got.total == total
    assert abs(Fraction(got.lot) * lot + Fraction(got.add) * added - Fraction(total) * target) < Fraction(1, 10**20)


@LAW
@given(lot=tenths, target=tenths)
def test_there_and_back_with_fine_and_alloying_metal(lot: int, target: int) -> None:
    """Raised with fine metal, then lowered with nothing fine, the fine metal is all there."""
    assume(0 < lot < target < 10_000)
    low, high = Fraction(lot, 10_000), Fraction(target, 10_000)
    up = addition_for_each(low, high, Fraction(1))
    down = addition_for_each(high, low, Fraction(0))
    assert (1 + up) * (1 + down) * low == low + up


COMPOSITIONS = [
    {"Au": 750, "Ag": 125, "Cu": 125},
    {"Au": 375, "Ag": 100, "Cu": 525},
    {"Ag": 500, "Cu": 500},
    {"Au": 1000},
]


@LAW
@given(mass=masses, pair=st.permutations(COMPOSITIONS), target=st.integers(1, 999))
def test_the_composition_is_that_of_both(ask: Ask, mass: Decimal, pair: list[dict[str, int]], target: int) -> None:
    lot, added = pair[:2]
    assume(between(lot.get("Au", 0), target, added.get("Au", 0)))
    asked = {"mass": f"{mass} g", "base": "Au", "target": f"{target} permille"}
    got = ask(ALTER_FINENESS, {**asked, "metal": {"composition": lot}, "with_metal": {"composition": added}}).result
    assert sum(got.composition.values()) == 1000
    assert abs(got.composition["Au"] - target) <= Decimal("0.002")
    for symbol in ("Ag", "Cu"):
        own = Fraction(got.lot) * lot.get(symbol, 0) + Fraction(got.add) * added.get(symbol, 0)
        assert abs(Fraction(got.composition.get(symbol, Decimal(0))) - own / Fraction(got.total)) <= Fraction(2, 1000)
