"""Clients that are slow, large, rude or many: the others are answered all the same, and a stop loses nothing."""

from __future__ import annotations

import json
import signal
import socket
from collections.abc import Callable
from contextlib import ExitStack
from http.client import HTTPResponse
from typing import Any

import pytest
import requests

BODY = json.dumps({"value": "2", "from": "ozt", "to": "g"}).encode()
GRAMS = 62.2069536
SECONDS = 10


def connect(running: Any) -> socket.socket:
    """A raw connection to a running service."""
    return socket.create_connection(("127.0.0.1", running.port), timeout=SECONDS)


def head(length: int | None = len(BODY), *more: str) -> bytes:
    """The head of a POST; chunked without a length."""
    size = "Transfer-Encoding: chunked" if length is None else f"Content-Length: {length}"
    lines = ("POST /v1/mass HTTP/1.1", "Host: bench.example", "Content-Type: application/json", size, *more)
    return "\r\n".join([*lines, "", ""]).encode()


def answer_on(connection: socket.socket, method: str = "POST") -> tuple[int, dict[str, str], bytes]:
    """Read one answer."""
    response = HTTPResponse(connection, method=method)
    response.begin()
    headers = {name.lower(): value for name, value in response.getheaders()}
    return response.status, headers, response.read()


def begun(connection: socket.socket) -> None:
    """Send the head of a request and wait until the service reads its body."""
    connection.sendall(head(len(BODY), "Expect: 100-continue"))
    assert connection.recv(1000).startswith(b"HTTP/1.1 100 ")
    connection.sendall(BODY[:9])


def test_a_half_sent_body_holds_nobody_up_and_ends_in_408(strict_server: Any) -> None:
    with ExitStack() as stack:
        slow = [stack.enter_context(connect(strict_server)) for _ in range(30)]
        for one in slow:
            one.sendall(head(len(BODY)) + BODY[:9])
        session = stack.enter_context(requests.Session())
        for _ in range(20):
            # Half the time that the slow ones are given: none of these can have waited for them.
            posted = session.post(
                f"{strict_server.address}/v1/mass", data=BODY, headers={"Content-Type": "application/json"}, timeout=1
            )
            assert posted.json()["result"]["mass"]["value"] == GRAMS
            assert session.get(f"{strict_server.address}/v1/elements", timeout=1).status_code == 200
        for one in slow:
            status, headers, body = answer_on(one)
            assert (status, headers["content-type"]) == (408, "application/problem+json")
            assert json.loads(body)["type"] == "/v1/problems/timeout"


def test_a_body_in_small_pieces_is_read_whole(strict_server: Any) -> None:
    with connect(strict_server) as connection:
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        connection.sendall(head())
        for place in range(len(BODY)):
            connection.sendall(BODY[place : place + 1])
        status, _, body = answer_on(connection)
    assert (status, json.loads(body)["result"]["mass"]["value"]) == (200, GRAMS)


def test_a_client_that_leaves_halfway_harms_nobody(strict_server: Any) -> None:
    before = strict_server.faults()
    for _ in range(20):
        with connect(strict_server) as connection:
            begun(connection)
    assert requests.get(f"{strict_server.address}/readyz", timeout=SECONDS).status_code == 200
    assert strict_server.faults() == before


@pytest.mark.parametrize("stop", [signal.SIGTERM, signal.SIGINT])
def test_a_request_in_flight_is_answered_before_the_service_stops(
    start: Callable[..., Any], stop: signal.Signals
) -> None:
    with start(ALLOYREF_BODY_SECONDS="10") as running:
        with connect(running) as connection:
            begun(connection)
            running.process.send_signal(stop)
            connection.sendall(BODY[9:])
            status, _, body = answer_on(connection)
        assert (status, json.loads(body)["result"]["mass"]["value"]) == (200, GRAMS)
        assert running.process.wait(SECONDS * 2) == 0
        log = running.log.read_text(encoding="utf-8")
        assert "shutdown completed" in log
        assert running.faults() == []


def test_two_workers_give_the_same_answers(start: Callable[..., Any]) -> None:
    with start(ALLOYREF_WORKERS="2") as running:
        seen = set()
        for _ in range(20):
            # A new connection each time, so that both workers get some.
            answer = requests.get(f"{running.address}/v1/alloys", timeout=SECONDS)
            seen.add((answer.status_code, answer.headers["ETag"], answer.content))
        assert len(seen) == 1
        assert next(iter(seen))[0] == 200
        assert running.log.read_text(encoding="utf-8").count("Spawning worker") == 2
    assert running.process.returncode == 0


GARBAGE = {
    "a TLS hello": b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(200) + b"\r\n\r\n",
    "line noise": bytes(range(256)) * 20 + b"\r\n\r\n",
    "no request line": b"\r\n\r\n\r\n\r\n\x00\r\n\r\n",
    "no such version": b"GET / HTTP/9.9\r\nHost: x\r\n\r\n",
    "a space too many": b"GET  / HTTP/1.1\r\nHost: x\r\n\r\n",
    "a folded header": b"GET / HTTP/1.1\r\nHost: x\r\n X: y\r\n\r\n",
    "two lengths": b"POST /v1/mass HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nContent-Length: 6\r\n\r\n12345",
    "a negative length": b"POST /v1/mass HTTP/1.1\r\nHost: x\r\nContent-Length: -5\r\n\r\n12345",
    "a length in words": b"POST /v1/mass HTTP/1.1\r\nHost: x\r\nContent-Length: five\r\n\r\n12345",
    "a bad chunk": head(None) + b"zz\r\n{}\r\n0\r\n\r\n",
}


@pytest.mark.parametrize("sent", GARBAGE.values(), ids=GARBAGE)
def test_garbage_is_refused_and_forgotten(strict_server: Any, sent: bytes) -> None:
    with connect(strict_server) as connection:
        connection.sendall(sent)
        first = connection.recv(4000)
    assert first == b"" or first.startswith((b"HTTP/1.1 4", b"HTTP/1.1 505"))
    assert requests.get(f"{strict_server.address}/v1/dataset", timeout=SECONDS).status_code == 200


def test_a_very_long_query_and_many_headers_are_no_fault(strict_server: Any) -> None:
    before = strict_server.faults()
    for sent in (
        b"GET /v1/alloys?q=" + b"a" * 100_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n",
        b"GET /v1/alloys HTTP/1.1\r\nHost: x\r\n" + b"".join(b"X-%d: y\r\n" % one for one in range(5000)) + b"\r\n",
        b"GET /v1/alloys HTTP/1.1\r\nHost: x\r\nCookie: " + b"a" * 500_000 + b"\r\n\r\n",
    ):
        with connect(strict_server) as connection:
            connection.sendall(sent)
            assert answer_on(connection, "GET")[0] in (200, 400, 414, 422, 431)
    assert strict_server.faults() == before


def test_requests_in_one_go_are_answered_in_order(strict_server: Any) -> None:
    paths = ["/v1/alloys/fine-gold/density", "/v1/nothing", "/v1/alloys/fine-silver/density", "/v1/dataset"]
    sent = b"".join(f"GET {path} HTTP/1.1\r\nHost: x\r\n\r\n".encode() for path in paths)
    with connect(strict_server) as connection, connection.makefile("rb") as stream:
        connection.sendall(sent + head() + BODY)
        documents = []
        for _ in range(len(paths) + 1):
            status = int(stream.readline().split()[1])
            length = 0
            while line := stream.readline().strip():
                name, _, value = line.partition(b":")
                length = int(value) if name.lower() == b"content-length" else length
            documents.append((status, json.loads(stream.read(length))))
    assert [status for status, _ in documents] == [200, 404, 200, 200, 200]
    assert [documents[place][1]["alloy"] for place in (0, 2)] == ["fine-gold", "fine-silver"]
    assert documents[4][1]["result"]["mass"]["value"] == GRAMS


def test_a_connection_is_kept_after_every_kind_of_answer(strict_server: Any) -> None:
    with connect(strict_server) as connection:
        for sent, method, expected in (
            (b"GET /v1/elements HTTP/1.1\r\nHost: x\r\n\r\n", "GET", 200),
            (head() + BODY, "POST", 200),
            (b"HEAD /v1/elements HTTP/1.1\r\nHost: x\r\n\r\n", "HEAD", 200),
            (head(2) + b"{}", "POST", 422),
            (b"GET /v1/elements HTTP/1.1\r\nHost: x\r\nIf-None-Match: *\r\n\r\n", "GET", 304),
            (b"DELETE /v1/elements HTTP/1.1\r\nHost: x\r\n\r\n", "DELETE", 405),
            (b"OPTIONS /v1/elements HTTP/1.1\r\nHost: x\r\n\r\n", "OPTIONS", 200),
            (b"GET /v1/elements HTTP/1.1\r\nHost: x\r\n\r\n", "GET", 200),
        ):
            connection.sendall(sent)
            assert answer_on(connection, method)[0] == expected
