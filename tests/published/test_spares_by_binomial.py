"""Castings to make for enough good ones, against the exact binomial sum in fractions."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import comb

import pytest

from alloyref.domain.order.inputs import Spares
from alloyref.domain.order.spares import castings_needed

CASES = [
    (pieces, rate, confidence)
    for pieces in (1, 2, 3, 5, 12, 40)
    for rate in ("0.5", "0.7", "0.85", "0.95", "0.99")
    for confidence in ("0.5", "0.9", "0.95", "0.999")
]


def chance_of_enough(castings: int, pieces: int, success: Fraction) -> Fraction:
    """The probability that at least `pieces` of the castings come out well."""
    terms = (
        comb(castings, good) * success**good * (1 - success) ** (castings - good)
        for good in range(pieces, castings + 1)
    )
    return sum(terms, Fraction(0))


@pytest.mark.parametrize(("pieces", "rate", "confidence"), CASES)
def test_the_least_number_that_is_sure_enough(pieces: int, rate: str, confidence: str) -> None:
    castings = castings_needed(pieces, Spares(success_rate=Decimal(rate), confidence=Decimal(confidence)))
    success, sure = Fraction(rate), Fraction(confidence)
    assert chance_of_enough(castings, pieces, success) >= sure
    if castings > pieces:
        assert chance_of_enough(castings - 1, pieces, success) < sure


def test_a_confidence_met_exactly_counts_as_met() -> None:
    """One of two at one half: 1 - 1/4 = 0.75 to the last digit, so two castings and not three."""
    assert castings_needed(1, Spares(success_rate=Decimal("0.5"), confidence=Decimal("0.75"))) == 2


@pytest.mark.parametrize("pieces", [300, 2000])
def test_large_orders_against_the_normal_curve(pieces: int) -> None:
    """n with n p - 1.645 sqrt(n p q) = k - 1/2 for 95 percent, to within one good casting."""
    castings = castings_needed(pieces, Spares(success_rate=Decimal("0.8"), confidence=Decimal("0.95")))
    margin = castings * 0.8 - 1.6449 * (castings * 0.16) ** 0.5 - (pieces - 0.5)
    assert abs(margin) < 1
