"""From pieces to the charge: castings, sprue and button, safety, melt loss; shared out by volume."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import ONE, ZERO
from alloyref.domain.numbers import EXACT, STEPS, Rounding, round_to
from alloyref.domain.order.castings import BOOK_DECIMALS, Line, Terms

MOST_POURED = Decimal(10) ** 9
QUANTUM = STEPS[BOOK_DECIMALS]


@dataclass(frozen=True, slots=True)
class Charge:
    """The metal weighed into the crucible and where it goes, in g; the parts sum to the total exactly."""

    total: Decimal
    castings: Decimal
    sprue: Decimal
    safety: Decimal
    melt_loss: Decimal
    low: Decimal
    high: Decimal
    """Ends of the total, from the ranges of the pieces, which err together."""


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
    if poured > MOST_POURED:
        raise InvalidInput.of("out-of-range", "The charge comes to more than a thousand tonnes; check the units.")
    total = round_to(EXACT.divide(poured, ONE - terms.melt_loss), BOOK_DECIMALS, Rounding.UP)
    ends = (sum((getattr(line.as_cast, end) * line.castings for line in lines), ZERO) for end in ("low", "high"))
    low, high = (
        round_to(EXACT.divide(EXACT.multiply(total, end), castings), BOOK_DECIMALS, Rounding.UP) for end in ends
    )
    return Charge(total, castings, sprue, safety, total - poured, low, high)


def share_out(total: Decimal, weights: Sequence[Decimal], step: Decimal = QUANTUM) -> tuple[Decimal, ...]:
    """Split a total by weights into steps that sum to it exactly (largest remainder); a step is 0.1 mg.

    >>> share_out(Decimal("1.0000"), [Decimal(1), Decimal(1), Decimal(1)])
    (Decimal('0.3334'), Decimal('0.3333'), Decimal('0.3333'))
    """
    if len(weights) == 1:
        return (total,)
    whole = sum(weights, ZERO)
    exact = [EXACT.divide(total * weight, whole) for weight in weights]
    shares = [value.quantize(step, rounding=ROUND_FLOOR, context=EXACT) for value in exact]
    missing = int((total - sum(shares, ZERO)) / step)
    by_remainder = sorted(range(len(shares)), key=lambda place: shares[place] - exact[place])
    for place in by_remainder[:missing]:
        shares[place] += step
    return tuple(shares)
