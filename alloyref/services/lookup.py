"""Looking things up: alloys by question, one number of one alloy in a wanted unit, the dataset itself."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Protocol

from alloyref.domain.citations import standings
from alloyref.domain.errors import InvalidInput, Issue, NotAvailable, UnknownName
from alloyref.domain.finder import AlloyQuery, find
from alloyref.domain.metal import Alloy, Metal
from alloyref.domain.numbers import fraction_to_decimal, round_to
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.shop.alloy import PREFIX, SOURCE
from alloyref.domain.units import Dimension
from alloyref.services.views import ChangeView, DatasetView, NumberView, fineness_of, karat_of

# Which dimension each one-number property is of, and with how many decimals it is served in its own unit.
PROPERTIES = {
    "density": Dimension.DENSITY,
    "solidus": Dimension.TEMPERATURE,
    "liquidus": Dimension.TEMPERATURE,
    "fineness": Dimension.PURITY,
    "karat": Dimension.PURITY,
}
CONVERTED_DECIMALS = 6


def find_alloys(query: AlloyQuery, reference: Reference) -> tuple[tuple[str, ...], int]:
    """The ids of one page that answers the query, and the count of all.

    Words that say a karat or fineness with a colour are taken as the trade name that they are, whatever words the
    alloys are listed with; "nickel free" asks for freedom from nickel.
    """
    alloys = reference.alloys.values()
    if query.q is None:
        return find(query, alloys)
    words, without = reference.names.free_of(query.q)
    if without:
        query = replace(query, free_of=(*query.free_of, without))
    trade = reference.trade_name(words)
    if trade is None:
        return find(replace(query, q=words.strip() or None), alloys)
    return find(replace(query, q=None), reference.alloys_of(trade))


class DatedChange(Protocol):
    """An entry of a changelog."""

    @property
    def date(self) -> str:
        """When."""

    @property
    def text(self) -> str:
        """What."""


def alloy_named(name: str, reference: Reference) -> Alloy:
    """The alloy of that id, name or alias; `UnknownName` with near matches, `InvalidInput` if several are meant."""
    id_ = reference.alloy_id(name)
    if id_ is None:
        trade = reference.trade_name(name)
        if trade is not None:
            detail = f"{name[:80]!r} is a trade name: see /v1/trade-names/{trade.id}, or ask for one of its alloys."
            choices = tuple(map(reference.candidate, trade.members))
            raise UnknownName(Issue("trade-name", detail, "", trade.members, choices))
        near = reference.near_alloys(name)
        choices = tuple(map(reference.candidate, near))
        raise UnknownName(Issue("unknown-alloy", reference.no_such("alloy", name, near), "", near, choices))
    return reference.alloys[id_]


@dataclass(frozen=True, slots=True)
class Readable:
    """A metal of which single numbers are read, with the standing and source of its composition."""

    metal: Metal
    status: Status
    source: str


def readable(name: str, reference: Reference, own: Callable[[str], Metal]) -> Readable:
    """The alloy or pure element of that id, name or symbol, or one of the shop's own, which `own` looks up.

    Raises `UnknownName` with near matches if there is none, `InvalidInput` if several alloys are meant.
    """
    if name.startswith(PREFIX):
        try:
            return Readable(own(name), Status.GIVEN, SOURCE)
        except InvalidInput as error:
            raise UnknownName(*error.issues) from None
    if reference.alloy_id(name) is None:
        symbol = reference.symbol(name)
        if symbol is not None:
            return Readable(reference.metal(symbol), Status.STANDARD, "definition")
        trade = reference.trade_name(name)
        if trade is not None:
            return Readable(trade.metal, Status.CALCULATED, trade.fineness.source)
    alloy = alloy_named(name, reference)
    return Readable(alloy.metal, alloy.composition_status, alloy.composition_source)


def number_of(one: Readable, name: str, unit: str | None, reference: Reference) -> NumberView:
    """One property of a metal in the unit asked for, or in its own.

    Raises `NotAvailable` if there is no figure, `InvalidInput` for a wrong unit.
    """
    value = _property_of(one, name)
    if value is None:
        why = _why_none(one.metal, name, reference)
        raise NotAvailable(Issue("not-available", f"No {name} is known here for {one.metal.id}. {why}".rstrip()))
    shown, low, high, symbol = value.value, value.low, value.high, value.unit
    if unit is not None:
        dimension = PROPERTIES[name]
        symbol = reference.units.find(unit, dimension).symbol
        shown, low, high = (_in_unit(end, value.unit, symbol, dimension, reference) for end in (shown, low, high))
    return NumberView(one.metal.id, name, shown, low, high, symbol, value.status.value, value.source)


def _why_none(metal: Metal, name: str, reference: Reference) -> str:
    if PROPERTIES[name] is not Dimension.TEMPERATURE:
        return ""
    if metal.is_trade_name:
        return f"It is a trade name, of {', '.join(metal.members)}."
    return reference.why_no_melting(metal.composition)


def _in_unit(value: Decimal, from_: str, to: str, dimension: Dimension, reference: Reference) -> Decimal:
    exact = reference.units.convert(value, from_, to, dimension)
    ended = fraction_to_decimal(exact, None)
    return ended if -ended.as_tuple().exponent <= CONVERTED_DECIMALS else round_to(ended, CONVERTED_DECIMALS)  # type: ignore[operator]


def _property_of(one: Readable, name: str) -> Property | None:
    if name == "fineness":
        return fineness_of(one.metal, one.status, one.source)
    if name == "karat":
        return karat_of(one.metal)
    found: Property | None = getattr(one.metal, name)
    return found


def dataset_view(reference: Reference, changes: Sequence[DatedChange]) -> DatasetView:
    """Version, hash, counts and changelog of the data being served."""
    counts = {
        "alloys": len(reference.alloys),
        "elements": len(reference.elements),
        "sources": len(reference.sources),
        "units": len(reference.units.all),
        "patterns": len(reference.patterns),
        "stones": len(reference.stones),
        "trade_rules": len(reference.rules),
        "constants": len(reference.constants),
        "cautions": len(reference.cautions),
        "fineness_marks": len(reference.marks),
        "gauges": len(reference.gauges),
        "ring_sizes": len(reference.ring_sizes),
        "trade_names": len(reference.trade_names),
        "colour_designations": len(reference.colour_designations),
    }
    statuses = Counter(alloy.metal.density.status.value for alloy in reference.alloys.values())
    version = reference.dataset
    return DatasetView(
        version.version,
        version.hash,
        version.date,
        counts,
        dict(sorted(statuses.items())),
        standings(reference.citations),
        tuple(ChangeView(one.date, one.text) for one in changes),
    )
