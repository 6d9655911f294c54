"""Stored quotes in the place of prices: which of them a calculation takes, and what must be among them."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from alloyref.domain.calculation import CURRENCY, DATE, Choice, item, items
from alloyref.domain.composition import PRECIOUS, Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import plain
from alloyref.domain.order.inputs import Price
from alloyref.domain.order.money import price_list
from alloyref.domain.reference import Reference

PRICES = "prices"
STORED = "stored"
"""As the value of `prices`: the latest quotes of today."""


@dataclass(frozen=True, slots=True)
class StoredPrices:
    """The latest quote of each metal that the shop has stored, by a day."""

    source: str = item(Choice(("shop",)), "Where the quotes are stored.", name="from", default="shop")
    on: str | None = item(DATE, "The day they held; today if not given.", default=None, example="2026-11-25")
    currency: str | None = item(
        CURRENCY, "Their currency; needed where quotes in several are stored.", default=None, example="EUR"
    )


def concerning(inputs: Any, kept: Sequence[Mapping[str, Any]], reference: Reference) -> list[dict[str, Any]]:
    """Of quotes as they were written, those of a metal that the inputs name, or of one that is a pure element."""
    ids = {id_ for id_, _ in _held(inputs)}
    pure = {name for name, alloy in reference.alloys.items() if len(alloy.metal.composition.parts) == 1}
    known = ids | pure | set(reference.elements)
    names = [one.name for one in items(Price).values()]
    return [{name: one[name] for name in names if name in one} for one in kept if one["metal"] in known]


def chosen(asked: StoredPrices, quotes: Sequence[Price], inputs: Any, reference: Reference) -> list[Price]:
    """The quotes in the one currency.

    `InvalidInput` if there are several currencies and none is named, if there are no quotes, or if a precious metal
    that the inputs have priced has none.
    """
    by_day = f" by {asked.on}" if asked.on else ""
    currencies = tuple(sorted({one.currency for one in quotes}))
    if asked.currency is None and len(currencies) > 1:
        detail = f"Quotes are stored in {' and '.join(currencies)}; name the currency."
        raise InvalidInput.of("mixed-currencies", detail, "/currency", currencies)
    found = [one for one in quotes if asked.currency in (None, one.currency)]
    missing = _missing(found, inputs, reference)
    if missing or not found:
        what = ", ".join(missing) or "any metal"
        within = f" in {asked.currency}" if asked.currency else ""
        raise InvalidInput.of("price-missing", f"No quote is stored for {what}{within}{by_day}.", "", missing)
    return found


def _missing(quotes: Sequence[Price], inputs: Any, reference: Reference) -> tuple[str, ...]:
    """Precious metals without a quote, in what the inputs say must be priced."""
    prices = price_list(quotes, reference)
    known = {} if prices is None else prices.per_gram
    wanted = {
        symbol: None
        for field in inputs.PRICED
        for id_, symbols in _held(getattr(inputs, field))
        if id_ not in known
        for symbol in symbols
    }
    return tuple(symbol for symbol in wanted if symbol in PRECIOUS and symbol not in known)


def _held(value: Any) -> Iterator[tuple[str, Iterable[str]]]:
    """Id and elements of every metal, composition and assay within inputs, but of entries with own prices."""
    if isinstance(value, Metal):
        yield value.id, value.composition.elements
    elif isinstance(value, Composition):
        yield "", value.elements
    elif isinstance(value, Mapping):
        yield "", value
    elif isinstance(value, tuple):
        for one in value:
            yield from _held(one)
    elif dataclasses.is_dataclass(value) and getattr(value, "price", None) is None:
        for field in dataclasses.fields(value):
            yield from _held(getattr(value, field.name))


def written(price: Price) -> dict[str, Any]:
    """A price as it is sent."""
    whole = {
        "metal": price.metal.id,
        "price": plain(price.price),
        "per": price.per,
        "currency": price.currency,
        "date": price.date,
    }
    return {name: value for name, value in whole.items() if value is not None}
