"""A browser lets a page of another origin read an answer only if it says so, and that goes for each refusal too."""

from __future__ import annotations

import json
import socket
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from http.client import HTTPResponse
from typing import Any

import pytest
import requests

from alloyref.web.gateway import MOST_HEADERS

SECONDS = 10
ALLOWED, OTHER = "https://bench.example", "https://other.example"
LIMIT = 1000
PATHS = {"/v1/mass": "application/json", "/v1/bulk/mass": "text/csv"}
HEADS = {
    "two hosts": (400, "Host: y", "Content-Length: 5"),
    "too slow": (408, "Content-Length: 5"),
    "no length": (411, "Transfer-Encoding: chunked"),
    "too large": (413, f"Content-Length: {LIMIT + 1}"),
    "long headers": (431, f"Cookie: {'a' * MOST_HEADERS}", "Content-Length: 0"),
}


@pytest.fixture(scope="module")
def open_server(start: Callable[..., Any]) -> Iterator[Any]:
    """A service with little patience and room for one, whose answers a page of one other origin may read."""
    with start(
        ALLOYREF_CORS_ORIGINS=ALLOWED,
        ALLOYREF_BODY_SECONDS="1",
        ALLOYREF_MAX_BODY=str(LIMIT),
        ALLOYREF_MAX_BULK_BODY=str(LIMIT),
        ALLOYREF_MAX_IN_FLIGHT=str(LIMIT),
        ALLOYREF_MAX_BULK_RUNS="1",
    ) as running:
        yield running


def sent(running: Any, path: str, origin: str, *more: str) -> socket.socket:
    """A connection that has sent the head of a request."""
    media = f"Content-Type: {PATHS[path]}"
    lines = (f"POST {path} HTTP/1.1", "Host: x", f"Origin: {origin}", media, *more, "", "")
    connection = socket.create_connection(("127.0.0.1", running.port), timeout=SECONDS)
    connection.sendall("\r\n".join(lines).encode())
    return connection


def answer_on(connection: socket.socket) -> HTTPResponse:
    """The answer, with its body yet to be read."""
    with connection:
        response = HTTPResponse(connection, method="POST")
        response.begin()
        return response


def readable(headers: Any, origin: str) -> bool:
    """Whether a page of that origin may read the answer, and all that it is told; caches are told that it matters."""
    assert "origin" in headers.get("Vary", "").lower()
    exposed = {name.strip() for name in headers.get("Access-Control-Expose-Headers", "").split(",")}
    allowed = headers.get("Access-Control-Allow-Origin")
    assert allowed in (None, origin)
    assert {"Retry-After", "RateLimit", "RateLimit-Policy", "X-Request-Id"} <= exposed or allowed is None
    return allowed is not None


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize(("status", "more"), [(one[0], one[1:]) for one in HEADS.values()], ids=HEADS)
@pytest.mark.parametrize("origin", [ALLOWED, OTHER])
def test_what_is_refused_before_the_application_is_told_to_the_page_that_asked(
    open_server: Any, path: str, status: int, more: tuple[str, ...], origin: str
) -> None:
    answer = answer_on(sent(open_server, path, origin, *more))
    assert (answer.status, answer.headers["Content-Type"]) == (status, "application/problem+json")
    assert json.loads(answer.read())["status"] == status
    assert readable(answer.headers, origin) is (origin == ALLOWED)
    assert answer.headers["Referrer-Policy"] == "no-referrer"


@pytest.mark.parametrize("path", PATHS)
def test_a_page_is_told_when_to_ask_again_where_there_is_no_room(open_server: Any, path: str) -> None:
    with ExitStack() as stack:
        held = stack.enter_context(sent(open_server, path, OTHER, f"Content-Length: {LIMIT}", "Expect: 100-continue"))
        assert held.recv(1000).startswith(b"HTTP/1.1 100 ")
        for origin in (ALLOWED, OTHER):
            answer = answer_on(sent(open_server, path, origin, f"Content-Length: {LIMIT}"))
            assert answer.status == 503
            assert answer.headers["Retry-After"] == "1"
            assert readable(answer.headers, origin) is (origin == ALLOWED)


def test_a_page_is_told_where_it_stands_with_the_limit(start: Callable[..., Any]) -> None:
    with start(ALLOYREF_CORS_ORIGINS=ALLOWED, ALLOYREF_RATE_LIMIT="2/hour") as running:
        for status in (411, 411, 429):
            answer = answer_on(sent(running, "/v1/mass", ALLOWED, "Transfer-Encoding: chunked"))
            assert answer.status == status
            assert answer.headers["RateLimit"].startswith('"address";')
            assert readable(answer.headers, ALLOWED)
        assert answer.headers["Retry-After"]


@pytest.mark.parametrize("path", PATHS)
def test_a_page_may_ask_before_it_posts(open_server: Any, path: str) -> None:
    asked = {"Access-Control-Request-Method": "POST", "Access-Control-Request-Headers": "content-type"}
    for origin in (ALLOWED, OTHER):
        answer = requests.options(open_server.address + path, headers={**asked, "Origin": origin}, timeout=SECONDS)
        assert answer.status_code == 200
        assert readable(answer.headers, origin) is (origin == ALLOWED)
        assert ("POST" in answer.headers.get("Access-Control-Allow-Methods", "")) is (origin == ALLOWED)
        assert ("Content-Type" in answer.headers.get("Access-Control-Allow-Headers", "")) is (origin == ALLOWED)


def test_nothing_is_said_of_origins_where_none_is_allowed(server: Any) -> None:
    answer = answer_on(sent(server, "/v1/mass", ALLOWED, "Transfer-Encoding: chunked"))
    assert answer.status == 411
    assert [name for name in ("Vary", "Access-Control-Allow-Origin") if name in answer.headers] == []
