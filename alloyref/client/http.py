"""Asking the service over HTTP."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from types import TracebackType
from typing import Any, BinaryIO, Self

from requests.exceptions import ChunkedEncodingError, ConnectionError  # noqa: A004 - what requests calls it

from alloyref.client.calculations import Calculations
from alloyref.client.patience import Patience
from alloyref.client.summary import BrokenAnswer, SummaryCheck
from alloyref.client.transport import CSV, Transport, segment
from alloyref.client.values import Alloy, Answer, Quantity, read_json

TIMEOUT_SECONDS = 30.0
API_KEY, URL = "ALLOYREF_API_KEY", "ALLOYREF_URL"
USUAL_ADDRESS = "http://127.0.0.1:8087"
"""Where `alloyref serve` listens unless told otherwise."""


class Client(Calculations):
    """Asks a running service; safe to share between threads.

    `address` is that of the service, from the environment variable ALLOYREF_URL if none is given, else
    http://127.0.0.1:8087. `key` is an API key, from the environment variable ALLOYREF_API_KEY if none is given.
    `timeout` is in seconds, for connecting and for each wait for an answer. `patience` says how long it asks again.
    Whatever is refused is a `ServiceProblem`; a service that does not answer is an exception of requests, `NoService`
    if there is none at the address.

    Each calculation of the service is a method by its name, underscores for dashes; a trailing underscore frees a
    word that Python keeps for itself: `shop.mass(value=1, from_="ozt", to="g").quantity("mass").value` is
    `Decimal("31.1034768")`. With `inputs = answer.to_ask_again()` one figure of an answer is changed and the rest
    asked again as it was: `shop.order(**inputs | {"pieces": 3})`.
    """

    def __init__(
        self,
        address: str | None = None,
        key: str | None = None,
        *,
        timeout: float = TIMEOUT_SECONDS,
        patience: Patience | None = None,
    ) -> None:
        shown = key if key is not None else os.environ.get(API_KEY, "")
        where = address or os.environ.get(URL) or USUAL_ADDRESS
        self._to = Transport(where, shown.strip(), timeout, patience or Patience())

    def calculate(self, name: str, inputs: Mapping[str, Any], *, record: bool = False) -> Answer:
        """A calculation by name. With `record` the service keeps a record of it, whose id is in the answer."""
        path = f"/v1/{segment(name)}"
        kept = {"record": "true"}
        return Answer.of(self._to.store(path, inputs, kept) if record else self._to.ask(path, inputs))

    def __getattr__(self, name: str) -> Callable[..., Answer]:
        """A calculation that this client does not list: whether there is one, the service knows."""
        if name.startswith("_"):
            raise AttributeError(name)
        return partial(self._calculation, name.replace("_", "-"))

    def _calculation(self, name: str, /, *, record: bool = False, **inputs: Any) -> Answer:
        return self.calculate(name, {one.removesuffix("_"): value for one, value in inputs.items()}, record=record)

    def bulk(
        self, name: str, source: BinaryIO, target: BinaryIO, *, media: str = CSV, **parameters: str
    ) -> dict[str, int]:
        """Send a file of rows, write the answered rows, and say how many there were and how many had no answer.

        `media` is `text/csv` or `application/x-ndjson`. Of the parameters, `keep` names columns of your own, by
        commas, and `decimal=","` is for csv with decimal commas and semicolons. The summary that ends the answer is
        checked and not written. Raises `ServiceProblem` if the whole is refused, and `BrokenAnswer` if the answer
        was cut off or changed on its way; `target` is then not to be used.
        """
        asked = {**parameters, "summary": "true"}
        check = SummaryCheck(target)
        with self._to.stream(f"/v1/bulk/{segment(name)}", asked, source, media) as parts:
            try:
                for part in parts:
                    check.take(part)
            except (ChunkedEncodingError, ConnectionError) as error:
                raise BrokenAnswer(f"the answer was cut off: {error}") from None
        return check.end()

    def alloy(self, id_: str) -> Alloy:
        """An alloy of the catalogue by id."""
        return Alloy.of(read_json(self._to.read(f"/v1/alloys/{segment(id_)}").text))

    def alloys(self, **query: Any) -> Iterator[Alloy]:
        """The alloys that answer a query (`base="Au", karat=14, free_of="Ni,Cd"`), page by page as they are used."""
        return (Alloy.of(row) for row in self._rows("alloys", query))

    def number(self, id_: str, name: str, unit: str | None = None) -> Quantity:
        """One property of an alloy by name, in a unit if one is given."""
        query = {} if unit is None else {"unit": unit}
        document = read_json(self._to.read(f"/v1/alloys/{segment(id_)}/{segment(name)}", query).text)
        return Quantity.of({one: document[one] for one in ("value", "unit", "low", "high", "status", "source")})

    def density(self, id_: str, unit: str | None = None) -> Quantity:
        """Density of an alloy, in g/cm3 unless asked otherwise."""
        return self.number(id_, "density", unit)

    def solidus(self, id_: str, unit: str | None = None) -> Quantity:
        """Temperature at which an alloy begins to melt, in C unless asked otherwise."""
        return self.number(id_, "solidus", unit)

    def liquidus(self, id_: str, unit: str | None = None) -> Quantity:
        """Temperature at which an alloy is all liquid, in C unless asked otherwise."""
        return self.number(id_, "liquidus", unit)

    def fineness(self, id_: str, unit: str | None = None) -> Quantity:
        """Fineness of an alloy by its base metal, in permille unless asked otherwise."""
        return self.number(id_, "fineness", unit)

    def karat(self, id_: str, unit: str | None = None) -> Quantity:
        """Karat of a gold alloy."""
        return self.number(id_, "karat", unit)

    def table(self, name: str, **query: Any) -> list[dict[str, Any]]:
        """The rows of a table (`units`, `gauges`, `alloys` ...), each as it is served, numbers exact."""
        return list(self._rows(name, query))

    def table_csv(self, name: str, **query: Any) -> str:
        """A table as csv, header first, all pages of it."""
        first, *others = self._to.pages(f"/v1/{segment(name)}.csv", query, CSV)
        return first.text + "".join(page.text.split("\r\n", 1)[1] for page in others)

    def get(self, path: str, **query: Any) -> Any:
        """Any read, as JSON with exact numbers."""
        return read_json(self._to.read(path, query).text)

    def store(self, path: str, document: Mapping[str, Any]) -> Any:
        """Send what is to be stored, once however often it must be sent: `store("/v1/shop/alloys", {...})`."""
        return read_json(self._to.store(path, document))

    def replace(self, path: str, document: Mapping[str, Any], etag: str) -> Any:
        """Replace what is stored, if it is still the version of that ETag."""
        return read_json(self._to.send("PUT", path, document=document, headers={"If-Match": etag}).text)

    def delete(self, path: str, etag: str) -> None:
        """Delete what is stored, if it is still the version of that ETag."""
        self._to.send("DELETE", path, headers={"If-Match": etag})

    def etag(self, path: str) -> str:
        """The present version of what is stored there, to name in `replace` or `delete`."""
        return self._to.read(path).etag or ""

    def _rows(self, name: str, query: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
        for page in self._to.pages(f"/v1/{segment(name)}", query):
            yield from read_json(page.text)[name.replace("-", "_")]

    def close(self) -> None:
        """Close the connections."""
        self._to.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
