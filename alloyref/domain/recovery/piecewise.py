"""What a settlement comes to at any size of lot: straight between the sizes where a charge or a limit sets in."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from alloyref.domain.estimate import ZERO
from alloyref.domain.numbers import EXACT

MOST_TURNS = 40


@dataclass(frozen=True, slots=True)
class Slope:
    """One melt's money by its size: a scale of 1 is the lot as it is.

    value x scale - max(fixed + variable x scale, minimum), and nothing at all below `least`. `contents` is
    the worth of everything contained, at scale 1. Amounts in one currency.
    """

    value: Decimal
    fixed: Decimal
    variable: Decimal
    minimum: Decimal
    least: Decimal
    contents: Decimal

    @property
    def breaks(self) -> tuple[Decimal, ...]:
        """The scales at which it bends or begins."""
        found = [self.least]
        if self.variable > 0 and self.minimum > self.fixed:
            found.append(EXACT.divide(self.minimum - self.fixed, self.variable))
        return tuple(found)


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of sizes from `start` on over which the money is straight: base + rate x scale."""

    start: Decimal
    taken: bool
    base: Decimal
    rate: Decimal
    contents: Decimal


@dataclass(frozen=True)
class Payout:
    """All melts under one offer, and what sending costs once."""

    slopes: tuple[Slope, ...]
    sending: Decimal

    def net(self, scale: Decimal) -> Decimal | None:
        """What remains at a scale, unrounded; None if no melt is taken, and nothing is sent."""
        piece = self._piece(scale)
        return EXACT.add(piece.base, EXACT.multiply(piece.rate, scale)) if piece.taken else None

    def surplus(self, scale: Decimal, holding: Decimal) -> Decimal | None:
        """How much more that is than what the metal sent is worth if held."""
        net = self.net(scale)
        held = EXACT.multiply(EXACT.multiply(self._piece(scale).contents, scale), holding)
        return None if net is None else EXACT.subtract(net, held)

    @property
    def breaks(self) -> tuple[Decimal, ...]:
        """The scales at which it bends or jumps."""
        return self._starts[1:]

    def _piece(self, scale: Decimal) -> Piece:
        return self._pieces[bisect_right(self._starts, scale) - 1]

    @cached_property
    def _starts(self) -> tuple[Decimal, ...]:
        return tuple(sorted({ZERO, *(place for slope in self.slopes for place in slope.breaks)}))

    @cached_property
    def _pieces(self) -> tuple[Piece, ...]:
        """The pieces once and for all: an answer asks for the money at many sizes."""
        ends = (*self._starts[1:], self._starts[-1] + 2)
        # Asked of the middle of each piece, where no rounding of its ends matters.
        return tuple(
            self._made(start, EXACT.divide(start + end, Decimal(2)))
            for start, end in zip(self._starts, ends, strict=True)
        )

    def _made(self, start: Decimal, middle: Decimal) -> Piece:
        taken = [slope for slope in self.slopes if slope.least <= start]
        base, rate = -self.sending, ZERO
        for slope in taken:
            rate += slope.value
            if slope.fixed + slope.variable * middle > slope.minimum:
                base, rate = base - slope.fixed, rate - slope.variable
            else:
                base -= slope.minimum
        return Piece(start, bool(taken), base, rate, sum((slope.contents for slope in taken), ZERO))


Line = Callable[[Decimal], Decimal]


def turns(line: Line, breaks: Iterable[Decimal]) -> tuple[Decimal, ...]:
    """The scales at which a line, straight between its breaks, turns from below zero to not below, or back.

    Each piece holds its left end. At a turn upward the line is not below zero; at one downward it is, or
    falls below right after it.
    """
    points = sorted({ZERO, *(one for one in breaks if one > 0)})
    found: list[Decimal] = []
    before: bool | None = None
    for place, left in enumerate(points):
        right = points[place + 1] if place + 1 < len(points) else None
        width = Decimal(1) if right is None else right - left
        at, slope = _straight(line, left, width)
        # Just right of the left end, where a line through zero shows which way it goes.
        here = at > 0 or (at == 0 and slope >= 0)
        if before is not None and here != before:
            found.append(left)
        crossing = EXACT.divide(-at, slope) if slope else None
        inside = crossing is not None and crossing > 0 and (right is None or crossing < width)
        if inside and crossing is not None:
            found.append(EXACT.add(left, crossing))
            here = not here
        before = here
    return tuple(found[:MOST_TURNS])


def _straight(line: Line, left: Decimal, width: Decimal) -> tuple[Decimal, Decimal]:
    """The value at the left end of a piece and its slope, from two places inside: zero itself may be out of reach."""
    third = EXACT.divide(width, Decimal(4))
    one, two = line(EXACT.add(left, third)), line(EXACT.add(left, third * 2))
    slope = EXACT.divide(EXACT.subtract(two, one), third)
    return EXACT.subtract(one, EXACT.multiply(slope, third)), slope
