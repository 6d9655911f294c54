"""Cost and worth from the caller's own prices; nothing is invented where a price is missing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import ZERO
from alloyref.domain.metal import Metal
from alloyref.domain.order.inputs import Price
from alloyref.domain.order.purchase import Elements
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

MOST_PER_GRAM = Decimal(10) ** 9


@dataclass(frozen=True, slots=True)
class PriceList:
    """The caller's prices per gram, by alloy id and by element."""

    currency: str
    per_gram: dict[str, Decimal]

    def worth(self, metal: Metal | None, parts: Elements, mass: Decimal) -> tuple[Decimal | None, tuple[str, ...]]:
        """What a mass costs: by the alloy's own price, else by its elements' prices.

        Also tells which elements had no price. The amount is None if nothing in it was priced.
        """
        if not mass:
            return ZERO, ()
        if metal is not None and metal.id in self.per_gram:
            return self.per_gram[metal.id] * mass, ()
        whole = sum(parts.values(), ZERO)
        priced = {symbol: part for symbol, part in parts.items() if symbol in self.per_gram}
        unpriced = tuple(symbol for symbol in parts if symbol not in self.per_gram)
        if not priced or not whole:
            return None, unpriced
        amount = sum((self.per_gram[symbol] * part for symbol, part in priced.items()), ZERO)
        return amount * mass / whole, unpriced

    def asked(self, metal: Metal | None, parts: Elements, mass: Decimal) -> tuple[Decimal | None, tuple[str, ...]]:
        """What a supplier asks for a mass: its worth, and on top the premium unless the alloy has its own price."""
        amount, unpriced = self.worth(metal, parts, mass)
        if amount is None or metal is None or metal.id in self.per_gram:
            return amount, unpriced
        return amount * (1 + metal.premium), unpriced


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
