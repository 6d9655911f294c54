"""What is taken for granted of contraction is told wherever it widens a range."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.transfer import TRANSFER

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
GIVEN = ("0.015", "0.0125")


def assumed(outcome: Outcome) -> bool:
    """Whether the answer says that contractions are taken to be alike."""
    return "equal-contraction" in {one.id for one in outcome.assumptions}


@pytest.mark.parametrize(
    ("metal", "contractions", "said"),
    [
        ("gold-585-yellow", (None, None), True),
        ("gold-585-yellow", (GIVEN[0], None), True),
        ("gold-585-yellow", (None, GIVEN[1]), True),
        ("gold-585-yellow", GIVEN, False),
        ("sterling-silver", (None, None), False),
    ],
)
def test_an_order_from_a_trial_says_as_a_transfer_does_that_contractions_are_taken_alike(
    ask: Ask, metal: str, contractions: tuple[str | None, str | None], said: bool
) -> None:
    trial = {"metal": "sterling-silver", "mass": "4.82 g", "contraction": contractions[0]}
    order = {"trial": trial, "final_metal": metal, "final_contraction": contractions[1], "pieces": 3}
    moved = {"mass": "4.82 g", "from_metal": "sterling-silver", "to_metal": metal}
    moved |= {"contraction_from": contractions[0], "contraction_to": contractions[1]}
    ordered, transferred = ask(ORDER, order), ask(TRANSFER, moved)
    assert assumed(ordered) == assumed(transferred) == said
    assert abs(ordered.result.piece_mass.low - transferred.result.mass.low) <= Decimal("0.0001")
