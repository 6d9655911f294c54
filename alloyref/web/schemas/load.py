"""Marshmallow schemas built from the declarations, once, when the service starts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextvars import ContextVar
from datetime import UTC, datetime
from functools import singledispatchmethod
from itertools import islice
from typing import Any, Protocol

from marshmallow import RAISE, Schema, ValidationError, fields

from alloyref.domain import calculation as declared
from alloyref.domain.calculation import Item, Kind, items
from alloyref.domain.errors import InvalidInput, Issue, pointer_token, refused, unknown_field
from alloyref.domain.metal import Metal
from alloyref.domain.metal_spec import MetalSpec, TradeNameSpec
from alloyref.domain.order.inputs import Price
from alloyref.domain.reference import Reference
from alloyref.domain.shop.stored_prices import PRICES, STORED, StoredPrices, chosen, concerning, written
from alloyref.web.schemas import fields as kinds
from alloyref.web.schemas.fields import MISSING, MOST_ISSUES, NOT_AN_OBJECT

MOST_NAMES = 60
"""More fields than any object declares; a flood of misspelt ones is refused unread."""
_READING: ContextVar[object] = ContextVar("reading", default=None)
"""The whole input that is being read, for who looks up one name and may look up the others with it."""


class _UnknownField:
    """Stands in marshmallow's messages for a field that is not declared; `known` are those that are."""

    def __init__(self, known: tuple[str, ...]) -> None:
        self.known = known


class DeclaredSchema(Schema):
    """Loads a mapping into the dataclass it was built for; extra fields are refused."""

    # Underlined, so that no declared field of the same name takes its place.
    _made: type

    def __init__(self) -> None:
        super().__init__(unknown=RAISE)
        self._by_name = {
            field.data_key or attribute: (field.attribute or attribute, field)
            for attribute, field in self.load_fields.items()
        }
        self._required = tuple(name for name, (_, field) in self._by_name.items() if field.required)

    def _deserialize(self, data: Any, *, error_store: Any, **kwargs: Any) -> Any:
        """Walk what was sent, not what could have been, and make the dataclass of it.

        An order declares some sixty fields and is sent ten. Does what marshmallow's own walk and a
        `post_load` hook do for `many=False` and `unknown=RAISE`, in less than half the time.
        """
        if not isinstance(data, Mapping):
            return super()._deserialize(data, error_store=error_store, **kwargs)
        if len(data) > MOST_NAMES:
            raise ValidationError([Issue("too-many", f"At most {MOST_NAMES} fields.")])
        loaded: dict[str, Any] = {}
        for name, value in data.items():
            if name not in self._by_name:
                error_store.store_error([self.error_messages["unknown"]], name)
                continue
            attribute, field = self._by_name[name]
            if value is None and not field.required:
                continue  # Answers write null for what was left out, and may be sent back.
            try:
                loaded[attribute] = field.deserialize(value, name, data)
            except ValidationError as error:
                error_store.store_error(error.messages, name)
        for name in self._required:
            if name not in data:
                error_store.store_error([MISSING], name)
        return loaded if error_store.errors else self._made(**loaded)


class OwnMetals(Protocol):
    """Whoever knows the metals of the caller's own, named `shop:...`."""

    def metal(self, name: str, within: object, reference: Reference, loaders: Loaders) -> Metal:
        """The metal of that name, `InvalidInput` if there is none; `within` is the whole input that names it."""


class OwnPrices(Protocol):
    """Whoever knows the quotes that the caller has stored."""

    def latest(self, on: str) -> Sequence[Mapping[str, Any]]:
        """Of each metal and currency the latest quote made by that day, as it was written."""


class Loaders:
    """The loaders of all declared inputs over one set of reference data.

    They look up metals of the caller's own, and quotes that the caller has stored, with whoever knows them. With
    `recorded` the figures that an answer shows beside a metal are not held to today's when they come back: they were
    when the record was made, and data change.
    """

    def __init__(
        self,
        reference: Reference,
        own_metals: OwnMetals | None = None,
        own_prices: OwnPrices | None = None,
        *,
        recorded: bool = False,
    ) -> None:
        self._reference = reference
        self._own_metals = own_metals
        self._own_prices = own_prices
        self._recorded = recorded
        self._schemas: dict[type, Schema] = {}

    def load(self, type_: type, data: object) -> Any:
        """Read input into its dataclass; `InvalidInput` carries every issue with its pointer.

        Sound input that the reference has no answer to is `NotAvailable`.
        """
        data = self.resolved(type_, data)
        token = _READING.set(data)
        try:
            return self.schema(type_).load(data)  # type: ignore[arg-type]  # marshmallow checks the type itself
        except ValidationError as error:
            raise refused(tuple(islice(_issues(error.messages, ""), MOST_ISSUES))) from None
        finally:
            _READING.reset(token)

    def resolved(self, type_: type, data: object) -> object:
        """The same input with the figures of stored quotes in the place of the wish for them.

        `InvalidInput` if there are none to be had, or none for a precious metal that has to be priced.
        """
        asked = data.get(PRICES) if isinstance(data, dict) and hasattr(type_, "PRICED") else None
        if not isinstance(asked, dict) and asked != STORED:
            return data
        bare = {name: value for name, value in data.items() if name != PRICES}  # type: ignore[attr-defined]
        return {**bare, PRICES: self._stored(type_, bare, {} if asked == STORED else asked)}

    def _stored(self, type_: type, bare: dict[str, Any], asked: dict[str, Any]) -> list[dict[str, Any]]:
        if self._own_prices is None:
            raise InvalidInput.of("not-a-list", "No quotes are stored here; give the prices.", f"/{PRICES}")
        inputs = self.load(type_, bare)
        try:
            wanted: StoredPrices = self.load(StoredPrices, asked)
            kept = self._own_prices.latest(wanted.on or datetime.now(UTC).date().isoformat())
            quotes = [self.load(Price, one) for one in concerning(inputs, kept, self._reference)]
            return [written(one) for one in chosen(wanted, quotes, inputs, self._reference)]
        except InvalidInput as error:
            raise InvalidInput(*(issue.under(f"/{PRICES}") for issue in error.issues)) from None

    def schema(self, type_: type) -> Schema:
        """The schema of a declared dataclass, built at first use."""
        if type_ not in self._schemas:
            self._schemas[type_] = self._build(type_)
        return self._schemas[type_]

    def _build(self, type_: type) -> Schema:
        declared_items = items(type_)
        built = {attribute: self._field(attribute, one) for attribute, one in declared_items.items()}
        known = tuple(one.name for one in declared_items.values())
        messages = {"unknown": _UnknownField(known), "type": NOT_AN_OBJECT}
        made = type(
            type_.__name__ + "Schema",
            (DeclaredSchema,),
            {**built, "_made": type_, "error_messages": messages},
        )
        schema: Schema = made()
        return schema

    def own_metal(self, name: str) -> Metal:
        """The metal of the caller's own of that name, `InvalidInput` if there is none."""
        if self._own_metals is None:
            raise InvalidInput.of("unknown-metal", "Alloys of a shop's own are not known here.")
        return self._own_metals.metal(name, _READING.get(), self._reference, self)

    def _field(self, attribute: str, one: Item) -> fields.Field[Any]:
        options: dict[str, Any] = {"required": not one.optional}
        if one.name != attribute:
            options |= {"data_key": one.name, "attribute": attribute}
        return self._make(one.kind, options)

    @singledispatchmethod
    def _make(self, kind: Kind, options: dict[str, Any]) -> fields.Field[Any]:
        simple = _SIMPLE[type(kind)]
        return simple(kind, self._reference, **options)

    @_make.register
    def _(self, kind: declared.MetalName, options: dict[str, Any]) -> fields.Field[Any]:
        specs = self.schema(MetalSpec), self.schema(TradeNameSpec)
        return kinds.MetalField(kind, self._reference, specs, self.own_metal, self._recorded, **options)

    @_make.register
    def _(self, kind: declared.MaterialName, options: dict[str, Any]) -> fields.Field[Any]:
        return kinds.MaterialField(kind, self._reference, self._recorded, **options)

    @_make.register
    def _(self, kind: declared.Record, options: dict[str, Any]) -> fields.Field[Any]:
        return kinds.RecordField(self.schema(kind.type), kind.shorthand, **options)

    @_make.register
    def _(self, kind: declared.ListOf, options: dict[str, Any]) -> fields.Field[Any]:
        record = kinds.RecordField(self.schema(kind.record.type), kind.record.shorthand)
        return kinds.RecordListField(record, kind, **options)


_SIMPLE: dict[type[Kind], type[kinds.DeclaredField]] = {
    declared.Quantity: kinds.QuantityField,
    declared.Number: kinds.NumberField,
    declared.Share: kinds.ShareField,
    declared.Permille: kinds.PermilleField,
    declared.MarkName: kinds.MarkField,
    declared.AssayOf: kinds.AssayField,
    declared.Pasted: kinds.PastedField,
    declared.Whole: kinds.WholeField,
    declared.Text: kinds.TextField,
    declared.Currency: kinds.CurrencyField,
    declared.Flag: kinds.FlagField,
    declared.Choice: kinds.ChoiceField,
    declared.CatalogueWord: kinds.CatalogueWordField,
    declared.UnitName: kinds.UnitField,
    declared.FinenessOf: kinds.FinenessField,
    declared.CompositionOf: kinds.CompositionField,
    declared.ElementList: kinds.ElementListField,
    declared.WordList: kinds.WordListField,
}


def _issues(messages: Any, pointer: str) -> Iterator[Issue]:
    """Marshmallow's nested messages as issues with JSON pointers, one at a time as they are asked for."""
    if isinstance(messages, Mapping):
        for name, inner in messages.items():
            unknown = (
                next((one for one in inner if isinstance(one, _UnknownField)), None)
                if isinstance(inner, list)
                else None
            )
            if unknown is not None:
                yield unknown_field(str(name), unknown.known).under(pointer)
            else:
                yield from _issues(inner, pointer + ("" if name == "_schema" else f"/{pointer_token(str(name))}"))
    elif isinstance(messages, Issue):
        yield messages.under(pointer)
    elif isinstance(messages, (list, tuple)):
        for one in messages:
            yield from _issues(one, pointer)
    else:
        yield Issue("invalid", str(messages), pointer)
