"""From pieces to the charge: castings, sprue and button, safety, melt loss; shared out by volume."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from alloyref.domain.estimate import ONE, ZERO, Estimate
from alloyref.domain.numbers import EXACT, STEPS, Rounding, round_to
from alloyref.domain.order.castings import BOOK_DECIMALS, Line, Terms

QUANTUM = STEPS[BOOK_DECIMALS]


@dataclass(frozen=True, slots=True)
class Charge:
    """The metal weighed into the crucible and where it goes, in g; the parts sum to the total exactly."""

    total: Decimal
    castings: Decimal
    sprue: Decimal
    safety: Decimal
    melt_loss: Decimal
    spread: Estimate
    """Low and high of the total, from the ranges of the pieces, which err together."""


def charge_of(lines: Sequence[Line], terms: Terms) -> Charge:
    """The charge for these lines.

    castings + sprue and button + safety = poured; poured / (1 - melt loss) = charge, all in g.
    Everything is brought to the books' tenth of a milligram, up, so that the charge never falls short.
    """
    castings = sum((line.castings_mass for line in lines), ZERO)
    if terms.allowances.sprue_mass is not None:
        sprue = terms.allowances.sprue_mass * lines[0].per_material
    else:
        sprue = castings * terms.sprue_share
    sprue = round_to(sprue, BOOK_DECIMALS, Rounding.UP)
    safety = round_to((castings + sprue) * terms.allowances.safety, BOOK_DECIMALS, Rounding.UP)
    poured = castings + sprue + safety
    total = round_to(EXACT.divide(poured, ONE - terms.melt_loss), BOOK_DECIMALS, Rounding.UP)
    piece = Estimate(
        castings,
        *(sum((getattr(n.as_cast, end) * n.castings for n in lines), ZERO) for end in ("low", "high")),
    )
    spread = Estimate(total, total * piece.low / castings, total * piece.high / castings)
    return Charge(total, castings, sprue, safety, total - poured, spread)


def share_out(total: Decimal, weights: Sequence[Decimal]) -> tuple[Decimal, ...]:
    """Split a mass by weights into tenths of a milligram that sum to it exactly (largest remainder).

    >>> share_out(Decimal("1.0000"), [Decimal(1), Decimal(1), Decimal(1)])
    (Decimal('0.3334'), Decimal('0.3333'), Decimal('0.3333'))
    """
    if len(weights) == 1:
        return (total,)
    whole = sum(weights, ZERO)
    exact = [EXACT.divide(total * weight, whole) for weight in weights]
    shares = [value.quantize(QUANTUM, rounding=ROUND_FLOOR) for value in exact]
    missing = int((total - sum(shares, ZERO)) / QUANTUM)
    by_remainder = sorted(range(len(shares)), key=lambda place: shares[place] - exact[place])
    for place in by_remainder[:missing]:
        shares[place] += QUANTUM
    return tuple(shares)
