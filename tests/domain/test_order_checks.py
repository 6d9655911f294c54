"""What an order asks to be looked at again, and what it says of rules that bear on little metal."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.order import ORDER

Order = Callable[..., Any]
STERLING = "sterling-silver"


def trial(mass: str, **more: Any) -> dict[str, Any]:
    """A sterling trial."""
    return {"trial": {"metal": STERLING, "mass": mass, **more}}


@pytest.mark.parametrize(
    ("mass", "meant"),
    [("592 g", "5.92 g"), ("59.2 g", "5.92 g"), ("5920 g", "5.92 g"), ("380 dwt", "5.909660592 g")],
)
def test_a_trial_that_no_piece_weighs_is_questioned_and_answered(order: Order, mass: str, meant: str) -> None:
    (warning,) = order(**trial(mass)).warnings
    assert "for one piece is unusual" in warning
    assert f"Did you mean {meant} in place of" in warning


@pytest.mark.parametrize(
    "plain",
    [
        trial("5.92 g"),
        trial("49 g"),
        trial("592 g", pieces_weighed=60),
        trial("80 g", stage="with-sprue", sprue_mass="60 g"),
    ],
)
def test_what_pieces_do_weigh_is_not(order: Order, plain: dict[str, Any]) -> None:
    assert order(**plain).warnings == ()


@pytest.mark.parametrize(
    ("way", "meant"),
    [({"pattern": {"mass": "6.6 g", "density": "1 g/cm3"}}, "0.66 g"), ({"volume": "6 cm3"}, "0.6 cm3")],
)
def test_a_pattern_or_model_too_large_is_questioned_too(ask: Any, way: dict[str, Any], meant: str) -> None:
    (warning,) = ask(ORDER, {"final_metal": STERLING, **way}).result.warnings
    assert f"Did you mean {meant} in place of" in warning


def test_g_for_dwt_is_named_where_two_ways_in_stand_so(order: Order, reference: Any) -> None:
    """A model of 4 dwt of sterling beside a trial typed as 4 g."""
    cubic = 4 * Decimal("1.55517384") / reference.metal(STERLING).density.value
    (warning,) = order(**trial("4 g"), volume=f"{cubic:.6f} cm3").warnings
    assert "g to dwt" in warning
    (warning,) = order(**trial("4 g"), volume="0.5 cm3").warnings
    assert "porosity, a stone" in warning


def test_other_pieces_are_compared_by_their_own_name(order: Order) -> None:
    pendant = {"name": "pendant", "volume": "1 cm3", "pattern": {"mass": "0.5 g", "density": "1 g/cm3"}}
    result = order(others=[pendant])
    assert [(one.line, one.way, one.used) for one in result.checks] == [
        ("pendant", "volume", True),
        ("pendant", "pattern", False),
    ]
    assert [one.difference_percent for one in result.checks] == [0, -50]
    assert result.warnings[0].startswith("pendant: the pattern says")
    assert [line.way for line in result.lines] == ["trial", "volume"]


def test_one_way_in_has_nothing_to_compare(order: Order) -> None:
    assert order().checks == ()


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({**trial("3 g")}, True),
        ({**trial("3 g"), "pieces": 20}, False),
        ({**trial("3 g"), "allowances": {"sprue_share": 0.5}}, False),
        ({**trial("3 g"), "allowances": {"button_mass": "10 g"}}, False),
    ],
)
def test_a_default_share_for_one_small_ring_tells_the_other_rules(
    outcome: Callable[..., Any], changes: dict[str, Any], told: bool
) -> None:
    ids = {one.id for one in outcome(**changes).assumptions}
    assert ids.issuperset({"button-at-least-pieces", "button-fixed"}) == told


def test_the_finishing_loss_taken_holds_the_measured_case(outcome: Callable[..., Any]) -> None:
    """One ring measured by T. Teague: cast 5.877 g, finished 4.907 g."""
    (loss,) = (one.basis for one in outcome().assumptions if one.id == "finishing-loss")
    measured = 1 - Decimal("4.907") / Decimal("5.877")
    assert loss.low <= measured <= loss.high
