"""When sending beats holding, and from what size on another offer pays more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from alloyref.domain.estimate import ZERO
from alloyref.domain.numbers import EXACT, plain, round_to
from alloyref.domain.recovery.piecewise import Payout, turns
from alloyref.domain.recovery.results import BreakEven, Flip
from alloyref.domain.recovery.settlement import HIGH, LOW
from alloyref.domain.span import MassRange, MoneyRange

SEND, HOLD, NOT_CERTAIN = "send", "hold", "not-certain"
SHARE_DECIMALS = 6
MASS_DECIMALS = 10


def sending_pays(payout: Payout, holding: Decimal) -> tuple[Decimal | None, Decimal | None]:
    """The scales from which and until which sending beats holding; None: never, or for ever.

    Sending beats holding where the settlement, before ounces and cents are rounded, is at least `holding`
    (a share) of the worth of what is contained.
    """

    def surplus(scale: Decimal) -> Decimal:
        found = payout.surplus(scale, holding)
        return Decimal(-1) if found is None else found

    found = turns(surplus, payout.breaks)
    start = EXACT.divide(min(found, default=Decimal(1)), Decimal(2))
    if surplus(start) >= 0 and start > 0:
        return ZERO, (found[0] if found else None)
    return (found[0] if found else None), (found[1] if len(found) > 1 else None)


def break_even(
    payouts: Mapping[str, Payout], gross: Decimal, holding: Decimal, currency: str, settled: tuple[Decimal, Decimal]
) -> BreakEven:
    """The decision and the sizes (gross mass in g) at which it turns, for the least and the most contents."""
    decided = []
    for payout in payouts.values():
        surplus = payout.surplus(Decimal(1), holding)
        decided.append(SEND if surplus is not None and surplus >= 0 else HOLD)
    sizes = [sending_pays(payouts[scenario], holding) for scenario in (LOW, HIGH)]
    worth = [sum((one.contents for one in payouts[scenario].slopes), ZERO) for scenario in (LOW, HIGH)]
    shares = [
        round_to(EXACT.divide(paid, whole), SHARE_DECIMALS)
        for paid, whole in zip(settled, worth, strict=True)
        if whole
    ]
    return BreakEven(
        decision=decided[0] if len(set(decided)) == 1 else NOT_CERTAIN,
        from_mass=_range([size[0] for size in sizes], gross),
        until_mass=_range([size[1] for size in sizes], gross),
        worth_of_contents=MoneyRange.of(round_to(worth[0], 2), round_to(worth[1], 2), currency),
        share_paid_low=min(shares, default=None),
        share_paid_high=max(shares, default=None),
        rule=RULE.format(plain(holding * 100)),
    )


RULE = (
    "Sending beats holding where the settlement is at least {} % of the worth of all contained metal at the prices "
    "given, reckoned before ounces and cents are rounded, for lots of this make-up at any size."
)


def _range(scales: Sequence[Decimal | None], gross: Decimal) -> MassRange | None:
    known = [round_to(scale * gross, MASS_DECIMALS) for scale in scales if scale is not None]
    return MassRange.of(known[0], known[1]) if len(known) == len(scales) else None


def flips(payouts: Mapping[str, Payout], gross: Decimal, scenario: str) -> tuple[Flip, ...]:
    """The sizes (gross, in g) at which another offer begins to pay the most, by unrounded settlements."""
    names = list(payouts)
    places = {
        place
        for one, first in enumerate(names)
        for second in names[one + 1 :]
        for place in _crossings(payouts[first], payouts[second])
    }
    found: list[Flip] = []
    ordered = sorted(places)
    for index, place in enumerate(ordered):
        left = ordered[index - 1] if index else ZERO
        right = ordered[index + 1] if index + 1 < len(ordered) else place * 2
        below, above = best(payouts, (left + place) / 2), best(payouts, (place + right) / 2)
        if below != above:
            found.append(Flip(round_to(place * gross, MASS_DECIMALS), scenario, below, above))
    return tuple(found)


def _crossings(first: Payout, second: Payout) -> tuple[Decimal, ...]:
    def lead(scale: Decimal) -> Decimal:
        return _paid(first, scale) - _paid(second, scale)

    def behind(scale: Decimal) -> Decimal:
        return -lead(scale)

    breaks = (*first.breaks, *second.breaks)
    return tuple({*turns(lead, breaks), *turns(behind, breaks)})


NOT_TAKEN = Decimal(-(10**30))
"""Less than any charge could make of a settlement: an offer that takes nothing is behind one that takes it."""


def _paid(payout: Payout, scale: Decimal) -> Decimal:
    net = payout.net(scale)
    return NOT_TAKEN if net is None else net


def best(payouts: Mapping[str, Payout], scale: Decimal) -> str:
    """The offer that pays the most at a scale, the first named of equals; empty if none takes the lots."""
    nets = {name: net for name, payout in payouts.items() if (net := payout.net(scale)) is not None}
    return max(nets, key=lambda name: nets[name], default="")
