"""JSON schemas (2020-12, as OpenAPI 3.1 uses) of declared inputs, results and views."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import singledispatchmethod
from typing import Any

from alloyref.domain import calculation as declared
from alloyref.domain.calculation import Item, Kind, items
from alloyref.domain.currency import SIGNS
from alloyref.domain.figures import MASS_DECIMALS
from alloyref.domain.mark_name import MOST_CHARACTERS
from alloyref.domain.metal_spec import MetalSpec, TradeNameSpec
from alloyref.domain.numbers import plain
from alloyref.domain.provenance import Status
from alloyref.domain.reference import Reference
from alloyref.domain.shop.alloy import ID_FORM, PREFIX
from alloyref.domain.shop.stored_prices import STORED, StoredPrices
from alloyref.domain.units import BASE_UNIT, Dimension
from alloyref.web.schemas.fields import NOT_ON_A_LINE, UNSEEN
from alloyref.web.schemas.served import ENDS, FIGURES, ID, STATUS, TRADE_NAME, WORDS
from alloyref.web.schemas.write import IN_UNIT, STEP

Schema = dict[str, Any]
METAL_UNIT = "MetalMassUnit"
STATUSES = [one.value for one in Status]
AT_LEAST: dict[str, Schema] = {
    "at_least": {"type": "boolean", "description": "True where it leaves out what has no price, and only then there."}
}
# Decimal strings of plain form; the exponent form is taken too, but clients are not told to write it.
DECIMAL_PATTERN = r"^[0-9]{1,12}(\.[0-9]{1,12})?$"
METAL_NAMES = ("MetalId", "AlloyName", "TradeNameOfMetal", "ShopAlloyId")
DECIMAL_STRING: Schema = {"type": "string", "pattern": DECIMAL_PATTERN}


def _literal(text: str) -> str:
    """Text as a pattern of JSON Schema, whose dialect (ECMA 262) refuses escapes that nothing needs.

    >>> _literal("g.cm-3"), _literal("[oz_tr]")
    ('g\\\\.cm-3', '\\\\[oz_tr\\\\]')
    """
    return re.sub(r"[\\^$.*+?()\[\]{}|]", r"\\\g<0>", text)


class Describer:
    """Builds schemas and collects the named ones in `components`."""

    def __init__(self, reference: Reference) -> None:
        self._reference = reference
        self.components: dict[str, Schema] = {}
        self._types: dict[str, type] = {}
        self._shared()

    def _shared(self) -> None:
        units = self._reference.units
        for dimension in (
            Dimension.MASS,
            Dimension.VOLUME,
            Dimension.LENGTH,
            Dimension.DENSITY,
            Dimension.TEMPERATURE,
        ):
            names = sorted(units.names(dimension))
            self.components[f"{dimension.value.capitalize()}Unit"] = {
                "type": "string",
                "enum": names,
                "description": f"A unit of {dimension.value}: symbol, UCUM code or unambiguous name.",
            }
        self.components[METAL_UNIT] = {
            "type": "string",
            "enum": sorted(units.names(Dimension.MASS, stones=False)),
            "description": "A unit of mass, for metal: carats and points weigh stones only.",
        }
        self.components["PurityUnit"] = {
            "type": "string",
            "enum": sorted(units.names(Dimension.PURITY)),
            "description": "A scale of purity.",
        }
        self.components["MetalId"] = {
            "type": "string",
            "enum": sorted([*self._reference.alloys, *self._reference.elements]),
            "description": "A catalogue id (`/v1/alloys`) or an element symbol for the pure metal.",
        }
        self.components["ShopAlloyId"] = {
            "type": "string",
            "pattern": f"^{PREFIX}{ID_FORM}$",
            "description": "An alloy of the shop's own (`/v1/shop/alloys`); needs a key.",
        }
        self.components["AlloyName"] = {
            "type": "string",
            "enum": self._reference.names.listed,
            "description": "A name or alias of a catalogue alloy; case, spaces and hyphens make no difference, nor "
            "does 14k for 14 ct, nor the metal's name behind it.",
        }
        self.components["TradeNameOfMetal"] = {
            "type": "string",
            "enum": sorted({name for trade in self._reference.trade_names.values() for name in trade.names}),
            "description": "A name that the trade uses for several alloys (`/v1/trade-names`): it answers with the "
            "range of all of them. Case, spaces and hyphens make no difference, nor does the order of the words.",
        }
        self.components["MetalName"] = {
            "oneOf": [{"$ref": f"#/components/schemas/{name}"} for name in METAL_NAMES],
            "description": "A metal by its name.",
        }
        self.components["Metal"] = {
            "oneOf": [
                {"$ref": "#/components/schemas/MetalName"},
                self._line(),
                self.record(MetalSpec),
                self._trade_name_as_answered(),
                {"$ref": "#/components/schemas/MetalAsAnswered"},
            ],
            "description": "A metal: by name, by composition, or as an answer shows it.",
        }
        self._as_answered()

        number = {"oneOf": [{"type": "number", "minimum": 0, "maximum": 1000}, DECIMAL_STRING]}
        scales = "|".join(_literal(name) for name in sorted(units.names(Dimension.PURITY)))
        text = {"type": "string", "pattern": rf"^[0-9]{{1,4}}(\.[0-9]{{1,9}})? ({scales})$"}
        self.components["FinenessText"] = {**text, "description": "A purity with its scale, like '14 karat'."}
        self.components["Fineness"] = {
            "description": "A purity with its scale, as an object or as a string like '14 karat'.",
            "oneOf": [
                _object({"value": number, "unit": {"$ref": "#/components/schemas/PurityUnit"}}, ["value", "unit"]),
                {"$ref": "#/components/schemas/FinenessText"},
            ],
        }

    def _trade_name_as_answered(self) -> Schema:
        """A trade name with the supplier's figures, or as an answer shows it."""
        figure = {"$ref": "#/components/schemas/FigureAsAnswered"}
        spec = {name: _or_null(self.item(one)) for name, one in items(TradeNameSpec).items()}
        self.components["TradeNameMetal"] = _object(
            {
                ID: {"type": "string"},
                "name": {"type": "string"},
                "members": {"type": "array", "items": {"type": "string"}},
                TRADE_NAME: {"type": "string", "minLength": 1},
                **{name: {**spec[name], "anyOf": [figure, *spec[name]["anyOf"]]} for name in FIGURES},
            },
            [TRADE_NAME],
            "A metal by its trade name, with the supplier's own figures if there are any. What an answer shows "
            "beside it must agree with what the service would show in its place.",
        )
        return {"$ref": "#/components/schemas/TradeNameMetal"}

    def _as_answered(self) -> None:
        """A metal with the figures that answers show of it, to be sent back."""
        number: Schema = {"oneOf": [{"type": "number"}, DECIMAL_STRING]}
        self.components["FigureAsAnswered"] = _object(
            {
                **dict.fromkeys(("value", *ENDS), number),
                "unit": {"type": "string"},
                **{name: {"type": "string"} for name in WORDS},
                STATUS: {"type": "string", "enum": STATUSES},
            },
            ["value", "unit"],
            "A figure as an answer shows it.",
        )
        figure = {"$ref": "#/components/schemas/FigureAsAnswered"}
        names = [{"$ref": f"#/components/schemas/{name}"} for name in ("MetalId", "ShopAlloyId")]
        spec = {name: _or_null(self.item(one)) for name, one in items(MetalSpec).items()}
        self.components["MetalAsAnswered"] = _object(
            {
                ID: {"anyOf": [*names, {"type": "null"}]},
                **spec,
                **{name: {**spec[name], "anyOf": [figure, *spec[name]["anyOf"]]} for name in FIGURES},
            },
            [ID],
            "A metal as an answer shows it: taken by its id, or without one by its composition and the figures whose "
            "status is given. What else stands there must agree with what the service would show in its place, and "
            "is refused if it does not.",
        )

    def record(self, type_: type, output: bool = False, merge: str | None = None) -> Schema:
        """A reference to the named schema of a declared dataclass."""
        name = type_.__name__
        if self._types.setdefault(name, type_) is not type_:
            raise TypeError(f"two declared dataclasses are called {name}, and schemas go by name")
        if name not in self.components:
            self.components[name] = {}
            properties: dict[str, Schema] = {}
            required = []
            for attribute, one in items(type_).items():
                schema = self.item(one, output)
                if attribute == merge:
                    properties |= schema["properties"]
                    required += schema["required"]
                    continue
                # Answers write null for what was left out, and may be sent back.
                properties[one.name] = _or_null(schema) if one.optional and not output else schema
                if output or not one.optional:
                    required.append(one.name)
            doc = (type_.__doc__ or "").strip().split("\n")[0]
            self.components[name] = _object(properties, required, doc)
            for word, attribute in (("oneOf", "ONE_OF"), ("anyOf", "ANY_OF")):
                choices = getattr(type_, attribute, ())
                if choices:
                    # In an allOf of its own: makers of clients would else take the object for a union of things.
                    self.components[name]["allOf"] = [{word: [_there(choice) for choice in choices]}]
        return {"$ref": f"#/components/schemas/{name}"}

    def item(self, one: Item, output: bool = False) -> Schema:
        """The schema of one declared field, with its meaning, default and example."""
        schema = self.kind(one.kind, output)
        if output and one.nullable:
            schema = {"anyOf": [schema, {"type": "null"}]}
        schema = {**schema, "description": one.doc}
        if not output and isinstance(one.default, (str, int)) and not isinstance(one.default, bool):
            schema["default"] = one.default
        if not output and isinstance(one.default, Decimal):
            schema["default"] = _written(one.kind, one.default)
        if one.example is not None:
            schema["examples"] = [one.example]
        return schema

    def _in_unit(self, name: str, value: Schema) -> Schema:
        """A mass of an answer in the asker's unit, where that is not g, as a named schema."""
        parts: dict[str, Schema] = {"value": value, "unit": {"type": "string", "examples": ["dwt"]}}
        parts |= {"low": {"type": "number"}, "high": {"type": "number"}}
        about = "The same in the unit that the first mass was given in, if that is not g."
        self.components[name] = _object(parts, ["value", "unit"], about)
        return {"$ref": f"#/components/schemas/{name}"}

    @singledispatchmethod
    def kind(self, kind: Kind, output: bool = False) -> Schema:
        """The schema of a kind."""
        raise TypeError(kind)

    @kind.register
    def _(self, kind: declared.Number, output: bool = False) -> Schema:
        if output:
            return {"type": "number"}
        text = DECIMAL_STRING
        if kind.units:
            units = "|".join(kind.units)
            text = {"type": "string", "pattern": rf"^[0-9]{{1,12}}(\.[0-9]{{1,12}})? ?({units})?$"}
        return {"oneOf": [{"type": "number", **_bounds(kind)}, text]}

    @kind.register
    def _(self, kind: declared.BookEntry, output: bool = False) -> Schema:
        return {"type": "number"}

    @kind.register
    def _(self, kind: declared.Share, output: bool = False) -> Schema:
        if output:
            return {"type": "number"}
        percent = {"type": "string", "pattern": r"^[0-9]{1,2}(\.[0-9]{1,6})? (percent|permille|%|‰)$"}
        return {"oneOf": [{"type": "number", **_bounds(kind)}, DECIMAL_STRING, percent]}

    @kind.register
    def _(self, kind: declared.Permille, output: bool = False) -> Schema:
        scaled = {"type": "string", "pattern": r"^[0-9]{1,4}(\.[0-9]{1,6})? (karat|percent|permille|fraction)$"}
        number = {"oneOf": [{"type": "number", "minimum": 0, "maximum": 1000}, DECIMAL_STRING]}
        parts: dict[str, Schema] = {"value": number, "unit": {"$ref": "#/components/schemas/PurityUnit"}}
        whole = _object(parts, list(parts))
        return {"oneOf": [{"type": "number", **_bounds(kind)}, DECIMAL_STRING, scaled, whole]}

    @kind.register
    def _(self, kind: declared.AssayOf, output: bool = False) -> Schema:
        share = self.kind(declared.Permille(least=Decimal(0)))
        names = {"enum": list(self._reference.elements)}
        return {"type": "object", "propertyNames": names, "additionalProperties": share, "minProperties": 1}

    @kind.register
    def _(self, kind: declared.Pasted, output: bool = False) -> Schema:
        return {}

    @kind.register
    def _(self, kind: declared.MarkName, output: bool = False) -> Schema:
        return {"type": ["string", "number"], "maxLength": MOST_CHARACTERS, "exclusiveMinimum": 0, "maximum": 1000}

    @kind.register
    def _(self, kind: declared.Whole, output: bool = False) -> Schema:
        return {"type": "integer", "minimum": kind.least, "maximum": kind.most}

    @kind.register
    def _(self, kind: declared.Text, output: bool = False) -> Schema:
        schema: Schema = {"type": ["string", "number"] if kind.digits else "string"}
        if not output:
            any_ = f"[^{NOT_ON_A_LINE}]*"
            line = f"^{any_}$" if kind.blank else f"^{any_}[^{NOT_ON_A_LINE}{UNSEEN}]{any_}$"
            schema |= {"maxLength": kind.most, "pattern": kind.pattern or line}
            if not kind.blank:
                schema["minLength"] = 1
        return schema

    @kind.register
    def _(self, kind: declared.Currency, output: bool = False) -> Schema:
        if output:
            return {"type": "string"}
        return {"type": "string", "pattern": f"^([A-Za-z]{{3}}|{'|'.join(map(_literal, SIGNS))})$"}

    @kind.register
    def _(self, kind: declared.Flag, output: bool = False) -> Schema:
        return {"type": "boolean"}

    @kind.register
    def _(self, kind: declared.Choice, output: bool = False) -> Schema:
        return {"type": "string", "enum": [str(option) for option in kind.options]}

    @kind.register
    def _(self, kind: declared.CatalogueWord, output: bool = False) -> Schema:
        words = list(self._reference.catalogue_words(kind.of))
        if kind.of == "base":
            words += [self._reference.elements[symbol].name for symbol in words]
        return {"type": "string", "enum": words}

    @kind.register
    def _(self, kind: declared.UnitName, output: bool = False) -> Schema:
        return {"$ref": f"#/components/schemas/{kind.dimension.value.capitalize()}Unit"}

    @kind.register
    def _(self, kind: declared.MetalName, output: bool = False) -> Schema:
        return {"$ref": "#/components/schemas/Metal"}

    @kind.register
    def _(self, kind: declared.MaterialName, output: bool = False) -> Schema:
        ids: Schema = {"type": "string", "enum": list(getattr(self._reference, kind.table))}
        name = f"{kind.table.title().removesuffix('s')}AsAnswered"
        figure = {"$ref": "#/components/schemas/FigureAsAnswered"}
        self.components[name] = _object(
            {ID: ids, "name": {"type": "string"}, "density": figure},
            [ID],
            "As an answer shows it; what stands beside the id must agree with what the service would show.",
        )
        return {"oneOf": [ids, {"$ref": f"#/components/schemas/{name}"}]}

    @kind.register
    def _(self, kind: declared.CompositionOf, output: bool = False) -> Schema:
        share = {
            "oneOf": [
                {"type": "number", "minimum": 0, "maximum": 1000.5},
                {"type": "string", "pattern": DECIMAL_PATTERN},
            ]
        }
        shares = {
            "type": "object",
            "propertyNames": {"enum": list(self._reference.elements)},
            "additionalProperties": share,
            "minProperties": 1,
        }
        return {"oneOf": [shares, self._line()]}

    def _line(self) -> Schema:
        """A composition on one line of text."""
        one = "(" + "|".join(self._reference.elements) + r") [0-9]{1,4}(\.[0-9]{1,3})?"
        return {"type": "string", "pattern": f"^{one}(, {one})*$"}

    @kind.register(declared.ElementList)
    def _(self, kind: declared.ElementList, output: bool = False) -> Schema:
        known = (*self._reference.elements, *(element.name for element in self._reference.elements.values()))
        one = "(" + "|".join(map(_literal, known)) + ")"
        return {"type": "string", "pattern": f"^{one}(,{one})*$"}

    @kind.register
    def _(self, kind: declared.WordList, output: bool = False) -> Schema:
        one = "(" + "|".join(kind.options) + ")"
        return {"type": "string", "pattern": f"^{one}(,{one})*$"}

    @kind.register
    def _(self, kind: declared.TextList, output: bool = False) -> Schema:
        return {"type": "array", "items": {"type": "string"}}

    @kind.register
    def _(self, kind: declared.FinenessOf, output: bool = False) -> Schema:
        return {"$ref": "#/components/schemas/Fineness"}

    @kind.register
    def _(self, kind: declared.Quantity, output: bool = False) -> Schema:
        name = f"{'Stone' if kind.stones else ''}{kind.dimension.value.capitalize()}Quantity"
        schema = self._quantity(kind)
        # One with other bounds than the first of its dimension is written out where it stands.
        return {"$ref": f"#/components/schemas/{name}"} if self._named(name, schema) == schema else schema

    def _named(self, name: str, schema: Schema) -> Schema:
        """The named schema, which is the first one given that name."""
        return self.components.setdefault(name, schema)

    def _quantity(self, kind: declared.Quantity) -> Schema:
        number = {"oneOf": [{"type": "number", **_sign(kind)}, DECIMAL_STRING]}
        base = BASE_UNIT[kind.dimension]
        names = "|".join(_literal(name) for name in sorted(self._reference.units.names(kind.dimension, kind.stones)))
        parts: dict[str, Schema] = {"value": number, "unit": {"$ref": f"#/components/schemas/{unit_schema(kind)}"}}
        if kind.dimension is Dimension.MASS:
            parts = {**parts, IN_UNIT: _or_null(self._as_typed(kind, parts["unit"]))}
        return {
            "description": f"A {kind.dimension.value} with its unit, as an object or as a string like '4.82 {base}'.",
            "oneOf": [
                _object(parts, ["value", "unit"]),
                {"type": "string", "pattern": rf"^[0-9]{{1,6}}(\.[0-9]{{1,9}})? ({names})$"},
            ],
        }

    def _as_typed(self, kind: declared.Quantity, unit: Schema) -> Schema:
        """A mass as it was typed, which answers show beside it in g, as a named schema."""
        name = f"{'Stone' if kind.stones else ''}MassAsTyped{'WithStep' if kind.digits else ''}"
        parts: dict[str, Schema] = {"value": {"oneOf": [{"type": "number"}, DECIMAL_STRING]}, "unit": unit}
        if kind.digits:
            least = {"oneOf": [{"type": "number", "exclusiveMinimum": 0, "maximum": 1}, DECIMAL_STRING]}
            parts[STEP] = _or_null(least)
        about = "As answers show it: the same mass as it was typed. Leave it out where you write your own."
        self.components[name] = _object(parts, ["value", "unit"], about)
        return {"$ref": f"#/components/schemas/{name}"}

    @kind.register
    def _(self, kind: declared.Measured, output: bool = False) -> Schema:
        properties: dict[str, Schema] = {name: {"type": "number"} for name in ("value", "low", "high")}
        properties |= {
            "unit": {"type": "string", "examples": [BASE_UNIT[kind.dimension]]},
            "status": {"type": "string", "enum": STATUSES},
            "source": {"type": "string"},
            "note": {"type": "string"},
        }
        required = ["value", "unit"]
        if kind.dimension is Dimension.MASS:
            properties[IN_UNIT] = self._in_unit("MassInUnit", {"type": "number"})
        if kind.display:
            is_mass = kind.dimension is Dimension.MASS
            names = MASS_DECIMALS if is_mass else ("value", "low", "high")
            about = "The mass as a balance would show it." if is_mass else "The same in whole degrees Fahrenheit."
            required.append("display" if is_mass else "in_fahrenheit")
            properties[required[-1]] = _object({key: {"type": "number"} for key in names}, list(names), about)
        return _object(properties, required)

    @kind.register
    def _(self, kind: declared.Exact, output: bool = False) -> Schema:
        return _object({"value": {"type": "number"}, "unit": {"type": "string"}}, ["value", "unit"])

    @kind.register
    def _(self, kind: declared.Money, output: bool = False) -> Schema:
        amount: dict[str, Schema] = {"value": {"type": "number"}, "currency": {"type": "string"}}
        return _object(amount | AT_LEAST, list(amount))

    @kind.register
    def _(self, kind: declared.MassSpan, output: bool = False) -> Schema:
        if "MassSpan" not in self.components:
            number: Schema = {"type": "number"}
            shown = _object(dict.fromkeys(MASS_DECIMALS, number), list(MASS_DECIMALS))
            ends = _object({"low": shown, "high": shown}, ["low", "high"], "The ends as a balance would show them.")
            properties: dict[str, Schema] = {"value": {"type": ["number", "null"]}, "unit": {"type": "string"}}
            properties |= {"low": number, "high": number, "display": ends}
            required = list(properties)
            properties[IN_UNIT] = self._in_unit("MassSpanInUnit", {"type": ["number", "null"]})
            self.components["MassSpan"] = _object(properties, required, (kind.__doc__ or "").strip())
        return {"$ref": "#/components/schemas/MassSpan"}

    @kind.register
    def _(self, kind: declared.MoneySpan, output: bool = False) -> Schema:
        number: Schema = {"type": "number"}
        properties: dict[str, Schema] = {"value": {"type": ["number", "null"]}, "low": number, "high": number}
        properties["currency"] = {"type": "string"}
        return _object(properties | AT_LEAST, list(properties))

    @kind.register
    def _(self, kind: declared.Record, output: bool = False) -> Schema:
        if output:
            shorthand = kind.shorthand
            merge = (
                shorthand if shorthand and isinstance(items(kind.type)[shorthand].kind, declared.Measured) else None
            )
            return self.record(kind.type, output, merge)
        schema = self.record(kind.type)
        if kind.shorthand is None:
            return schema
        return {"oneOf": [schema, self.kind(items(kind.type)[kind.shorthand].kind)]}

    @kind.register
    def _(self, kind: declared.ListOf, output: bool = False) -> Schema:
        schema: Schema = {"type": "array", "items": self.kind(kind.record, output)}
        if output:
            return schema
        ways: list[Schema] = [{**schema, "maxItems": kind.most}]
        if kind.within:
            ways.append(self._holding(kind.within, ways[0]))
        if kind.stored:
            ways += [{"const": STORED}, self.record(StoredPrices)]
        return ways[0] if len(ways) == 1 else {"oneOf": ways}

    def _holding(self, within: tuple[str, ...], listed: Schema) -> Schema:
        """An object that holds the list under the first of these names, or under the next, and so on."""
        name, *rest = within
        inner = {"oneOf": [listed, self._holding(tuple(rest), listed)]} if rest else listed
        whole: Schema = {"type": "object", "required": [name], "properties": {name: inner}}
        return {"oneOf": [whole, self._holding(tuple(rest), listed)]} if rest else whole

    @kind.register
    def _(self, kind: declared.MapOf, output: bool = False) -> Schema:
        return {"type": "object", "additionalProperties": self.kind(kind.kind, output)}


def unit_schema(kind: declared.Quantity) -> str:
    """The name of the schema of its units."""
    of_metal = kind.dimension is Dimension.MASS and not kind.stones
    return METAL_UNIT if of_metal else f"{kind.dimension.value.capitalize()}Unit"


def _object(properties: dict[str, Schema], required: list[str], description: str = "") -> Schema:
    schema: Schema = {
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }
    if not required:
        del schema["required"]
    return {**schema, "description": description} if description else schema


def _or_null(schema: Schema) -> Schema:
    """The same schema with null as well; meaning, default and examples stay outside."""
    outside = ("description", "default", "examples")
    about = {name: value for name, value in schema.items() if name in outside}
    inner = {name: value for name, value in schema.items() if name not in outside}
    return {"anyOf": [inner, {"type": "null"}], **about} if inner else schema


def _there(name: str) -> Schema:
    """An object that has this field, and not as null."""
    return {"required": [name], "properties": {name: {"not": {"type": "null"}}}}


def _written(kind: Kind, value: Decimal) -> str | float:
    """A default as a caller would write it."""
    return f"{plain(value)} {BASE_UNIT[kind.dimension]}" if isinstance(kind, declared.Quantity) else float(value)


def _sign(kind: declared.Quantity) -> Schema:
    """The bounds that hold whatever the unit: those at zero, and none on a temperature."""
    if kind.dimension is Dimension.TEMPERATURE:
        return {}
    if kind.above is not None:
        return {"exclusiveMinimum": 0}
    return {"minimum": 0} if kind.least == 0 else {"exclusiveMinimum": 0}


def _bounds(kind: Any) -> Schema:
    names = {"above": "exclusiveMinimum", "least": "minimum", "below": "exclusiveMaximum", "most": "maximum"}
    found = {
        keyword: float(bound) for name, keyword in names.items() if (bound := getattr(kind, name, None)) is not None
    }
    if found.get("exclusiveMinimum", -1) >= found.get("minimum", 0):
        found.pop("minimum", None)  # one end, said once
    return found
