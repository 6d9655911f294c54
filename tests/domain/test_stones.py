"""Stones are not metal: their mass comes off a weighed trial, their room off a pattern or model."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.order import ORDER

Order = Callable[..., Any]
NOTHING_LOST = {"sprue_share": 0, "melt_loss": 0, "finishing_loss": 0}
CARAT = Decimal("0.2")
TOLERANCE = Decimal("0.0001")


@pytest.fixture
def ratio(order: Order) -> Decimal:
    """Final metal for each gram of trial metal, from an order without stones."""
    value: Decimal = order(allowances=NOTHING_LOST).piece_mass.value / 10
    return value


@pytest.mark.parametrize(
    ("stones", "carats"),
    [
        ([("1 ct", 1)], 1),
        ([("0.12 ct", 8)], "0.96"),
        ([("2 ct", 1), ("5 point", 10)], "2.5"),
        ([("0.5 g", 1)], "2.5"),
    ],
)
def test_carats_come_off_the_weighed_trial(
    order: Order, ratio: Decimal, stones: list[tuple[str, int]], carats: Any
) -> None:
    given = [{"mass": mass, "count": count} for mass, count in stones]
    result = order(stones=given, allowances=NOTHING_LOST)
    metal = 10 - Decimal(carats) * CARAT
    assert abs(result.piece_mass.value - metal * ratio) <= TOLERANCE * 2
    line = result.lines[0]
    assert abs(line.gross_mass - line.finished_mass.value - Decimal(carats) * CARAT) <= TOLERANCE


def test_stones_count_for_each_piece_weighed(order: Order, ratio: Decimal) -> None:
    trial = {"metal": "sterling-silver", "mass": "10 g", "pieces_weighed": 4}
    result = order(trial=trial, stones=[{"mass": "1 ct", "count": 2}], allowances=NOTHING_LOST)
    assert abs(result.piece_mass.value - (10 - 4 * 2 * CARAT) / 4 * ratio) <= TOLERANCE * 2


@pytest.mark.parametrize(("kind", "density"), [("diamond", "3.52"), ("corundum", "4.00")])
def test_the_room_of_a_stone_comes_off_a_model(ask: Any, reference: Any, kind: str, density: str) -> None:
    gold = reference.alloys["gold-585-yellow"].metal.density.value
    data = {"final_metal": "gold-585-yellow", "volume": "900 mm3", "allowances": NOTHING_LOST}
    plain = ask(ORDER, data).result.piece_mass.value
    set_ = ask(ORDER, {**data, "stones": [{"mass": "0.5 ct", "count": 3, "kind": kind}]}).result.piece_mass.value
    assert abs(plain - Decimal("0.9") * gold) <= TOLERANCE
    assert abs(plain - set_ - 3 * Decimal("0.1") / Decimal(density) * gold) <= TOLERANCE


def test_a_density_of_ones_own_goes_before_the_table(ask: Any, reference: Any) -> None:
    gold = reference.alloys["gold-585-yellow"].metal.density.value
    stone = {"mass": "0.5 g", "kind": "diamond", "density": "2.5 g/cm3"}
    data = {"final_metal": "gold-585-yellow", "volume": "900 mm3", "allowances": NOTHING_LOST, "stones": [stone]}
    found = ask(ORDER, data).result.piece_mass.value
    assert abs(found - (Decimal("0.9") - Decimal("0.2")) * gold) <= TOLERANCE


def test_the_room_of_a_stone_comes_off_a_pattern(ask: Any, reference: Any) -> None:
    gold = reference.alloys["gold-585-yellow"].metal.density.value
    pattern = {"mass": "0.96 g", "density": "0.96 g/cm3"}
    data = {"final_metal": "gold-585-yellow", "pattern": pattern, "allowances": NOTHING_LOST}
    stones = [{"mass": "0.352 g", "kind": "diamond"}]
    found = ask(ORDER, {**data, "stones": stones})
    assert abs(found.result.piece_mass.value - (1 - Decimal("0.1")) * gold) <= TOLERANCE
    assert "stones-displace" in [one.id for one in found.assumptions]


def test_in_a_weighed_trial_the_kind_of_stone_makes_no_difference(order: Order) -> None:
    masses = {
        order(stones=[{"mass": "1 ct", **kind}]).piece_mass.value
        for kind in ({}, {"kind": "diamond"}, {"kind": "quartz"})
    }
    assert len(masses) == 1


def test_stones_are_in_no_account_of_metal(order: Order) -> None:
    result = order(stones=[{"mass": "3 ct"}], allowances=NOTHING_LOST)
    assert 0 <= result.charge.value - result.piece_mass.value <= TOLERANCE
    assert result.balance.total.pieces == result.charge.value
    assert set(result.balance.elements) == {"Au", "Ag", "Cu"}


def test_stones_of_another_piece_are_its_own(order: Order) -> None:
    other = {"name": "pendant", "trial": {"metal": "sterling-silver", "mass": "10 g"}, "stones": [{"mass": "5 ct"}]}
    main, pendant = order(others=[other], allowances=NOTHING_LOST).lines
    assert abs(pendant.piece_mass.value - main.piece_mass.value * 9 / 10) <= TOLERANCE * 2
