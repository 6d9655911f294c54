"""What an order should be looked at again for beyond its weights: metal, scrap and prices that cannot be meant so."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.metal import Metal
from alloyref.domain.metal_notes import density_doubt, metals_in
from alloyref.domain.numbers import plain
from alloyref.domain.order.inputs import OrderInputs
from alloyref.domain.order.purchase import Supply
from alloyref.domain.order.results import CastingSlip
from alloyref.domain.order.slip import NOT_CAST
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

COMPARED = ("USD", "EUR", "GBP", "CHF", "CAD", "AUD")
"""Currencies in which a gram of precious metal costs about as many units."""
PRICE_OF_A_GRAM = {
    "Au": (Fraction(10), Fraction(1000)),
    "Pt": (Fraction(5), Fraction(500)),
    "Pd": (Fraction(5), Fraction(500)),
    "Ag": (Fraction("0.2"), Fraction(20)),
}
"""Prices of a gram in those currencies beyond which a unit was probably mistaken (from memory, wide on purpose)."""


def doubts_of(inputs: OrderInputs, supply: Supply, slip: CastingSlip, reference: Reference) -> tuple[str, ...]:
    """What looks wrong in the metals and prices that were typed: never a refusal, for it may be meant."""
    return (
        *(slip.not_available if slip.investment == NOT_CAST else ()),
        *(text for metal in dict.fromkeys(metals_in(inputs)) if (text := density_doubt(metal, reference))),
        *_same_names(inputs.final_metal, supply),
        *_prices(inputs, reference),
    )


def _same_names(metal: Metal, supply: Supply) -> Iterator[str]:
    """Scrap under the trade name of the final metal may be another alloy of that name."""
    if metal.is_trade_name and any(lot.used for lot in supply.lots):
        yield (
            f"Metal on hand goes in as {metal.name}, a name that several alloys bear: melt it in only if it is the "
            "very alloy that you buy."
        )


def _prices(inputs: OrderInputs, reference: Reference) -> Iterator[str]:
    for price in inputs.prices:
        bounds = PRICE_OF_A_GRAM.get(price.metal.base)
        if bounds is None or price.currency not in COMPARED:
            continue
        grams = reference.units.convert(Decimal(1), price.per, "g", Dimension.MASS)
        gram = Fraction(price.price) / grams
        share = Fraction(price.metal.fineness) / 1000
        if price.price and not bounds[0] * share <= gram <= bounds[1]:
            yield (
                f"{price.metal.id} at {plain(price.price)} {price.currency} per {price.per} is far from what it costs"
                ": look at the unit and the decimal mark."
            )
