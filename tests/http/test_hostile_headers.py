"""Headers that are made to do harm: so long that reading them takes time, unreadable, or under another's name."""

from __future__ import annotations

import socket
from collections.abc import Callable
from http.client import HTTPResponse
from typing import Any

import pytest
import requests

from alloyref.web.gateway import MOST_HEADERS

SECONDS = 20
Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
MASS = {"value": 1, "from": "dwt", "to": "g"}


@pytest.mark.parametrize("method", ["GET", "POST", "PUT"])
@pytest.mark.parametrize("path", ["/v1/mass", "/v1/bulk/mass", "/healthz", "/v1/nothing"])
def test_headers_beyond_all_sense_are_refused_unread(web: Web, problem_of: Problem, method: str, path: str) -> None:
    # In eighty thousand spaces within Accept a regular expression once looked for a semicolon for six seconds.
    long = {"Accept": "a" + " " * MOST_HEADERS + "b"}
    problem_of(web(method, path, headers=long, json=MASS if method != "GET" else None), 431)
    many = {f"X-{one}": "y" * 1000 for one in range(MOST_HEADERS // 1000 + 1)}
    problem_of(web(method, path, headers=many, json=MASS if method != "GET" else None), 431)


def test_headers_of_a_usual_size_are_read(web: Web) -> None:
    assert web("GET", "/v1/mass?value=1&from=dwt&to=g", headers={"Cookie": "a" * 8000}).status_code == 200


def test_a_header_that_cannot_be_read_is_not_taken_for_missing(server: Any) -> None:
    body = b'{"value":1,"from":"dwt","to":"g"}'
    for header, status in (
        (b"Idempotency-Key: \xc3\xa9", 422),
        (b"Content-Type: \xe9", 415),
        (b"User-Agent: \xe9", 200),
    ):
        head = (b"POST /v1/mass HTTP/1.1", b"Host: x", b"Content-Length: %d" % len(body), header)
        media = () if header.startswith(b"Content-Type") else (b"Content-Type: application/json",)
        with socket.create_connection(("127.0.0.1", server.port), timeout=SECONDS) as connection:
            connection.sendall(b"\r\n".join([*head, *media, b"", body]))
            answer = HTTPResponse(connection, method="POST")
            answer.begin()
            assert answer.status == status, header


def test_an_underscore_is_no_hyphen(web: Web) -> None:
    for name in ("Idempotency_Key", "Content_Encoding", "X_Request_Id"):
        answer = web("POST", "/v1/mass", json=MASS, headers={name: "a b"})
        assert answer.status_code == 200
    told = web("GET", "/v1/nothing", headers={"X_Request_Id": "forged"}).headers["X-Request-Id"]
    assert told != "forged"
