"""Writers from declared results and inputs to plain JSON values, put together once for each dataclass.

This is the edge where numbers are rounded: half-even, to the decimals that the field declares.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from functools import singledispatchmethod
from typing import Any

import orjson

from alloyref.domain import calculation as declared
from alloyref.domain.calculation import Assumption, Kind, items
from alloyref.domain.errors import Issue, NotAvailable
from alloyref.domain.metal import Caution, Material, Metal
from alloyref.domain.numbers import STEPS, fraction_to_decimal, plain
from alloyref.domain.provenance import Property, Status
from alloyref.domain.shop.alloy import PREFIX
from alloyref.domain.span import AtLeast, MassRange, MoneyRange
from alloyref.domain.units import BASE_UNIT, Dimension, Units

Writer = Callable[[Any], Any]
DISPLAY_DECIMALS = {"g": 2, "dwt": 2, "ozt": 4}
MOST_FLOAT_DIGITS = 15
MASS_STEP = STEPS[4]


def real(value: Decimal | str) -> float:
    """The float nearest to a decimal; what rounds to a negative zero is zero."""
    return float(value) + 0.0


def number(value: Decimal) -> Any:
    """A decimal as a JSON number with the very same digits.

    Up to 15 significant digits a float prints as the decimal it was made from; longer ones are written out.
    """
    text = str(value)
    return real(text) if len(text) <= MOST_FLOAT_DIGITS else orjson.Fragment(plain(value))


class Writers:
    """The writers of all declared dataclasses, over one table of units."""

    def __init__(self, units: Units) -> None:
        self._records: dict[type, Writer] = {}
        self._kept: dict[int, tuple[Any, orjson.Fragment]] = {}
        self._display = display_writer(units)

    def record(self, type_: type) -> Writer:
        """The writer of a declared dataclass."""
        if type_ not in self._records:
            pairs = [(attribute, one.name, self._kind(one.kind)) for attribute, one in items(type_).items()]

            def write(value: Any) -> dict[str, Any]:
                out = {}
                for attribute, name, writer in pairs:
                    inner = getattr(value, attribute)
                    out[name] = None if inner is None else writer(inner)
                return out

            self._records[type_] = write
        return self._records[type_]

    def kept(self, value: Any, write: Writer) -> orjson.Fragment:
        """The written form of an object that lives as long as the reference data, written only once."""
        found = self._kept.get(id(value))
        if found is None or found[0] is not value:
            found = (value, orjson.Fragment(orjson.dumps(write(value))))
            self._kept[id(value)] = found
        return found[1]

    @singledispatchmethod
    def _kind(self, kind: Kind) -> Writer:
        return _as_it_is

    @_kind.register(declared.Number)
    @_kind.register(declared.Share)
    @_kind.register(declared.BookEntry)
    def _(self, kind: Kind) -> Writer:
        return number

    @_kind.register
    def _(self, kind: declared.Quantity) -> Writer:
        unit = BASE_UNIT[kind.dimension]
        return lambda value: {"value": number(value), "unit": unit}

    @_kind.register
    def _(self, kind: declared.Measured) -> Writer:
        unit, step = BASE_UNIT[kind.dimension], STEPS[kind.decimals]
        display = self._display if kind.display else None

        def write(value: Any) -> dict[str, Any]:
            if type(value) is Decimal:
                out: dict[str, Any] = {"value": real(value.quantize(step)), "unit": unit}
            elif type(value) is Property:
                return property_json(value, step)
            else:
                out = {
                    "value": real(value.value.quantize(step)),
                    "unit": unit,
                    "low": real(value.low.quantize(step)),
                    "high": real(value.high.quantize(step)),
                }
                value = value.value
            if display is not None:
                out["display"] = display(value)
            return out

        return write

    @_kind.register
    def _(self, kind: declared.Exact) -> Writer:
        decimals = kind.decimals
        if decimals is None:
            return lambda pair: {"value": number(pair[0]), "unit": pair[1]}
        return lambda pair: {"value": number(fraction_to_decimal(pair[0], decimals)), "unit": pair[1]}

    @_kind.register
    def _(self, kind: declared.FinenessOf) -> Writer:
        return lambda fineness: {"value": number(fineness.value), "unit": fineness.scale}

    @_kind.register
    def _(self, kind: declared.Money) -> Writer:
        return lambda pair: {
            "value": real(pair[0]),
            "currency": pair[1],
            **({"at_least": True} if isinstance(pair, AtLeast) else {}),
        }

    @_kind.register
    def _(self, kind: declared.MassSpan) -> Writer:
        return self.mass_span

    @_kind.register
    def _(self, kind: declared.MoneySpan) -> Writer:
        return money_span

    @_kind.register
    def _(self, kind: declared.Record) -> Writer:
        write = self.record(kind.type)
        if kind.shorthand is None or not _is_measured(kind.type, kind.shorthand):
            return write
        name = kind.shorthand

        def merged(value: Any) -> dict[str, Any]:
            out: dict[str, Any] = write(value)
            return {**out.pop(name), **out}

        return merged

    @_kind.register
    def _(self, kind: declared.ListOf) -> Writer:
        write = self._kind(kind.record)
        return lambda values: [write(value) for value in values]

    @_kind.register
    def _(self, kind: declared.MapOf) -> Writer:
        write = self._kind(kind.kind)
        return lambda values: {name: write(value) for name, value in values.items()}

    @_kind.register
    def _(self, kind: declared.CompositionOf) -> Writer:
        return lambda composition: {symbol: number(share) for symbol, share in composition.parts}

    @_kind.register
    def _(self, kind: declared.Permille) -> Writer:
        return lambda value: {"value": number(value), "unit": "permille"}

    @_kind.register
    def _(self, kind: declared.AssayOf) -> Writer:
        return lambda assay: {symbol: number(share) for symbol, share in assay.items()}

    @_kind.register
    def _(self, kind: declared.MarkName) -> Writer:
        return lambda mark: mark.text

    @_kind.register
    def _(self, kind: declared.MetalName) -> Writer:
        return self.metal_or_label if kind.or_label else self.metal

    @_kind.register
    def _(self, kind: declared.MaterialName) -> Writer:
        return material_json

    @_kind.register
    def _(self, kind: declared.ElementList) -> Writer:
        return lambda symbols: ",".join(symbols) or None

    @_kind.register(declared.TextList)
    @_kind.register(declared.WordList)
    def _(self, kind: Kind) -> Writer:
        return list

    def mass_span(self, span: MassRange) -> dict[str, Any]:
        """A mass of which only the ends may be known."""
        low, high = (real(end.quantize(MASS_STEP)) for end in (span.low, span.high))
        return {
            "value": None if span.value is None else low,
            "unit": BASE_UNIT[Dimension.MASS],
            "low": low,
            "high": high,
            "display": {"low": self._display(span.low), "high": self._display(span.high)},
        }

    def metal(self, metal: Metal) -> Any:
        """A metal as understood; one of the catalogue is written only once, others do not live long enough."""
        return self.kept(metal, metal_json) if metal.id and not metal.id.startswith(PREFIX) else metal_json(metal)

    def metal_or_label(self, metal: Metal | str) -> Any:
        """A metal as understood, or the name that stood for it."""
        return metal if isinstance(metal, str) else self.metal(metal)

    def assumption(self, one: Assumption) -> dict[str, Any]:
        """What an answer rests on."""
        return {"id": one.id, "text": one.text, **property_json(one.basis)}

    def caution(self, one: Caution) -> Any:
        """A caution."""
        return self.kept(one, caution_json)


def display_writer(units: Units) -> Writer:
    """The writer of a mass in g as a bench reads it: g, dwt and ozt, to the decimals of a usual balance."""
    steps = {name: STEPS[decimals] for name, decimals in DISPLAY_DECIMALS.items()}
    grams, pennyweights, ounces = steps["g"], steps["dwt"], steps["ozt"]
    dwt, ozt = (units.to_base(Decimal(1), name, Dimension.MASS) for name in ("dwt", "ozt"))

    def write(value: Decimal) -> dict[str, float]:
        return {
            "g": real(value.quantize(grams)),
            "dwt": real((value / dwt).quantize(pennyweights)),
            "ozt": real((value / ozt).quantize(ounces)),
        }

    return write


def _as_it_is(value: Any) -> Any:
    return value


def _is_measured(type_: type, attribute: str) -> bool:
    return isinstance(items(type_)[attribute].kind, declared.Measured)


def money_span(span: MoneyRange) -> dict[str, Any]:
    """An amount of which only the ends may be known."""
    low, high = real(span.low), real(span.high)
    out = {"value": None if span.value is None else low, "low": low, "high": high, "currency": span.currency}
    return {**out, "at_least": True} if span.at_least else out


def property_json(one: Property, step: Decimal | None = None) -> dict[str, Any]:
    """A property with its range, standing and source."""
    value, low, high = one.value, one.low, one.high
    if step is not None:
        value, low, high = value.quantize(step), low.quantize(step), high.quantize(step)
    out = {
        "value": real(value),
        "unit": one.unit,
        "low": real(low),
        "high": real(high),
        "status": one.status.value,
        "source": one.source,
    }
    if one.note:
        out["note"] = one.note
    return out


def metal_json(metal: Metal) -> dict[str, Any]:
    """A metal as understood; of one without an id also the solidus and liquidus that the caller gave."""
    out = {
        "id": metal.id or None,
        "name": metal.name,
        "composition": {symbol: number(share) for symbol, share in metal.composition.parts},
        "density": property_json(metal.density),
    }
    if not metal.id:
        ends = (("solidus", metal.solidus), ("liquidus", metal.liquidus))
        out |= {name: property_json(end) for name, end in ends if end is not None and end.status is Status.GIVEN}
    return out


def material_json(material: Material) -> dict[str, Any]:
    """A pattern material or stone as understood."""
    return {"id": material.id, "name": material.name, "density": property_json(material.density)}


def caution_json(one: Caution) -> dict[str, Any]:
    """A caution as served."""
    return {
        "id": one.id,
        "title": one.title,
        "text": one.text,
        "refer": one.refer,
        "status": one.status.value,
        "source": one.source,
    }


def text_of(calculation: declared.Calculation, result: Any) -> str:
    """The one number of an answer that `text/plain` gives: digits only, no unit and no line end.

    Raises `NotAvailable`, with the reason that the result gives, where there is no such number.
    """
    field = calculation.text
    if field is None:
        raise LookupError(calculation.name)
    kind, value = items(calculation.result)[field].kind, getattr(result, field)
    if value is None:
        raise NotAvailable(Issue("not-available", result.why_none))
    if isinstance(kind, declared.Measured):
        exact = value if isinstance(value, Decimal) else value.value
        return plain(exact.quantize(STEPS[kind.decimals]))
    if isinstance(kind, declared.Exact) and kind.decimals is not None:
        return plain(fraction_to_decimal(value[0], kind.decimals))
    return plain(value[0])
