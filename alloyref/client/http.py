"""Asking the service over HTTP, with its problems as one exception."""

from __future__ import annotations

from collections.abc import Mapping
from types import TracebackType
from typing import Any, Self

import requests

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

    def calculate(self, name: str, inputs: Mapping[str, Any]) -> dict[str, Any]:
        """A calculation by name; the whole answer. Raises `ServiceProblem` if it is refused."""
        return self._json(self._session.post(f"{self._address}/v1/{name}", json=dict(inputs), timeout=self._timeout))

    def get(self, path: str, **parameters: str) -> dict[str, Any]:
        """A read, as JSON. Raises `ServiceProblem` if there is nothing."""
        return self._json(self._session.get(f"{self._address}{path}", params=parameters, timeout=self._timeout))

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
