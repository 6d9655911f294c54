"""Cost and worth from the caller's own prices; nothing is invented where a price is missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import ZERO
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import round_to
from alloyref.domain.order.castings import BOOK_DECIMALS
from alloyref.domain.order.inputs import Price
from alloyref.domain.order.purchase import Elements
from alloyref.domain.reference import Reference
from alloyref.domain.span import Amount, AtLeast
from alloyref.domain.units import Dimension

MOST_PER_GRAM = Decimal(10) ** 9


@dataclass(frozen=True, slots=True)
class Worth:
    """What a mass is worth, None if nothing in it has a price, and the g of each element that has none."""

    amount: Decimal | None
    missing: Elements

    def times(self, factor: Decimal) -> Worth:
        """The worth of so many times the mass; -1 takes it away."""
        amount = None if self.amount is None else self.amount * factor
        return Worth(amount, {symbol: mass * factor for symbol, mass in self.missing.items()})


NO_WORTH = Worth(ZERO, {})


def sum_of(worths: Sequence[Worth]) -> Worth:
    """All of it together: what has a price counts, what has none is missing; None if nothing has any."""
    missing: dict[str, Decimal] = {}
    for one in worths:
        for symbol, mass in one.missing.items():
            missing[symbol] = missing.get(symbol, ZERO) + mass
    known = [one.amount for one in worths if one.amount is not None]
    return Worth(sum(known, ZERO) if known or not worths else None, missing)


def net_of(paid: Worth, own: Worth, spare: Worth, returned: Worth) -> Worth:
    """What is paid and on hand, less what is left over and comes back.

    None where more of an element without a price comes back than goes in at no price (a lot of it had its own): then
    the net is neither at least nor at most what the rest comes to.
    """
    net = sum_of([paid, own, spare.times(Decimal(-1)), returned.times(Decimal(-1))])
    missing = {symbol: mass for symbol, mass in net.missing.items() if round_to(mass, BOOK_DECIMALS)}
    unknown = any(one.amount is None for one in (paid, returned)) or any(mass < 0 for mass in missing.values())
    return Worth(None if unknown else net.amount, missing)


@dataclass(frozen=True, slots=True)
class PriceList:
    """The caller's prices per gram, by alloy id and by element."""

    currency: str
    per_gram: dict[str, Decimal]

    def worth(self, metal: Metal | None, parts: Elements, mass: Decimal) -> Worth:
        """What a mass in g costs: by the alloy's own price, else by its elements' prices."""
        if not mass:
            return NO_WORTH
        if metal is not None and metal.id in self.per_gram:
            return Worth(self.per_gram[metal.id] * mass, {})
        whole = sum(parts.values(), ZERO)
        priced = {symbol: part for symbol, part in parts.items() if symbol in self.per_gram}
        missing = {symbol: part * mass / whole for symbol, part in parts.items() if symbol not in self.per_gram}
        if not priced or not whole:
            return Worth(None, missing)
        amount = sum((self.per_gram[symbol] * part for symbol, part in priced.items()), ZERO)
        return Worth(amount * mass / whole, missing)

    def asked(self, metal: Metal | None, parts: Elements, mass: Decimal) -> Worth:
        """What a supplier asks for a mass: its worth, and on top the premium unless the alloy has its own price."""
        worth = self.worth(metal, parts, mass)
        if metal is None or metal.id in self.per_gram:
            return worth
        return worth.times(1 + metal.premium)

    def amount(self, worth: Worth) -> Amount | None:
        """A worth as it is told, to the cent: at least so much where something in it has no price."""
        if worth.amount is None:
            return None
        cents = round_to(worth.amount, 2)
        return AtLeast(cents, self.currency) if worth.missing else (cents, self.currency)


def price_list(prices: Sequence[Price], reference: Reference) -> PriceList | None:
    """The prices by gram; `InvalidInput` for two currencies or one metal priced twice."""
    if not prices:
        return None
    per_gram: dict[str, Decimal] = {}
    for place, price in enumerate(prices):
        if price.currency != prices[0].currency:
            raise InvalidInput.of("mixed-currencies", "All prices are in one currency.", f"/prices/{place}/currency")
        if not price.metal.id:
            raise InvalidInput.of("missing", "A price is for a metal with an id.", f"/prices/{place}/metal")
        if price.metal.id in per_gram:
            raise InvalidInput.of("duplicate", f"{price.metal.id} is priced twice.", f"/prices/{place}/metal")
        gram = price.price / reference.units.to_base(Decimal(1), price.per, Dimension.MASS)
        if gram > MOST_PER_GRAM:
            raise InvalidInput.of("out-of-range", "No metal costs so much; check the unit.", f"/prices/{place}/price")
        per_gram[price.metal.id] = gram
    return PriceList(prices[0].currency, _with_elements(per_gram, prices))


def _with_elements(per_gram: dict[str, Decimal], prices: Sequence[Price]) -> dict[str, Decimal]:
    """A price for a pure catalogue metal (fine gold) is also the price of its element."""
    for price in prices:
        parts = price.metal.composition.parts
        if len(parts) == 1:
            per_gram.setdefault(parts[0][0], per_gram[price.metal.id])
    return per_gram
