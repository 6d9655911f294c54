"""Quotes of metals as prices of the lots and shelf metals that have none of their own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import TypeVar

from alloyref.domain.charge.inputs import ChargeInputs, ChargeLot, ShelfMetal
from alloyref.domain.composition import PRECIOUS
from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import Metal
from alloyref.domain.order.money import Worth, price_list
from alloyref.domain.order.purchase import Elements, contents
from alloyref.domain.reference import Reference

GRAM = Decimal(1)
Entry = TypeVar("Entry", ChargeLot, ShelfMetal)


def quoted(inputs: ChargeInputs, reference: Reference) -> tuple[ChargeInputs, dict[str, tuple[str, ...]]]:
    """The same charge with a price, in currency per g, for all that the quotes can price.

    A lot counts for what its metals are worth, a shelf metal for what is asked for it. Beside it, by the pointer of
    each entry that the quotes bear on, the metals in it that no quote is for. Raises `InvalidInput` for quotes of two
    currencies.
    """
    prices = price_list(inputs.prices, reference)
    if prices is None:
        return inputs, {}
    if inputs.currency not in (None, prices.currency):
        raise InvalidInput.of("mixed-currencies", f"The quotes are in {prices.currency}.", "/currency")
    lots, of_lots = _priced("/lots", inputs.lots, prices.worth)
    shelf, of_shelf = _priced("/shelf", inputs.shelf, prices.asked)
    return replace(inputs, lots=lots, shelf=shelf, currency=prices.currency), of_lots | of_shelf


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


def _priced(
    under: str, entries: Sequence[Entry], ask: Callable[[Metal, Elements, Decimal], Worth]
) -> tuple[tuple[Entry, ...], dict[str, tuple[str, ...]]]:
    """The entries, priced unless a precious metal in them has no quote; and by pointer what has none."""
    found, missing = [], dict[str, tuple[str, ...]]()
    for place, one in enumerate(entries):
        if one.price is not None:
            found.append(one)
            continue
        worth = ask(one.metal, contents(one.metal.composition, GRAM), GRAM)
        if worth.missing:
            missing[f"{under}/{place}"] = tuple(worth.missing)
        price = None if set(worth.missing) & set(PRECIOUS) else worth.amount
        found.append(one if price is None else replace(one, price=price, per="g"))
    return tuple(found), missing
