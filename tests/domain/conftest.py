"""Orders for the tests of the domain."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order import ORDER

BASE = {"trial": {"metal": "sterling-silver", "mass": "10 g"}, "final_metal": "gold-585-yellow"}


@pytest.fixture
def outcome(ask: Callable[[Calculation, dict[str, Any]], Outcome]) -> Callable[..., Outcome]:
    """Ask for a small order with some inputs changed; the whole outcome."""

    def asked(**changes: Any) -> Outcome:
        return ask(ORDER, {**BASE, **changes})

    return asked


@pytest.fixture
def order(outcome: Callable[..., Outcome]) -> Callable[..., Any]:
    """Ask for a small order with some inputs changed; its result."""

    def asked(**changes: Any) -> Any:
        return outcome(**changes).result

    return asked
