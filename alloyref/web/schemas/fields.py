"""One marshmallow field for each kind of declared input. No Flask here: the command line loads with them too."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from marshmallow import Schema, ValidationError, fields, missing

from alloyref.domain.calculation import (
    AssayOf,
    CatalogueWord,
    Choice,
    ElementList,
    FinenessOf,
    ListOf,
    MarkName,
    MaterialName,
    Number,
    Permille,
    Quantity,
    Share,
    Text,
    UnitName,
    Whole,
    WordList,
)
from alloyref.domain.composition import Composition
from alloyref.domain.currency import currency_of
from alloyref.domain.errors import (
    AlloyrefError,
    InvalidInput,
    Issue,
    did_you_mean,
    nearest,
    pointer_token,
    unknown_field,
)
from alloyref.domain.fineness import Fineness
from alloyref.domain.mark_name import Mark, parse_mark
from alloyref.domain.metal import Material, Metal
from alloyref.domain.metal_spec import MetalSpec, TradeNameSpec, metal_from_spec, metal_from_trade_name
from alloyref.domain.numbers import parse_decimal, plain
from alloyref.domain.reference import Reference
from alloyref.domain.shop.alloy import PREFIX
from alloyref.domain.trade_names import require_composition
from alloyref.domain.typed import Typed, same_amount, with_step
from alloyref.domain.units import BASE_UNIT, Dimension
from alloyref.web.schemas.served import ID, TRADE_NAME, TRADE_NAME_PARTS, asked_of, hold_estimates, hold_to, id_of
from alloyref.web.schemas.write import DISPLAY, IN_UNIT, STEP, material_json, metal_json

MISSING = Issue("missing", "This is needed.")
NULL = Issue("null", "This is needed and cannot be null.")
NOT_AN_OBJECT = Issue("not-an-object", "An object is needed here.")
WORD = re.compile(r"[a-z]+")
MOST_ISSUES = 50
"""No more faults are told of than these."""
MOST_ELEMENTS = 40
MOST_LABEL = 120
ASSAY_MOST = Decimal("1000.5")
MOST_LINE = 800


UNSEEN = (
    r"\u0020\u00a0\u00ad\u034f\u061c\u115f\u1160\u1680\u17b4\u17b5\u180b-\u180f\u2000-\u200f\u205f-\u2065"
    r"\u206a-\u206f\u2800\u3000\u3164\ufe00-\ufe0f\ufeff\uffa0"
)
"""Spaces of every width and signs that show nothing, as within a character class."""
NOT_ON_A_LINE = r"\u0000-\u001f\u007f-\u009f\u2028-\u202e\u2066-\u2069"
ONE_LINE = re.compile(rf"[^{NOT_ON_A_LINE}\ud800-\udfff]*")
"""Text without control characters, line ends, turned writing, and halves of surrogate pairs."""
SEEN = re.compile(f"[^{UNSEEN}]")


def refuse(code: str, detail: str, pointer: str = "", suggestions: tuple[str, ...] = ()) -> ValidationError:
    """A validation error that carries a whole issue."""
    return ValidationError([Issue(code, detail, pointer, suggestions)])


def reading(error: AlloyrefError | ValidationError, prefix: str = "") -> ValidationError:
    """An error of the core, or of a field within, as a validation error under the place it happened in."""
    return ValidationError(issues_under(error, prefix))


def issues_under(error: AlloyrefError | ValidationError, prefix: str) -> list[Issue]:
    """The issues of an error of the core, or of a field within, under the place it happened in."""
    issues: Any = error.issues if isinstance(error, AlloyrefError) else error.messages
    return [issue.under(prefix) for issue in issues]


class DeclaredField(fields.Field[Any]):
    """Base of the fields below: it holds the kind it reads and the reference data it may look things up in."""

    default_error_messages = {"required": MISSING, "null": NULL}  # type: ignore[dict-item]  # noqa: RUF012

    def __init__(self, kind: Any, reference: Reference, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.kind = kind
        self.reference = reference

    def deserialize(self, value: Any, attr: str | None = None, data: Any = None, **kwargs: Any) -> Any:
        """Read a value that is there; marshmallow's own way is kept for missing and null ones."""
        if value is missing or value is None:
            return super().deserialize(value, attr, data, **kwargs)
        try:
            return self.read(value)
        except AlloyrefError as error:
            raise reading(error) from None

    def read(self, value: Any) -> Any:
        """The value inside; raises `AlloyrefError` or `ValidationError`."""
        raise NotImplementedError


def check_bounds(number: Decimal, kind: Any, unit: str = "") -> None:
    """Refuse a number outside the declared bounds, naming the bound."""
    above, most = getattr(kind, "above", None), getattr(kind, "most", None)
    least, below = getattr(kind, "least", None), getattr(kind, "below", None)
    if above is not None and number <= above:
        broken = f"more than {plain(above)}"
    elif least is not None and number < least:
        broken = f"at least {plain(Decimal(least))}"
    elif below is not None and number >= below:
        broken = f"less than {plain(below)}"
    elif most is not None and number > most:
        broken = f"at most {plain(Decimal(most))}"
    else:
        return
    raise refuse("out-of-range", f"This must be {broken}{f' {unit}' if unit not in ('', '1') else ''}.")


class NumberField(DeclaredField):
    """A bare number: JSON number or decimal string."""

    kind: Number

    def read(self, value: Any) -> Decimal:
        if isinstance(value, str):
            value = self._bare(value)
        number = parse_decimal(value)
        check_bounds(number, self.kind)
        return number

    def _bare(self, value: str) -> str:
        """The number without the unit that may be written behind it, in any case."""
        for unit in self.kind.units:
            if value.strip().casefold().endswith(unit):
                return value.strip()[: -len(unit)].rstrip()
        return value


class QuantityField(DeclaredField):
    """A number with a unit, as `"4.82 dwt"` or `{"value": 4.82, "unit": "dwt"}`; inside, in the base unit."""

    kind: Quantity

    def read(self, value: Any) -> Typed:
        shown = None
        if isinstance(value, Mapping):
            if self.kind.answered and DISPLAY in value:
                # What an answer shows beside the value says the same in other units, rounded.
                value = {name: inner for name, inner in value.items() if name not in (DISPLAY, IN_UNIT)}
            if self.kind.dimension is Dimension.MASS:
                shown = value.get(IN_UNIT)
                value = {name: inner for name, inner in value.items() if name != IN_UNIT}
        quantity = self._typed(value)
        if shown is not None:
            quantity = self._as_typed(quantity, shown)
        check_bounds(quantity, self.kind, BASE_UNIT[self.kind.dimension])
        return quantity

    def _typed(self, value: Any) -> Typed:
        number, unit, place = number_and_unit(value, self.kind.dimension, self.reference)
        try:
            return self.reference.units.typed(number, unit, self.kind.dimension, self.kind.stones)
        except AlloyrefError as error:
            raise reading(error, place) from None

    def _as_typed(self, quantity: Typed, shown: Any) -> Typed:
        """The quantity as it was typed first, which answers show beside the one in g; one that was changed counts.

        A value that is no round number in the unit beside it was not written by an answer, so somebody changed it.
        Where either may have been changed, it is refused.
        """
        bare, step = shown, None
        if isinstance(shown, Mapping) and self.kind.digits:
            bare, step = {name: one for name, one in shown.items() if name != STEP}, shown.get(STEP)
        try:
            typed = self._typed(bare)
            if step is not None:
                typed = with_step(typed, parse_decimal(step))
        except (AlloyrefError, ValidationError) as error:
            raise reading(error, f"/{IN_UNIT}") from None
        if same_amount(typed, quantity):
            return typed
        if self.reference.units.is_round(quantity, typed.unit, self.kind.dimension):
            detail = (
                f"{plain(quantity.number)} {quantity.unit} is not {plain(typed.number)} {typed.unit}, as {IN_UNIT} "
                f"says: change both, or leave {IN_UNIT} out."
            )
            raise refuse("contradiction", detail, f"/{IN_UNIT}/value")
        return quantity


class FinenessField(DeclaredField):
    """A purity with its scale, as `"14 karat"` or `{"value": 14, "unit": "karat"}`; kept as given."""

    kind: FinenessOf

    def read(self, value: Any) -> Fineness:
        number, unit, place = number_and_unit(value, Dimension.PURITY, self.reference)
        try:
            scale = self.reference.units.find(unit, Dimension.PURITY).symbol
        except AlloyrefError as error:
            raise reading(error, place) from None
        share = self.reference.units.convert(number, scale, "fraction", Dimension.PURITY)
        if not 0 <= share <= 1:
            raise refuse("out-of-range", f"{plain(number)} {scale} is not between nothing and fine metal.")
        return Fineness(number, scale, share)


def number_and_unit(value: Any, dimension: Dimension, reference: Reference) -> tuple[Decimal, str, str]:
    """The number and the unit's name in either way of writing, and the pointer to the unit within it."""
    if isinstance(value, str):
        return *reference.units.split(value, dimension), ""
    if not isinstance(value, Mapping):
        example = "14 karat" if dimension is Dimension.PURITY else f"4.82 {BASE_UNIT[dimension]}"
        raise refuse(
            "unit-missing",
            f'A {dimension.value} needs its unit: "{example}", or value and unit as an object.',
            suggestions=reference.units.symbols(dimension)[:4],
        )
    issues = [unknown_field(name, ("value", "unit")) for name in value if name not in ("value", "unit")]
    issues += [Issue(MISSING.code, MISSING.detail, f"/{name}") for name in ("value", "unit") if name not in value]
    if issues:
        raise ValidationError(issues)
    try:
        number = parse_decimal(value["value"])
    except AlloyrefError as error:
        raise reading(error, "/value") from None
    if not isinstance(value["unit"], str):
        raise refuse("not-a-string", "A unit is a string.", "/unit")
    return number, value["unit"], "/unit"


class ShareField(DeclaredField):
    """A fraction of one: a bare number, or with a unit such as percent."""

    kind: Share

    def read(self, value: Any) -> Decimal:
        if isinstance(value, str) and not value.strip()[-1:].isdigit():
            number = self.reference.units.parse(value, Dimension.RATIO)
        else:
            number = parse_decimal(value)
        if number >= 1 and self.kind.below <= 1:
            meant = number if number < 100 else Decimal(5)
            share = f"write {plain(meant / 100)} or '{plain(meant)} percent'"
            raise refuse("out-of-range", f"A share is a fraction of one: {share}.")
        check_bounds(number, self.kind)
        return number


class PermilleField(DeclaredField):
    """A fineness: a bare number in permille, or with its scale; inside, permille."""

    kind: Permille

    def read(self, value: Any) -> Decimal:
        scaled = isinstance(value, Mapping) or (isinstance(value, str) and not value.strip()[-1:].isdigit())
        number = self._scaled(value) if scaled else parse_decimal(value)
        check_bounds(number, self.kind, "permille")
        return number

    def _scaled(self, value: Any) -> Decimal:
        number, unit, place = number_and_unit(value, Dimension.PURITY, self.reference)
        try:
            return self.reference.units.to_base(number, unit, Dimension.PURITY) * 1000
        except AlloyrefError as error:
            raise reading(error, place) from None


class MarkField(DeclaredField):
    """A fineness mark."""

    kind: MarkName

    def read(self, value: Any) -> Mark:
        return parse_mark(value)


class WholeField(DeclaredField):
    """A whole number."""

    kind: Whole

    def read(self, value: Any) -> int:
        number = parse_decimal(value)
        if number != number.to_integral_value():
            raise refuse("not-whole", "A whole number is needed here.")
        check_bounds(number, self.kind)
        return int(number)


class TextField(DeclaredField):
    """One line of text."""

    kind: Text

    def __init__(self, kind: Text, reference: Reference, **kwargs: Any) -> None:
        super().__init__(kind, reference, **kwargs)
        self._pattern = re.compile(kind.pattern, re.ASCII) if kind.pattern else ONE_LINE

    def read(self, value: Any) -> str:
        if self.kind.digits and not isinstance(value, str):
            value = plain(parse_decimal(value))
        if not isinstance(value, str):
            raise refuse("not-a-string", "A string is needed here.")
        if len(value) > self.kind.most:
            raise refuse("too-long", f"At most {self.kind.most} characters.")
        if not self._pattern.fullmatch(value):
            raise refuse("wrong-form", self._needed())
        if not self.kind.blank and not SEEN.search(value):
            raise refuse("blank", "A name is needed here, with something to see in it.")
        if self.kind.format == "date" and not _is_date(value):
            raise refuse("wrong-form", "There is no such day; write a date as 2026-11-20.")
        return value

    def _needed(self) -> str:
        if self.kind.says:
            return f"Write {self.kind.says}."
        form = f"of the form {self.kind.pattern}" if self.kind.pattern else "one line without control characters"
        return f"This must be {form}."


class CurrencyField(DeclaredField):
    """A currency; inside, its code."""

    def read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise refuse("not-a-string", "A string is needed here.")
        return currency_of(value)


def _is_date(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


class ChoiceField(DeclaredField):
    """One of a few words."""

    kind: Choice
    other_words: tuple[str, ...] = ()
    """Other ways to say them, which a misspelt one may be near to."""

    def read(self, value: Any) -> str:
        if isinstance(value, str) and value in self.kind.options:
            return value
        near = nearest(value, (*self.other_words, *self.kind.options)) if isinstance(value, str) else ()
        allowed = ", ".join(self.kind.options)
        raise refuse(
            "not-an-option",
            f"This is one of: {allowed}." + did_you_mean(near),
            suggestions=near or self.kind.options,
        )


class CatalogueWordField(ChoiceField):
    """A family, colour or base that alloys of the catalogue have, in any case; a base also by the metal's name."""

    def __init__(self, kind: CatalogueWord, reference: Reference, **kwargs: Any) -> None:
        super().__init__(Choice(reference.catalogue_words(kind.of)), reference, **kwargs)
        self._spelt = {word.casefold(): word for word in self.kind.options}
        self._is_base = kind.of == "base"
        if self._is_base:
            self.other_words = tuple(reference.elements[symbol].name for symbol in self.kind.options)

    def read(self, value: Any) -> str:
        if isinstance(value, str):
            symbol = self.reference.names.symbol(value) if self._is_base else None
            value = symbol or self._spelt.get(value.strip().casefold(), value)
        return super().read(value)


class FlagField(DeclaredField):
    """True or false; in a query also the words `true` and `false`."""

    def read(self, value: Any) -> bool:
        if isinstance(value, bool):
            return value
        if value in ("true", "false"):
            return bool(value == "true")
        raise refuse("not-a-flag", "This is true or false.")


class TakenUnit(str):
    """A unit that is asked for only because another quantity came in it; what is wrong with it is told there."""


class UnitField(DeclaredField):
    """The name of a unit; inside, its symbol."""

    kind: UnitName

    def read(self, value: Any) -> str:
        if not isinstance(value, str):
            raise refuse("not-a-string", "A unit is a string.")
        try:
            return self.reference.units.find(value, self.kind.dimension).symbol
        except InvalidInput:
            if isinstance(value, TakenUnit):
                return value
            raise


class ElementListField(DeclaredField):
    """Elements by symbol or name, in any case, parted by commas; inside, symbols."""

    kind: ElementList

    def read(self, value: Any) -> tuple[str, ...]:
        # A misspelt word may be near to a name, which is then offered; a name itself has become its symbol.
        names = (element.name for element in self.reference.elements.values())
        return split_words(value, (*self.reference.elements, *names), "unknown-element", self._symbol)

    def _symbol(self, word: str) -> str:
        return self.reference.names.symbol(word) or word


class WordListField(DeclaredField):
    """Field names, by commas or as a list."""

    kind: WordList

    def read(self, value: Any) -> tuple[str, ...]:
        return split_words(value, self.kind.options, "unknown-field")


def split_words(value: Any, known: tuple[str, ...], code: str, spelt: Callable[[str], str] = str) -> tuple[str, ...]:
    """Words of a known vocabulary from a comma-separated string, each first as `spelt` has it."""
    if not isinstance(value, str):
        raise refuse("not-a-string", "Words separated by commas.")
    words = tuple(dict.fromkeys(spelt(word.strip()) for word in value.split(",")))
    for word in words:
        if word not in known:
            near = nearest(word, known)
            raise refuse(
                code, f"{word[:20]!r} is not known here." + did_you_mean(near), suggestions=near or known[:8]
            )
    return words


def material_names(table: Mapping[str, Material]) -> Mapping[str, tuple[str, ...]]:
    """The ids that each word of a material's name may mean, such as ruby for corundum.

    >>> ruby = Material("corundum", "Corundum (ruby, sapphire)", None)  # type: ignore[arg-type]
    >>> material_names({"corundum": ruby})["ruby"]
    ('corundum',)
    """
    names: dict[str, tuple[str, ...]] = {}
    for id_, material in table.items():
        for word in dict.fromkeys((material.name.casefold(), *WORD.findall(material.name.casefold()))):
            names[word] = (*names.get(word, ()), id_)
    return names


class MaterialField(DeclaredField):
    """A pattern material or a stone by id, or as an answer shows it."""

    kind: MaterialName

    def __init__(self, kind: Any, reference: Reference, recorded: bool, **kwargs: Any) -> None:
        super().__init__(kind, reference, **kwargs)
        self._recorded = recorded

    def read(self, value: Any) -> Any:
        if not isinstance(value, Mapping) or ID not in value:
            return self._named(value)
        try:
            material = self._named(id_of(value))
        except ValidationError as error:
            raise reading(error, f"/{ID}") from None
        if not self._recorded:
            hold_to(value, material_json(material))
        return material

    def _named(self, value: Any) -> Material:
        table: Mapping[str, Material] = getattr(self.reference, self.kind.table)
        if isinstance(value, str) and value in table:
            return table[value]
        named = material_names(table).get(value.strip().casefold(), ()) if isinstance(value, str) else ()
        if len(named) == 1:
            return table[named[0]]
        near = named or (nearest(value, table) if isinstance(value, str) else ())
        raise refuse(
            "not-an-option",
            f"This is one of: {', '.join(table)}." + did_you_mean(near),
            suggestions=near or tuple(table),
        )


class CompositionField(DeclaredField):
    """Shares by element symbol in permille, as an object or as one line of text."""

    def read(self, value: Any) -> Composition:
        if isinstance(value, str):
            return composition_from_line(value, self.reference)
        if not isinstance(value, Mapping) or not value or len(value) > MOST_ELEMENTS:
            raise refuse("not-an-object", 'Shares by element in permille, such as {"Au": 750, "Ag": 125, "Cu": 125}.')
        shares, issues = {}, []
        for symbol, share in value.items():
            try:
                shares[symbol] = parse_decimal(share)
            except AlloyrefError as error:
                issues += [issue.under(f"/{pointer_token(symbol)}") for issue in error.issues]
        if issues:
            raise ValidationError(issues)
        return Composition.from_permille(shares, self.reference.elements)


def composition_from_line(value: str, reference: Reference) -> Composition:
    """The composition on one line of text, of bounded length."""
    if len(value) > MOST_LINE:
        raise refuse("too-long", f"At most {MOST_LINE} characters.")
    return Composition.from_text(value, reference.elements)


class AssayField(DeclaredField):
    """Fineness by element symbol."""

    def __init__(self, kind: AssayOf, reference: Reference, **kwargs: Any) -> None:
        super().__init__(kind, reference, **kwargs)
        self._fineness = PermilleField(Permille(least=Decimal(0)), reference)

    def read(self, value: Any) -> Mapping[str, Decimal]:
        if not isinstance(value, Mapping) or not value or len(value) > MOST_ELEMENTS:
            raise refuse("not-an-object", 'Permille by element, such as {"Au": 583.1, "Ag": 98}.')
        found, issues = {}, []
        for symbol, share in value.items():
            place = f"/{pointer_token(symbol)}"
            if symbol not in self.reference.elements:
                near = nearest(symbol, self.reference.elements)
                detail = f"{symbol[:20]!r} is not an element known here." + did_you_mean(near)
                issues.append(Issue("unknown-element", detail, place, near))
                continue
            try:
                found[symbol] = self._fineness.read(share)
            except (AlloyrefError, ValidationError) as error:
                issues += issues_under(error, place)
        if sum(found.values(), Decimal(0)) > ASSAY_MOST:
            issues.append(Issue("composition-sum", "An assay cannot come to more than 1000 permille."))
        if issues:
            raise ValidationError(issues)
        return found


class PastedField(DeclaredField):
    """Whatever it is, null too; inside, None."""

    def deserialize(self, value: Any, attr: str | None = None, data: Any = None, **kwargs: Any) -> None:
        """Not read."""


class MetalField(DeclaredField):
    """A metal by id, by element symbol, of the shop's own, or by composition: an object or one line of text.

    It may also come as an answer shows it.
    """

    def __init__(
        self,
        kind: Any,
        reference: Reference,
        specs: tuple[Schema, Schema],
        own: Callable[[str], Metal],
        recorded: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(kind, reference, **kwargs)
        self._spec, self._trade_name = specs
        self._own = own
        self._recorded = recorded

    def read(self, value: Any) -> Metal | str:
        metal = self._read(value)
        if self.kind.composed and isinstance(metal, Metal):
            require_composition(metal)
        return metal

    def _read(self, value: Any) -> Metal | str:
        if isinstance(value, str):
            if value.startswith(PREFIX):
                return self._own(value)
            # "Pt950" is a trade name, though it looks like the beginning of a composition.
            is_line = Composition.is_line(value) and not self.reference.is_named(value)
            if is_line and not self.kind.or_label:
                return metal_from_spec(MetalSpec(composition_from_line(value, self.reference)), self.reference)
            return self._named(value)
        if not isinstance(value, Mapping):
            raise refuse("not-a-metal", "A metal is an id, an element symbol, or an object with its composition.")
        if TRADE_NAME in value:
            return self._of_trade_name(value)
        return self._shown(value) if ID in value else self._described(value)

    def _of_trade_name(self, value: Mapping[str, Any]) -> Metal:
        """The metal of a trade name; what an answer shows beside it must agree, but for figures that are given."""
        asked = {name: part for name, part in asked_of(value).items() if name in TRADE_NAME_PARTS}
        spec: TradeNameSpec = self._trade_name.load(asked)
        metal = metal_from_trade_name(spec, self.reference)
        if not self._recorded:
            hold_to({name: part for name, part in value.items() if name not in asked}, metal_json(metal))
        return metal

    def _described(self, value: Mapping[str, Any]) -> Metal:
        spec: MetalSpec = self._spec.load(value)
        return metal_from_spec(spec, self.reference)

    def _shown(self, value: Mapping[str, Any]) -> Metal:
        """The metal that an answer shows, by its id, or as it was described; what is shown beside it must agree."""
        if value[ID] is None:
            metal, hold = self._described(asked_of(value)), hold_estimates
        else:
            metal, hold = self._identified(value), hold_to
        if not self._recorded:
            hold(value, metal_json(metal))
        return metal

    def _identified(self, value: Mapping[str, Any]) -> Metal:
        id_ = id_of(value)
        try:
            return self._own(id_) if id_.startswith(PREFIX) else self.reference.metal(id_)
        except AlloyrefError as error:
            raise reading(error, f"/{ID}") from None

    def _named(self, name: str) -> Metal | str:
        try:
            return self.reference.metal(name)
        except InvalidInput:
            if not self.kind.or_label:
                raise
            if len(name) > MOST_LABEL or not ONE_LINE.fullmatch(name):
                raise refuse("wrong-form", f"A name is one line of at most {MOST_LABEL} characters.") from None
            return name


class RecordField(fields.Nested):
    """A nested object; a bare value may stand for its one shorthand field."""

    default_error_messages = {"required": MISSING, "null": NULL, "type": NOT_AN_OBJECT}  # type: ignore[dict-item]  # noqa: RUF012

    def __init__(self, nested: Schema, shorthand: str | None, **kwargs: Any) -> None:
        super().__init__(nested, **kwargs)
        self._shorthand = shorthand

    def _deserialize(self, value: Any, attr: Any, data: Any, partial: Any = None, **kwargs: Any) -> Any:
        if self._shorthand is not None and not isinstance(value, Mapping):
            value = {self._shorthand: value}
        return super()._deserialize(value, attr, data, partial, **kwargs)


class RecordListField(fields.List[Any]):
    """A list of nested objects, of bounded length; inside, a tuple."""

    default_error_messages = {  # noqa: RUF012
        "required": MISSING,  # type: ignore[dict-item]
        "null": NULL,  # type: ignore[dict-item]
        "invalid": Issue("not-a-list", "A list is needed here."),  # type: ignore[dict-item]
    }

    def __init__(self, record: RecordField, kind: ListOf, **kwargs: Any) -> None:
        super().__init__(record, **kwargs)
        self._most, self._within = kind.most, kind.within

    def _deserialize(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        way = []
        for name in self._within:
            if isinstance(value, Mapping) and name in value:
                value = value[name]
                way.append(name)
        try:
            return self._listed(value, attr, data, **kwargs)
        except ValidationError as error:
            inner: Any = error.messages
            for name in reversed(way):
                inner = {name: inner}
            raise ValidationError(inner) from None

    def _listed(self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any) -> Any:
        if isinstance(value, Mapping) and self._within:
            whole = ", ".join(f"{'.'.join(self._within[start:])}" for start in range(len(self._within)))
            raise refuse("not-a-list", f"A list is needed here, or an object that holds it as {whole}.")
        if isinstance(value, (list, tuple)) and len(value) > self._most:
            raise refuse("too-many", f"At most {self._most} entries.")
        if not isinstance(value, (list, tuple)):
            raise self.make_error("invalid")
        return self._read(value)

    def _read(self, value: Sequence[Any]) -> tuple[Any, ...]:
        """The entries, as marshmallow reads them; once more are bad than are told of, the rest is not read."""
        read, faults = [], {}
        for place, entry in enumerate(value):
            try:
                read.append(self.inner.deserialize(entry))
            except ValidationError as error:
                faults[place] = error.messages
                if len(faults) == MOST_ISSUES:
                    break
        if faults:
            raise ValidationError(faults)
        return tuple(read)
