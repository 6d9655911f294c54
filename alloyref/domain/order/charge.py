"""From pieces to the charge: castings, sprue and button, safety, melt loss; shared out by volume."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_FLOOR, Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import ONE, ZERO, Estimate
from alloyref.domain.numbers import EXACT, STEPS, Rounding, round_to
from alloyref.domain.order.castings import BOOK_DECIMALS, Line, spanning
from alloyref.domain.order.terms import Terms

MOST_POURED = Decimal(10) ** 9
QUANTUM = STEPS[BOOK_DECIMALS]
NOISE_DECIMALS = 12
"""What stands behind these is left by divisions that do not end; it is not rounded up to a tenth of a milligram."""
Extreme = tuple[Terms, Sequence[Line]]
"""The terms at an end of what each default may be, and the lines as they are then."""


@dataclass(frozen=True, slots=True)
class Charge:
    """The metal weighed into the crucible and where it goes, in g; the parts sum to the total exactly.

    The total is `exact.value` brought up to the books' tenth of a milligram; low and high are its ends.
    """

    total: Decimal
    castings: Decimal
    sprue: Decimal
    safety: Decimal
    melt_loss: Decimal
    exact: Estimate

    @property
    def range(self) -> Estimate:
        """The total with its ends, as the books have them."""
        return Estimate(self.total, *(book_up(end) for end in (self.exact.low, self.exact.high)))


def book_up(mass: Decimal) -> Decimal:
    """A mass in g brought up to the books' tenth of a milligram, so that it never falls short.

    >>> book_up(Decimal("6.22069536")), book_up(Decimal("6.2207") + Decimal("1e-25"))
    (Decimal('6.2207'), Decimal('6.2207'))
    """
    return round_to(round_to(mass, NOISE_DECIMALS), BOOK_DECIMALS, Rounding.UP)


def charge_of(lines: Sequence[Line], terms: Terms, extremes: Sequence[Extreme]) -> tuple[Charge, tuple[Line, ...]]:
    """The charge for these lines, and the lines with their share of it and the ranges of the extremes.

    castings + sprue and button + safety = poured; poured / (1 - melt loss) = charge, all in g.
    The total is brought to the books' tenth of a milligram once, up, and shared out to its parts.
    Low and high are the least and the most of all extremes: whoever does not say a share may mean any of its range.
    """
    masses = [line.exact for line in lines]
    whole = sum(masses, ZERO)
    parts = [*masses, *_beside(whole, _weighed_sprue(lines, terms), terms)]
    exact = sum(parts, ZERO)
    if exact > MOST_POURED:
        raise InvalidInput.of("out-of-range", "The charge comes to more than a thousand tonnes; check the units.")
    ends = [_ends(lines, terms), *(_ends(those, there) for there, those in extremes)]
    total = book_up(exact)
    *castings, sprue, safety, melt_loss = _booked(total, parts)
    spread = spanning(lines, [those for _, those in extremes])
    booked = tuple(replace(line, castings_mass=mass) for line, mass in zip(spread, castings, strict=True))
    estimate = Estimate(exact, exact, exact).spanning(*ends)
    return Charge(total, sum(castings, ZERO), sprue, safety, melt_loss, estimate), booked


def _beside(castings: Decimal, sprue: Decimal, terms: Terms) -> list[Decimal]:
    """Sprue and button, safety and melt loss for castings of that mass, before anything is booked.

    `sprue` is the part of it that was weighed and carried over by volume.
    """
    given = terms.allowances
    sprue += EXACT.multiply(castings, terms.added_share) + (given.button_mass or ZERO)
    safety = EXACT.multiply(castings + sprue, given.safety)
    poured = castings + sprue + safety
    return [sprue, safety, EXACT.divide(poured, ONE - terms.melt_loss) - poured]


def _weighed_sprue(lines: Sequence[Line], terms: Terms) -> Decimal:
    return (terms.allowances.sprue_mass or ZERO) * lines[0].said[0].per_material


def _ends(lines: Sequence[Line], terms: Terms) -> Estimate:
    """The charge for the pieces' low and high masses, which err together; its value is of no use.

    What goes by the volume of the pieces is scaled with them; a button of a given mass is not.
    """
    whole, sprue, totals = sum((line.exact for line in lines), ZERO), _weighed_sprue(lines, terms), []
    for end in ("low", "high"):
        castings = sum((getattr(line.said[0].exact, end) * line.castings for line in lines), ZERO)
        scaled = sprue if castings == whole else EXACT.divide(sprue * castings, whole)
        totals.append(castings + sum(_beside(castings, scaled, terms), ZERO))
    return Estimate(whole, *totals)


def _booked(total: Decimal, parts: Sequence[Decimal]) -> list[Decimal]:
    """The parts in the books' steps, so that they sum to the total: down, and up where most is missing."""
    shares = [round_to(part, BOOK_DECIMALS, Rounding.DOWN) for part in parts]
    missing = int((total - sum(shares, ZERO)) / QUANTUM)
    for place in sorted(range(len(parts)), key=lambda place: shares[place] - parts[place])[:missing]:
        shares[place] += QUANTUM
    return shares


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
