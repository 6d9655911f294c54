"""What the service answers, typed. Numbers are exact: Decimals with the digits that were sent."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from typing import Any, Self, TypeVar

Made = TypeVar("Made")
empty = partial(field, default_factory=dict, hash=False)


def read_json(text: str) -> Any:
    """JSON with exact numbers."""
    return json.loads(text, parse_float=Decimal)


def sent(value: Any) -> Any:
    """A value that JSON does not know, as the service takes it: exact numbers as strings, quantities with unit."""
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, Quantity):
        return {"value": str(value.value), "unit": value.unit}
    if isinstance(value, Money):
        return {"value": str(value.value), "currency": value.currency}
    raise TypeError(f"{type(value).__name__} cannot be sent")


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its unit; `low` and `high` where it is uncertain, `status` and `source` where it was looked up.

    `display` is a mass in g, dwt and ozt as a bench reads it, `in_unit` the same in the unit that was asked in.
    `more` is what else stands beside it in the answer.

    >>> print(Quantity(Decimal("16.66"), "g", Decimal("16.5"), Decimal("16.8")))
    16.66 g (16.5 to 16.8)
    """

    value: Decimal
    unit: str
    low: Decimal | None = None
    high: Decimal | None = None
    status: str = ""
    source: str = ""
    note: str = ""
    display: Mapping[str, Decimal] = empty()
    in_unit: Quantity | None = None
    more: Mapping[str, Any] = empty()

    def __str__(self) -> str:
        span = "" if self.low == self.high else f" ({self.low} to {self.high})"
        return f"{self.value} {self.unit}{span}"

    @classmethod
    def of(cls, document: Mapping[str, Any]) -> Self:
        """The quantity that a JSON object tells."""
        numbers = {name: Decimal(document[name]) for name in ("value", "low", "high") if name in document}
        return _made(cls, {**document, **numbers})


@dataclass(frozen=True, slots=True)
class Money:
    """An amount of money; the whole is `at_least` this where something in it has no price."""

    value: Decimal
    currency: str
    at_least: bool = False


@dataclass(frozen=True, slots=True)
class Assumption:
    """Something an answer rests on that was not said, with its figure."""

    id: str
    text: str
    basis: Quantity


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution, and whom to ask."""

    id: str
    title: str
    text: str
    refer: str = ""
    status: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Dataset:
    """Which data an answer rests on."""

    version: str
    hash: str


@dataclass(frozen=True, slots=True)
class Answer:
    """The answer to a calculation.

    `result` and `inputs` are mappings by the names of the API description; each object with a value and a unit in
    them is a `Quantity`, each amount a `Money`. `record` is the id of the record, if one was asked for; `text` is
    the answer as it was sent. To change a figure and ask again, take `to_ask_again()`.
    """

    result: Mapping[str, Any]
    inputs: Mapping[str, Any]
    assumptions: tuple[Assumption, ...]
    cautions: tuple[Caution, ...]
    dataset: Dataset
    record: str | None
    text: str

    def quantity(self, name: str) -> Quantity:
        """A quantity of the result by name; `LookupError` if there is none, as where a value is not available."""
        found = self.result.get(name)
        if not isinstance(found, Quantity):
            known = [one for one, value in self.result.items() if isinstance(value, Quantity)]
            raise LookupError(f"the result has no quantity {name!r}; it has {', '.join(known) or 'none'}")
        return found

    def to_ask_again(self) -> dict[str, Any]:
        """A copy of the inputs as they were sent, to change a figure and ask again: `shop.transfer(**inputs)`.

        >>> inputs = '{"mass": {"value": 4.82, "unit": "g"}, "metal": {"id": "Au", "name": "Gold"}}'
        >>> whole = '{"result": {}, "inputs": %s, "assumptions": [], "cautions": [], "dataset": %s}'
        >>> answer = Answer.of(whole % (inputs, '{"version": "1", "hash": "0"}'))
        >>> again = answer.to_ask_again()
        >>> again["mass"]["value"] = Decimal("5.1")
        >>> again["mass"], answer.inputs["mass"].value
        ({'value': Decimal('5.1'), 'unit': 'g'}, Decimal('4.82'))
        """
        inputs: dict[str, Any] = read_json(self.text)["inputs"]
        return inputs

    @classmethod
    def of(cls, text: str) -> Self:
        """The answer in a JSON document."""
        document = read_json(text)
        return cls(
            result=plain_or_typed(document["result"]),
            inputs=plain_or_typed(document["inputs"]),
            assumptions=tuple(
                Assumption(one["id"], one["text"], Quantity.of(one)) for one in document["assumptions"]
            ),
            cautions=tuple(_made(Caution, one) for one in document["cautions"]),
            dataset=_made(Dataset, document["dataset"]),
            record=document.get("record"),
            text=text,
        )


@dataclass(frozen=True, slots=True)
class Alloy:
    """An alloy of the catalogue; shares in permille by element. `more` is what else the service tells of it."""

    id: str
    name: str
    family: str
    base: str
    colour: str
    composition: Mapping[str, Decimal]
    density: Quantity
    fineness: Quantity
    karat: Quantity | None = None
    solidus: Quantity | None = None
    liquidus: Quantity | None = None
    hardness: Quantity | None = None
    uses: tuple[str, ...] = ()
    aliases: tuple[str, ...] = ()
    note: str = ""
    more: Mapping[str, Any] = empty()

    @classmethod
    def of(cls, document: Mapping[str, Any]) -> Self:
        """The alloy that a JSON object tells."""
        lists = {name: tuple(document[name]) for name in ("uses", "aliases")}
        shares = {symbol: Decimal(share) for symbol, share in document["composition"].items()}
        typed = {name: plain_or_typed(value) for name, value in document.items()}
        return _made(cls, {**typed, **lists, "composition": shares})


def plain_or_typed(value: Any) -> Any:
    """A JSON value in which objects with value and unit are quantities, and those with value and currency money.

    >>> plain_or_typed({"mass": {"value": 3, "unit": "g"}, "pieces": 2})["mass"].unit
    'g'
    """
    if isinstance(value, list):
        return [plain_or_typed(one) for one in value]
    if not isinstance(value, dict):
        return value
    inner = {name: plain_or_typed(one) for name, one in value.items()}
    if inner.keys() - {"at_least"} == {"value", "currency"}:
        return Money(Decimal(inner["value"]), inner["currency"], inner.get("at_least", False))
    if isinstance(inner.get("value"), (int, Decimal)) and isinstance(inner.get("unit"), str):
        return Quantity.of(inner)
    return inner


def _made(type_: type[Made], document: Mapping[str, Any]) -> Made:
    """A dataclass from the names it knows; the others go to `more`, if it has that, so that nothing is lost."""
    names = {one.name for one in dataclasses.fields(type_)}  # type: ignore[arg-type]
    known = {name: value for name, value in document.items() if name in names}
    if "more" in names:
        known["more"] = {name: value for name, value in document.items() if name not in names}
    return type_(**known)
