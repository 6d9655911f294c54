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
from alloyref.domain.estimate import Estimate
from alloyref.domain.figures import MASS_DECIMALS
from alloyref.domain.metal import Caution, Material, Metal
from alloyref.domain.numbers import STEPS, fraction_to_decimal, plain
from alloyref.domain.provenance import Property, Status
from alloyref.domain.shop.alloy import PREFIX
from alloyref.domain.span import AtLeast, MassRange, MoneyRange
from alloyref.domain.typed import Typed, step_of
from alloyref.domain.units import BASE_UNIT, Dimension, Units, fahrenheit

Writer = Callable[[Any], Any]
DISPLAY, IN_UNIT, STEP = "display", "in_unit", "step"
GRAM = BASE_UNIT[Dimension.MASS]
MOST_FLOAT_DIGITS = 15
SPAN_DECIMALS = 4
MASS_STEP = STEPS[SPAN_DECIMALS]


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
    """The writers of all declared dataclasses, over one table of units.

    Those that `answering_in` gives write each mass of a result in the asker's unit too, beside g.
    """

    def __init__(self, units: Units) -> None:
        self._records: dict[type, Writer] = {}
        self._kept: dict[int, tuple[Any, orjson.Fragment]] = {}
        self._display = display_writer(units)
        self._units = units
        self._asked: InUnit | None = None
        self._others: dict[str, Writers] = {}

    def answering_in(self, unit: str | None) -> Writers:
        """The writers that say masses in that unit too; these themselves for g, and where there is none."""
        if unit is None or unit == GRAM:
            return self
        if unit not in self._others:
            other = Writers(self._units)
            other._kept, other._asked = self._kept, InUnit(unit, self._units)
            self._others[unit] = other
        return self._others[unit]

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
        if kind.dimension is not Dimension.MASS:
            return lambda value: {"value": number(value), "unit": unit}
        digits = kind.digits

        def write(value: Decimal) -> dict[str, Any]:
            out: dict[str, Any] = {"value": number(value), "unit": unit}
            if isinstance(value, Typed) and (digits or value.unit != unit):
                out[IN_UNIT] = {"value": number(value.number), "unit": value.unit}
                if digits:
                    out[IN_UNIT][STEP] = number(step_of(value))
            return out

        return write

    @_kind.register
    def _(self, kind: declared.Measured) -> Writer:
        unit, step = BASE_UNIT[kind.dimension], STEPS[kind.decimals]
        if kind.dimension is Dimension.TEMPERATURE and kind.display:
            return temperature_writer(step)
        display = self._display if kind.display else None
        asked = self._asked.writer(kind.decimals) if self._asked and kind.dimension is Dimension.MASS else None

        def write(value: Any) -> dict[str, Any]:
            if isinstance(value, Decimal):
                out: dict[str, Any] = {"value": real(value.quantize(step)), "unit": unit}
            elif type(value) is Property:
                return property_json(value, step)
            else:
                out = estimate_json(value, unit, step)
            if display is not None:
                out[DISPLAY] = display(value if isinstance(value, Decimal) else value.value)
            if asked is not None:
                out[IN_UNIT] = asked(value)
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
        out = {
            "value": None if span.value is None else low,
            "unit": GRAM,
            "low": low,
            "high": high,
            DISPLAY: {"low": self._display(span.low), "high": self._display(span.high)},
        }
        if self._asked:
            out[IN_UNIT] = self._asked.writer(SPAN_DECIMALS)(span)
        return out

    def metal(self, metal: Metal) -> Any:
        """A metal as understood; one of the catalogue is written only once, others do not live long enough."""
        kept = metal.id and not metal.id.startswith(PREFIX) and not metal.is_trade_name
        return self.kept(metal, metal_json) if kept else metal_json(metal)

    def metal_or_label(self, metal: Metal | str) -> Any:
        """A metal as understood, or the name that stood for it."""
        return metal if isinstance(metal, str) else self.metal(metal)

    def assumption(self, one: Assumption) -> dict[str, Any]:
        """What an answer rests on."""
        return {"id": one.id, "text": one.text, **property_json(one.basis)}

    def caution(self, one: Caution) -> Any:
        """A caution."""
        return self.kept(one, caution_json)


class InUnit:
    """Masses in g as the asker's unit has them, rounded no coarser than in g."""

    def __init__(self, unit: str, units: Units) -> None:
        self.unit = unit
        self.grams = units.to_base(Decimal(1), unit, Dimension.MASS)

    def decimals(self, in_grams: int) -> int:
        """The decimals in this unit that are as fine as so many in g."""
        return in_grams + max(0, self.grams.adjusted() + 1)

    def writer(self, in_grams: int) -> Writer:
        """The writer of masses that are rounded to so many decimals in g: an amount, or one with its range."""
        step = STEPS[self.decimals(in_grams)]

        def inside(value: Decimal | None) -> float | None:
            return None if value is None else real((value / self.grams).quantize(step))

        def write(value: Any) -> dict[str, Any]:
            if isinstance(value, Decimal):
                return {"value": inside(value), "unit": self.unit}
            ends = {"low": inside(value.low), "high": inside(value.high)}
            return {"value": inside(value.value), "unit": self.unit, **ends}

        return write


def display_writer(units: Units) -> Writer:
    """The writer of a mass in g as a bench reads it: g, dwt and ozt, to the decimals of a usual balance."""
    steps = {name: STEPS[decimals] for name, decimals in MASS_DECIMALS.items()}
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


def estimate_json(one: Estimate, unit: str, step: Decimal) -> dict[str, Any]:
    """A value with its range."""
    value, low, high = (real(part.quantize(step)) for part in (one.value, one.low, one.high))
    return {"value": value, "unit": unit, "low": low, "high": high}


def temperature_writer(step: Decimal) -> Writer:
    """The writer of a temperature with its range in C, and the same in whole degrees F."""
    unit, whole = BASE_UNIT[Dimension.TEMPERATURE], STEPS[0]

    def write(value: Estimate | Property) -> dict[str, Any]:
        out = property_json(value, step) if isinstance(value, Property) else estimate_json(value, unit, step)
        ends = {name: getattr(value, name) for name in ("value", "low", "high")}
        out["in_fahrenheit"] = {name: real(fahrenheit(end).quantize(whole)) for name, end in ends.items()}
        return out

    return write


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
    """A metal as understood; of one without an id also the solidus and liquidus that the caller gave.

    A trade name tells the alloys that bear it in the place of a composition.
    """
    if metal.is_trade_name:
        return _trade_name_json(metal)
    out = {
        "id": metal.id or None,
        "name": metal.name,
        "composition": {symbol: number(share) for symbol, share in metal.composition.parts},
        "density": property_json(metal.density),
    }
    return out if metal.id else out | _given_ends(metal)


def _given_ends(metal: Metal) -> dict[str, Any]:
    """The solidus and liquidus that the caller gave."""
    ends = (("solidus", metal.solidus), ("liquidus", metal.liquidus))
    return {name: property_json(end) for name, end in ends if end is not None and end.status is Status.GIVEN}


def _trade_name_json(metal: Metal) -> dict[str, Any]:
    return {
        "id": metal.id,
        "name": metal.name,
        "trade_name": metal.id,
        "members": list(metal.members),
        "density": property_json(metal.density),
        **_given_ends(metal),
    }


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
