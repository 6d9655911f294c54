"""Requests that end in an unusual way, on a real socket: each has its answer, and is logged and counted once."""

from __future__ import annotations

import json
import re
import socket
from collections.abc import Callable, Iterator
from http.client import HTTPResponse
from typing import Any

import pytest
import requests

from alloyref.web.routes.operations import METHODS

SECONDS = 20
BODY = b'{"value":"2","from":"ozt","to":"g"}'
ROWS = b"value,from,to\n2,ozt,g\n"


@pytest.fixture(scope="module")
def noted(start: Callable[..., Any]) -> Iterator[Any]:
    """A service that logs and counts each request."""
    with start(ALLOYREF_METRICS="true", ALLOYREF_LOG_REQUESTS="true") as running:
        yield running
        assert running.faults() == []


def head(line: str, media: str, length: int) -> bytes:
    """The head of a request with a body."""
    return f"{line} HTTP/1.1\r\nHost: x\r\nContent-Type: {media}\r\nContent-Length: {length}\r\n\r\n".encode()


def count(running: Any, method: str, route: str, status: int) -> float:
    """How many such requests there were."""
    text = requests.get(f"{running.address}/metrics", timeout=SECONDS).text
    label = re.escape(f'alloyref_requests_total{{method="{method}",route="{route}",status="{status}"}}')
    found = re.search(rf"^{label} (\S+)$", text, re.MULTILINE)
    return float(found[1]) if found else 0


def lines_of(running: Any, words: str) -> int:
    """How many lines of the log have these words."""
    return int(running.log.read_text(encoding="utf-8").count(words))


CUT_OFF = {
    "a body": ("POST", "/v1/mass", head("POST /v1/mass", "application/json", len(BODY)) + BODY[:9]),
    "no byte of a body": ("POST", "/v1/mass", head("POST /v1/mass", "application/json", len(BODY))),
    "rows": ("POST", "/v1/bulk/mass", head("POST /v1/bulk/mass", "text/csv", 900) + ROWS),
    "half a row": ("POST", "/v1/bulk/mass", head("POST /v1/bulk/mass", "text/csv", 900) + ROWS[:-5]),
    "a body for nothing": ("PUT", "/v1/nothing", head("PUT /v1/nothing", "application/json", len(BODY)) + BODY[:9]),
}


@pytest.mark.parametrize(("method", "path", "sent"), CUT_OFF.values(), ids=CUT_OFF)
def test_a_body_that_is_cut_off_is_told_so(noted: Any, method: str, path: str, sent: bytes) -> None:
    route = "none" if path == "/v1/nothing" else path
    before = count(noted, method, route, 400), lines_of(noted, f"{method} {path} 400 ")
    with socket.create_connection(("127.0.0.1", noted.port), timeout=SECONDS) as connection:
        connection.sendall(sent)
        connection.shutdown(socket.SHUT_WR)
        answer = HTTPResponse(connection, method=method)
        answer.begin()
        document = json.loads(answer.read())
    assert (answer.status, answer.getheader("Content-Type")) == (400, "application/problem+json")
    assert document["type"] == "/v1/problems/malformed"
    assert document["detail"].startswith("The body ended")
    after = count(noted, method, route, 400), lines_of(noted, f"{method} {path} 400 ")
    assert after == (before[0] + 1, before[1] + 1)


def test_a_bulk_body_that_is_refused_and_cut_off_is_refused_as_it_was(noted: Any) -> None:
    with socket.create_connection(("127.0.0.1", noted.port), timeout=SECONDS) as connection:
        connection.sendall(head("POST /v1/bulk/mass?kep=x", "text/csv", 900) + ROWS)
        connection.shutdown(socket.SHUT_WR)
        answer = HTTPResponse(connection, method="POST")
        answer.begin()
        assert answer.status == 422


@pytest.mark.parametrize("version", ["1.1", "1.0"])
def test_options_of_the_whole_service_names_all_methods(noted: Any, version: str) -> None:
    before = count(noted, "OPTIONS", "none", 200), lines_of(noted, "OPTIONS /* 200 ")
    with socket.create_connection(("127.0.0.1", noted.port), timeout=SECONDS) as connection:
        connection.sendall(f"OPTIONS * HTTP/{version}\r\nHost: x\r\n\r\n".encode())
        answer = HTTPResponse(connection, method="OPTIONS")
        answer.begin()
        assert (answer.status, answer.read()) == (200, b"")
    assert answer.getheader("Allow") == ", ".join(METHODS)
    after = count(noted, "OPTIONS", "none", 200), lines_of(noted, "OPTIONS /* 200 ")
    assert after == (before[0] + 1, before[1] + 1)


def test_the_methods_of_the_whole_service_are_those_of_its_addresses(noted: Any) -> None:
    described = requests.get(f"{noted.address}/openapi.json", timeout=SECONDS).json()
    methods = {method.upper() for path in described["paths"].values() for method in path if method != "parameters"}
    assert set(METHODS) == methods | {"HEAD", "OPTIONS"}


def test_no_other_method_asks_for_the_whole_service(noted: Any) -> None:
    with socket.create_connection(("127.0.0.1", noted.port), timeout=SECONDS) as connection:
        connection.sendall(b"GET * HTTP/1.1\r\nHost: x\r\n\r\n")
        answer = HTTPResponse(connection, method="GET")
        answer.begin()
        assert answer.status == 404
