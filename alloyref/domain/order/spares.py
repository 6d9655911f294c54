"""How many castings to make so that enough come out good."""

from __future__ import annotations

from math import exp, log, log1p

from alloyref.domain.errors import InvalidInput
from alloyref.domain.order.inputs import MOST_PIECES, Spares

MOST_CASTINGS = MOST_PIECES * 2
ROUNDING = 1e-12
"""Float noise in the sum of chances; a confidence met within it counts as met."""


def castings_needed(pieces: int, spares: Spares | None) -> int:
    """Castings to make for `pieces` good ones.

    With a count, that many more. With a success rate p and a confidence c, the least n for which
    at least `pieces` of n independent castings succeed with probability c or more (binomial).
    Raises `InvalidInput` if both or neither are given, or if no reasonable number is enough.

    >>> from decimal import Decimal
    >>> castings_needed(1, Spares(success_rate=Decimal("0.5"), confidence=Decimal("0.9")))
    4
    """
    if spares is None:
        return pieces
    if (spares.count is None) == (spares.success_rate is None):
        raise InvalidInput.of("one-of", "Give a count of spares, or a success_rate.", "/spares")
    if spares.success_rate is None:
        return pieces + (spares.count or 0)
    failure = 1.0 - float(spares.success_rate)
    if failure <= 0.0:
        return pieces
    return _least_castings(pieces, failure, 1.0 - float(spares.confidence))


def _least_castings(pieces: int, failure: float, risk: float) -> int:
    """Add the chances that the last good piece is casting n (negative binomial) until enough is sure."""
    log_chance, castings = pieces * log1p(-failure), pieces
    sure = exp(log_chance)
    while sure < 1.0 - risk - ROUNDING:
        castings += 1
        if castings > MOST_CASTINGS:
            raise InvalidInput.of(
                "no-answer",
                f"Even {MOST_CASTINGS} castings are not enough at that rate.",
                "/spares/success_rate",
            )
        log_chance += log(failure * (castings - 1) / (castings - pieces))
        sure += exp(log_chance)
    return castings
