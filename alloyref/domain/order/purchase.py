"""What of the charge is on hand, and what must be bought, element by element."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal

from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.estimate import ZERO
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import EXACT, plain
from alloyref.domain.order.charge import QUANTUM, book_up
from alloyref.domain.order.inputs import Form, OnHand, Purchase
from alloyref.domain.provenance import Property

Elements = Mapping[str, Decimal]
NOTHING = Decimal("1e-9")
"""A mass in g too small to buy a step for: what divisions leave that do not end."""


@dataclass(frozen=True, slots=True)
class UsedLot:
    """How much of a lot on hand goes into the charge, and why not all of it, if so."""

    lot: OnHand
    used: Decimal
    reason: str


@dataclass(frozen=True, slots=True)
class Bought:
    """One item to buy: how much the charge needs of it, how much the supplier's step makes it, in g."""

    what: str
    metal: Metal | None
    parts: Elements
    needed: Decimal
    ordered: Decimal

    @property
    def left_over(self) -> Decimal:
        """What stays in the shop; none where the books' last tenth of a milligram is all that is short."""
        return max(self.ordered - self.needed, ZERO)


@dataclass(frozen=True, slots=True)
class Supply:
    """How the charge is made up."""

    lots: tuple[UsedLot, ...]
    bought: tuple[Bought, ...]

    @property
    def ordered(self) -> Decimal:
        """Everything bought, in the supplier's steps."""
        return sum((one.ordered for one in self.bought), ZERO)

    def elements(self) -> dict[str, Decimal]:
        """Each element that goes in, added up from the lots and from what is bought, not from the alloy."""
        total: dict[str, Decimal] = {}
        for lot in (one for one in self.lots if one.used):
            _add(total, contents(lot.lot.metal.composition, lot.used))
        for one in self.bought:
            _add(total, one.parts)
        return total


def contents(composition: Composition, mass: Decimal) -> dict[str, Decimal]:
    """The mass of each element in a mass of metal, exactly."""
    return {symbol: mass * fraction for symbol, fraction in composition.fractions}


def _add(total: dict[str, Decimal], more: Elements) -> None:
    for symbol, mass in more.items():
        total[symbol] = total.get(symbol, ZERO) + mass


def supply_of(
    need: Decimal, metal: Metal, on_hand: tuple[OnHand, ...], purchase: Purchase, limit: Property
) -> Supply:
    """Use what is on hand as far as it goes into a charge that needs so many g, in the order given; buy the rest.

    Bought ready alloyed, only metal of the very same composition can go in; bought as fine metal and
    master alloy, any metal can that holds no element in excess. Scrap stays under the given or usual
    share of the charge (`limit`).
    Lots and needs are booked to a tenth of a milligram; how many of the supplier's steps are bought goes by the need
    as it was before that. So a need of four steps buys four, not five for what booking added.
    """
    share = purchase.max_scrap_share if purchase.max_scrap_share is not None else limit.value
    charge = book_up(need)
    scrap_left = charge * share
    missing, exactly = contents(metal.composition, charge), contents(metal.composition, need)
    left, lots = charge, []
    for lot in on_hand:
        limits = [(left, "the charge needs no more")]
        if lot.kind == "scrap":
            limits.append((max(scrap_left, ZERO), f"scrap may be at most {plain(share * 100)} % of the charge"))
        limits.append(_fit(lot.metal, metal, missing, purchase.form))
        most, reason = min(limits, key=lambda one: one[0])
        # What books the need up must not make a lot too small that covers it.
        enough = most == left and lot.mass >= sum(exactly.values(), ZERO) - NOTHING
        used = left if enough else min(lot.mass, most).quantize(QUANTUM, rounding=ROUND_FLOOR)
        if lot.kind == "scrap":
            scrap_left -= used
        left -= used
        _take(missing, lot.metal, used)
        _take(exactly, lot.metal, lot.mass if used < lot.mass <= most else used)
        lots.append(UsedLot(lot, used, reason if most < lot.mass else ""))
    return Supply(tuple(lots), _buy(metal, left, missing, exactly, purchase))


def _take(elements: dict[str, Decimal], metal: Metal, mass: Decimal) -> None:
    """Take a mass of a metal off what is missing of each element."""
    for symbol, part in contents(metal.composition, mass).items():
        elements[symbol] = elements.get(symbol, ZERO) - part


def _fit(lot: Metal, metal: Metal, missing: Elements, form: str) -> tuple[Decimal, str]:
    """How much of a lot the alloy can take, and what stops more of it."""
    if lot.is_trade_name and (form != Form.ALLOYED or lot.id != metal.id):
        return ZERO, f"what is in it beside {lot.base} is not known: {lot.name} is a trade name"
    if lot.is_trade_name and {"Ni", "Pd"} <= set(lot.may_hold):
        return (
            ZERO,
            f"{lot.name} may be with nickel or with palladium, which do not go together: name it",
        )
    if metal.is_trade_name and lot.id != metal.id:
        return ZERO, f"what {metal.name} is made of is not known: it is a trade name"
    if form == Form.ALLOYED:
        if dict(lot.composition.parts) == dict(metal.composition.parts):
            return sum(missing.values(), ZERO), "the charge needs no more"
        return ZERO, "its composition differs from the alloy ordered; buy as fine-and-master to use it"
    most, first = sum(missing.values(), ZERO), "the charge needs no more"
    for symbol, share in lot.composition.parts:
        room = EXACT.divide(missing.get(symbol, ZERO) * THOUSAND, share)
        if room < most:
            most, first = max(room, ZERO), f"more of it would bring in too much {symbol}"
    return most, first


def _buy(metal: Metal, left: Decimal, missing: Elements, exactly: Elements, purchase: Purchase) -> tuple[Bought, ...]:
    if left <= 0:
        return ()
    missing = {symbol: mass for symbol, mass in missing.items() if mass > 0}
    base = metal.base

    def item_of(what: str, one: Metal | None, parts: Elements) -> Bought:
        needed = left if one is metal else sum(parts.values(), ZERO)
        exact = sum((exactly[symbol] for symbol in parts), ZERO)
        return Bought(what, one, parts, needed, round_up_to_step(exact, purchase.increment))

    if purchase.form == Form.ALLOYED:
        return (item_of("alloyed metal", metal, missing),)
    fine = {symbol: mass for symbol, mass in missing.items() if symbol == base}
    master = {symbol: mass for symbol, mass in missing.items() if symbol != base}
    pure = Metal(base, f"fine {base}", Composition.pure(base), metal.density)
    bought = [item_of(f"fine {base}", pure, fine)] if fine else []
    return (*bought, item_of("master alloy", None, master)) if master else tuple(bought)


def round_up_to_step(mass: Decimal, step: Decimal) -> Decimal:
    """The least multiple of the supplier's step that is not below the mass, but for a billionth of a gram.

    >>> round_up_to_step(Decimal("8.4131"), Decimal("0.5"))
    Decimal('8.5')
    >>> round_up_to_step(Decimal("6.22069536"), Decimal("1.55517384"))
    Decimal('6.22069536')
    """
    steps, rest = divmod(max(mass - NOTHING, ZERO), step)
    return (steps + (1 if rest else 0)) * step
