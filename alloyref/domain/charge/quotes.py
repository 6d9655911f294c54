"""Quotes of metals as prices of the lots and shelf metals that have none of their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from alloyref.domain.charge.inputs import ChargeInputs, ChargeLot, ShelfMetal
from alloyref.domain.composition import PRECIOUS
from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import Metal
from alloyref.domain.order.money import PriceList, price_list
from alloyref.domain.order.purchase import contents
from alloyref.domain.reference import Reference

GRAM = Decimal(1)
Entry = TypeVar("Entry", ChargeLot, ShelfMetal)


def quoted(inputs: ChargeInputs, reference: Reference) -> ChargeInputs:
    """The same charge with a price, in currency per g, for all that the quotes can price.

    A lot counts for what its metals are worth, a shelf metal for what is asked for it. Raises `InvalidInput` for
    quotes of two currencies.
    """
    prices = price_list(inputs.prices, reference)
    if prices is None:
        return inputs
    if inputs.currency not in (None, prices.currency):
        raise InvalidInput.of("mixed-currencies", f"The quotes are in {prices.currency}.", "/currency")
    return replace(
        inputs,
        lots=_priced(inputs.lots, prices, premium=False),
        shelf=_priced(inputs.shelf, prices, premium=True),
        currency=prices.currency,
    )


def of_its_elements(inputs: ChargeInputs, reference: Reference) -> ChargeInputs:
    """The same charge; an alloy to be made of nothing that was named is made of its elements.

    Raises `InvalidInput` where there are quotes for some of them and not for all.
    """
    alloy = inputs.target.alloy
    if alloy is None or inputs.lots or inputs.shelf:
        return inputs
    prices = price_list(inputs.prices, reference)
    missing = [] if prices is None else [one for one in alloy.composition.elements if one not in prices.per_gram]
    if missing:
        detail = f"Of the elements of {alloy.name} no quote is given for {', '.join(missing)}: give all, or none."
        raise InvalidInput.of("missing", detail, "/prices", missing)
    return replace(inputs, shelf=tuple(ShelfMetal(metal=reference.metal(one)) for one in alloy.composition.elements))


def _priced(entries: Sequence[Entry], prices: PriceList, *, premium: bool) -> tuple[Entry, ...]:
    found = []
    for one in entries:
        price = gram_price(one.metal, prices, premium=premium) if one.price is None else None
        found.append(one if price is None else replace(one, price=price, per="g"))
    return tuple(found)


def unquoted(inputs: ChargeInputs, reference: Reference) -> dict[str, tuple[str, ...]]:
    """The base metals in each entry priced by quotes that no quote is for, by the pointer of the entry."""
    prices = price_list(inputs.prices, reference)
    if prices is None:
        return {}
    entries: list[tuple[str, ChargeLot | ShelfMetal]] = [(f"/lots/{i}", one) for i, one in enumerate(inputs.lots)]
    entries += [(f"/shelf/{i}", one) for i, one in enumerate(inputs.shelf)]
    missing = {
        place: prices.worth(one.metal, contents(one.metal.composition, GRAM), GRAM).missing
        for place, one in entries
        if one.price is None
    }
    return {place: tuple(symbols) for place, symbols in missing.items() if symbols}


def gram_price(metal: Metal, prices: PriceList, *, premium: bool) -> Decimal | None:
    """What a gram is worth, or with `premium` what is asked for it; None if a precious metal in it has no quote."""
    ask = prices.asked if premium else prices.worth
    worth = ask(metal, contents(metal.composition, GRAM), GRAM)
    return None if set(worth.missing) & set(PRECIOUS) else worth.amount
