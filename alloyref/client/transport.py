"""Requests to the service: the one place where they go out, are asked again, and are read from what is kept."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any, BinaryIO
from urllib.parse import quote, urljoin
from uuid import uuid4

import requests
from requests.adapters import HTTPAdapter
from requests.auth import AuthBase
from urllib3.exceptions import MaxRetryError, NewConnectionError

from alloyref.client.kept import KeptReads, Read
from alloyref.client.patience import Patience
from alloyref.client.problem import problem_of
from alloyref.client.values import sent

JSON, CSV = "application/json", "text/csv"
FAILED = 400
PART = 262_144
"""Bytes of a streamed answer that are held at a time."""


class NoService(requests.ConnectionError):
    """Nothing listens at the address of the service."""


class _Bearer(AuthBase):
    """Shows the key. As `auth` rather than as a header, so that no entry of a .netrc file takes its place."""

    def __init__(self, key: str) -> None:
        self._key = key

    def __call__(self, request: requests.PreparedRequest) -> requests.PreparedRequest:
        request.headers["Authorization"] = f"Bearer {self._key}"
        return request


class Transport:
    """A service at an address, and how it is spoken to."""

    def __init__(self, address: str, key: str, timeout: float, patience: Patience) -> None:
        self._address = address.rstrip("/")
        self._timeout = timeout
        self._reads = KeptReads()
        self._session = requests.Session()
        if key:
            self._session.auth = _Bearer(key)
        adapter = HTTPAdapter(max_retries=patience)
        for scheme in ("http://", "https://"):
            self._session.mount(scheme, adapter)

    def pages(self, path: str, query: Mapping[str, Any], accept: str = JSON) -> Iterator[Read]:
        """A read and the pages that follow it, each asked for when it is wanted."""
        page = self.read(path, query, accept)
        yield page
        while page.next is not None:
            page = self.read(page.next, {}, accept)
            yield page

    def read(self, path: str, query: Mapping[str, Any] | None = None, accept: str = JSON) -> Read:
        """A read; one that was answered before is asked for anew, and sent again only if it has changed."""
        asked = {one.removesuffix("_"): _parameter(value) for one, value in (query or {}).items()}
        key = (accept, path, *(f"{name}={asked[name]}" for name in sorted(asked)))
        kept = self._reads.get(key)
        headers = {"Accept": accept, **({"If-None-Match": kept.etag} if kept and kept.etag else {})}
        response = self.send("GET", path, query=asked, headers=headers)
        if kept is not None and response.status_code == requests.codes.not_modified:
            return kept
        further = response.links.get("next", {}).get("url")
        read = Read(response.text, further and urljoin(path, further), response.headers.get("ETag"))
        self._reads.put(key, read)
        return read

    def ask(self, path: str, document: Mapping[str, Any]) -> str:
        """A POST that stores nothing."""
        return self.send("POST", path, document=document).text

    def store(self, path: str, document: Mapping[str, Any], query: Mapping[str, str] | None = None) -> str:
        """A POST that stores, under a name of its own, by which the service knows it when it comes again."""
        name = {"Idempotency-Key": str(uuid4())}
        return self.send("POST", path, query=query, document=document, headers=name).text

    @contextmanager
    def stream(self, path: str, query: Mapping[str, str], source: BinaryIO, media: str) -> Iterator[Iterator[bytes]]:
        """A POST of a file that stores nothing, and its answer in parts; raises what is refused."""
        with self._reached():
            response = self._session.post(
                self._address + path,
                params=query,
                data=source,
                headers={"Content-Type": media},
                stream=True,
                timeout=self._timeout,
            )
        with response:
            if response.status_code >= FAILED:
                response.encoding = "utf-8"
                raise problem_of(response)
            yield response.iter_content(PART)

    def send(
        self,
        method: str,
        path: str,
        *,
        query: Mapping[str, str] | None = None,
        document: Mapping[str, Any] | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> requests.Response:
        """Any request; raises what is refused."""
        body = None if document is None else json.dumps(dict(document), default=sent, allow_nan=False).encode()
        given = {"Accept": JSON, **(headers or {}), **({} if body is None else {"Content-Type": JSON})}
        with self._reached():
            response = self._session.request(
                method, self._address + path, params=query, data=body, headers=given, timeout=self._timeout
            )
        # JSON names no charset, and requests would guess one.
        response.encoding = "utf-8"
        if response.status_code >= FAILED:
            raise problem_of(response)
        return response

    @contextmanager
    def _reached(self) -> Iterator[None]:
        """Say in plain words that there is no service; one that breaks off is told as requests tells it."""
        try:
            yield
        except requests.ConnectionError as error:
            cause = error.args[0] if error.args else None
            if not (isinstance(cause, MaxRetryError) and isinstance(cause.reason, NewConnectionError)):
                raise
            detail = f"no alloyref service at {self._address}; start one with `alloyref serve`"
            raise NoService(detail, request=error.request) from error

    def close(self) -> None:
        """Close the connections."""
        self._session.close()


def segment(name: str) -> str:
    """A name as one step of a path; `ValueError` for what would lead elsewhere.

    >>> segment("shop:house yellow")
    'shop%3Ahouse%20yellow'
    """
    if "/" in name or name in ("", ".", ".."):
        raise ValueError(f"{name!r} is no name of anything the service has")
    return quote(name, safe="")


def _parameter(value: Any) -> str:
    """A query parameter as it is written: lists by commas, true and false as words."""
    if isinstance(value, bool):
        return str(value).lower()
    return ",".join(map(str, value)) if isinstance(value, (list, tuple)) else str(value)
