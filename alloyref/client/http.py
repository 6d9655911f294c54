"""Asking the service over HTTP, with its problems as one exception."""

from __future__ import annotations

from collections.abc import Mapping
from types import TracebackType
from typing import Any, BinaryIO, Self

import requests

from alloyref.client.summary import BrokenAnswer, SummaryCheck

PART = 262_144
POOL = 10
TIMEOUT_SECONDS = 30.0


class ServiceProblem(Exception):
    """What the service refused: `status`, and `errors` with pointer, code, detail and suggestions."""

    def __init__(self, status: int, document: Mapping[str, Any]) -> None:
        super().__init__(f"{status} {document.get('detail', '')}")
        self.status = status
        self.errors: list[dict[str, Any]] = list(document.get("errors", []))


class Client:
    """Calls a running service.

    Example: `Client("http://127.0.0.1:8087").calculate("mass", {"value": "1", "from": "ozt", "to": "g"})`.
    """

    def __init__(self, address: str, timeout: float = TIMEOUT_SECONDS) -> None:
        self._address = address.rstrip("/")
        self._timeout = timeout
        self._session = requests.Session()
        for scheme in ("http://", "https://"):
            # Files are sent in parts of this size; the usual 16 kB make many small sends of a large file.
            self._session.get_adapter(scheme).init_poolmanager(POOL, POOL, blocksize=PART)  # type: ignore[attr-defined]

    def calculate(self, name: str, inputs: Mapping[str, Any]) -> dict[str, Any]:
        """A calculation by name; the whole answer. Raises `ServiceProblem` if it is refused."""
        return self._json(self._session.post(f"{self._address}/v1/{name}", json=dict(inputs), timeout=self._timeout))

    def get(self, path: str, **parameters: str) -> dict[str, Any]:
        """A read, as JSON. Raises `ServiceProblem` if there is nothing."""
        return self._json(self._session.get(f"{self._address}{path}", params=parameters, timeout=self._timeout))

    def bulk(
        self, name: str, source: BinaryIO, target: BinaryIO, *, media: str = "text/csv", keep: str = ""
    ) -> dict[str, int]:
        """Send a file of rows, write the answered rows, and say how many there were and how many had no answer.

        `media` is `text/csv` or `application/x-ndjson`; `keep` names columns of your own, by commas. The summary
        that ends the answer is checked and not written. Raises `ServiceProblem` if the whole is refused, and
        `BrokenAnswer` if the answer was cut off or changed on its way; `target` is then not to be used.
        """
        address = f"{self._address}/v1/bulk/{name}"
        asked = {"summary": "true", **({"keep": keep} if keep else {})}
        headers = {"Content-Type": media}
        with self._session.post(
            address, params=asked, data=source, headers=headers, stream=True, timeout=self._timeout
        ) as response:
            if response.status_code >= 400:
                self._json(response)
            check = SummaryCheck(target)
            try:
                for part in response.iter_content(PART):
                    check.take(part)
            except (requests.exceptions.ChunkedEncodingError, requests.exceptions.ConnectionError) as error:
                raise BrokenAnswer(f"the answer was cut off: {error}") from None
            return check.end()

    @staticmethod
    def _json(response: requests.Response) -> dict[str, Any]:
        try:
            document: dict[str, Any] = response.json()
        except requests.exceptions.JSONDecodeError:
            detail = f"The answer is not JSON but {response.headers.get('Content-Type', 'of no type')}."
            raise ServiceProblem(response.status_code, {"detail": detail}) from None
        if response.status_code >= 400:
            raise ServiceProblem(response.status_code, document)
        return document

    def close(self) -> None:
        """Close the connections."""
        self._session.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
