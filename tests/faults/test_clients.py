"""Clients that send slowly, too much, nonsense or nothing, or go away: the others are answered, no worker is lost."""

from __future__ import annotations

import os
import re
import socket
import struct
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any

import pytest
import requests

from tests.running import Running

SECONDS = 20
BODY = b'{"value": "2", "from": "ozt", "to": "g"}'
LARGE = 100_000_000
PIECE = b"x" * 65_536
LARGEST_ANSWER = b"GET /v1/alloys?page_size=100 HTTP/1.1\r\nHost: x\r\n\r\n"
LEAVE_AT_ONCE = struct.pack("ii", 1, 0)


@pytest.fixture(scope="module")
def service(start: Callable[..., Any]) -> Iterator[Running]:
    """Two workers with little patience."""
    limits = {"ALLOYREF_BODY_SECONDS": "2", "ALLOYREF_HEADER_SECONDS": "2", "ALLOYREF_MAX_BODY": "20000"}
    with start(ALLOYREF_WORKERS="2", **limits) as running:
        yield running
    assert running.process.returncode == 0


def prompt(service: Running, times: int = 20) -> None:
    """Others are answered meanwhile: half the patience the service has with the rude is all that they wait."""
    for _ in range(times):
        # Each on a connection of its own, so that both workers are asked.
        assert requests.get(f"{service.address}/healthz", timeout=1).status_code == 200


@pytest.fixture(autouse=True)
def unharmed(service: Running) -> Iterator[None]:
    """Both workers live on, they are the first ones, and have logged no fault."""
    workers = service.workers()
    assert len(workers) == 2
    yield
    prompt(service)
    question = {"value": "2", "from": "ozt", "to": "g"}
    answer = requests.post(f"{service.address}/v1/mass", json=question, timeout=SECONDS)
    assert answer.json()["result"]["mass"]["value"] == 62.2069536
    assert service.workers() == workers
    for pid in workers:
        os.kill(pid, 0)
    assert service.faults() == []


def connect(service: Running) -> socket.socket:
    """A raw connection."""
    return socket.create_connection(("127.0.0.1", service.port), timeout=SECONDS)


def head(*more: str, method: str = "POST", path: str = "/v1/mass") -> bytes:
    """The head of a request."""
    lines = (f"{method} {path} HTTP/1.1", "Host: bench.example", "Content-Type: application/json", *more)
    return "\r\n".join([*lines, "", ""]).encode()


def heard(connection: socket.socket) -> bytes:
    """All that comes until the service closes; what a reset cuts off is not heard."""
    parts = []
    with suppress(ConnectionError):
        while part := connection.recv(65_536):
            parts.append(part)
    return b"".join(parts)


def statuses(text: bytes) -> list[int]:
    """The status of each answer."""
    return [int(one) for one in re.findall(rb"HTTP/1\.[01] (\d{3}) ", text)]


def trickled(connection: socket.socket, piece: bytes) -> bytes:
    """Send a byte whenever nothing has come for a moment, until the service closes; what it said."""
    connection.settimeout(0.05)
    said = b""
    with suppress(ConnectionError):
        while True:
            try:
                part = connection.recv(4000)
                if not part:
                    break
                said += part
            except TimeoutError:
                connection.sendall(piece)
    return said


def test_a_header_that_does_not_end_is_given_up(service: Running) -> None:
    with ExitStack() as stack:
        slow = [stack.enter_context(connect(service)) for _ in range(200)]
        for one in slow:
            one.sendall(b"GET /v1/alloys HTTP/1.1\r\nHost: bench")
        prompt(service)
        assert {heard(one)[:12] for one in slow} <= {b"", b"HTTP/1.1 408"}


def test_a_byte_now_and_then_buys_no_time(service: Running) -> None:
    with connect(service) as connection:
        connection.sendall(b"GET /v1/alloys HTTP/1.1\r\nX: ")
        assert statuses(trickled(connection, b"a")) in ([], [408])
    with connect(service) as connection:
        connection.sendall(head("Content-Length: 10000"))
        assert statuses(trickled(connection, b" ")) == [408]


def test_idle_connections_keep_nobody_out_and_are_closed(service: Running) -> None:
    resource = pytest.importorskip("resource")
    many = 3000
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if 0 <= hard < many + 500:
        pytest.skip(f"only {hard} files may be open here")
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, many + 500), hard))
    try:
        with ExitStack() as stack:
            idle = [stack.enter_context(connect(service)) for _ in range(many)]
            prompt(service)
            assert {heard(one) for one in idle} == {b""}
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@pytest.mark.parametrize(
    ("sent", "read"),
    [
        (b"GET /v1/al", 0),
        (b"GET /v1/alloys HTTP/1.1\r\nHost: x\r\nAcc", 0),
        (head(f"Content-Length: {len(BODY)}") + BODY[:9], 0),
        (head("Content-Length: 2000", path="/v1/bulk/mass") + BODY[:9], 0),
        (LARGEST_ANSWER, 0),
        (LARGEST_ANSWER, 100),
        (LARGEST_ANSWER * 20, 100_000),
    ],
    ids=["in the line", "in a header", "in a body", "in rows", "before the answer", "in the answer", "in the second"],
)
def test_who_leaves_half_way_is_forgotten(service: Running, sent: bytes, read: int) -> None:
    for _ in range(30):
        left = read
        with connect(service) as connection:
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, LEAVE_AT_ONCE)
            connection.sendall(sent)
            while left > 0 and (part := connection.recv(min(left, 65_536))):
                left -= len(part)


def test_who_asks_and_never_reads_keeps_nobody_waiting(service: Running) -> None:
    with ExitStack() as stack:
        for _ in range(100):
            connection = stack.enter_context(socket.socket())
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            connection.settimeout(SECONDS)
            connection.connect(("127.0.0.1", service.port))
            connection.sendall(LARGEST_ANSWER * 50)
        prompt(service)


def megabytes(service: Running) -> float:
    """The most memory that a worker ever had."""
    found = []
    for pid in service.workers():
        match = re.search(r"VmHWM:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text(encoding="utf-8"))
        assert match is not None
        found.append(int(match[1]) / 1000)
    return max(found)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")
@pytest.mark.parametrize(("method", "path"), [("POST", "/v1/mass"), ("GET", "/healthz"), ("PUT", "/v1/nothing")])
def test_a_hundred_megabytes_are_not_taken_in(service: Running, method: str, path: str) -> None:
    before = megabytes(service)
    with connect(service) as connection:
        connection.sendall(head(f"Content-Length: {LARGE}", method=method, path=path))
        assert statuses(connection.recv(4000)) == [200 if method == "GET" else 413]
        # Who goes on sending is cut off, and not listened to until the end.
        with suppress(ConnectionError):
            for _ in range(LARGE // len(PIECE)):
                connection.sendall(PIECE)
            assert connection.recv(4000) == b""
    prompt(service)
    assert megabytes(service) < before + 20


SHAPES = {
    "a length, then chunks": (("Content-Length: {all}", "Transfer-Encoding: chunked"), b"0\r\n\r\n", 411),
    "chunks, then a length": (("Transfer-Encoding: chunked", "Content-Length: 5"), b"0\r\n\r\n", 411),
    "chunks of another name": (("Transfer-Encoding: xchunked", "Content-Length: 5"), b"0\r\n\r\n", 400),
    "chunks, not the last coding": (("Transfer-Encoding: chunked, identity",), b"0\r\n\r\n", 400),
    "chunks before a colon": (("Transfer-Encoding : chunked", "Content-Length: 5"), b"0\r\n\r\n", 400),
    "chunks after a fold": (("X: y", " Transfer-Encoding: chunked", "Content-Length: 5"), b"0\r\n\r\n", 400),
    "chunks after a bare return": (("X: y\rTransfer-Encoding: chunked", "Content-Length: 5"), b"0\r\n\r\n", 400),
    "two codings": (("Transfer-Encoding: chunked", "Transfer-Encoding: identity"), b"0\r\n\r\n", 400),
    "a coding in capitals": (("Transfer-Encoding: CHUNKED", "Content-Length: 5"), b"0\r\n\r\n", 411),
    "two lengths": (("Content-Length: 0", "Content-Length: {all}"), b"", 400),
    "a list of lengths": (("Content-Length: 0, {all}",), b"", 400),
    "a length with a sign": (("Content-Length: +0",), b"", 400),
    "a length in hexadecimal": (("Content-Length: 0x0",), b"", 400),
    "a length with a space": (("Content-Length: 1 0",), b"", 400),
}
SMUGGLED = b"GET /v1/elements/Xx HTTP/1.1\r\nHost: bench.example\r\n\r\n"


@pytest.mark.parametrize(("lines", "body", "expected"), SHAPES.values(), ids=SHAPES)
def test_no_request_is_hidden_in_another(
    service: Running, lines: tuple[str, ...], body: bytes, expected: int
) -> None:
    whole = body + SMUGGLED
    with connect(service) as connection:
        connection.sendall(head(*(line.format(all=len(whole)) for line in lines)) + whole)
        said = heard(connection)
    assert statuses(said) == [expected]
    assert b"Xx" not in said


def test_what_follows_a_request_without_a_body_is_a_request_of_its_own(service: Running) -> None:
    with connect(service) as connection:
        connection.sendall(head() + SMUGGLED)
        assert statuses(heard(connection)) == [400, 404]


def test_a_body_that_a_read_brings_is_no_request(service: Running) -> None:
    with connect(service) as connection:
        connection.sendall(head(f"Content-Length: {len(SMUGGLED)}", method="GET", path="/healthz") + SMUGGLED)
        said = heard(connection)
    assert statuses(said) == [200]
    assert b"Xx" not in said


@pytest.mark.parametrize(
    "hosts", [(), ("Host: a.example", "Host: b.example"), ("Host: a.example", "Host: a.example")]
)
def test_a_request_has_one_host(service: Running, hosts: tuple[str, ...]) -> None:
    for line in ("GET /v1/elements HTTP/1.1", "POST /v1/mass HTTP/1.1"):
        with connect(service) as connection:
            connection.sendall("\r\n".join([line, *hosts, "", ""]).encode())
            said = heard(connection)
        assert statuses(said) == [400]
        assert b"/v1/problems/malformed" in said


def test_the_older_http_needs_no_host(service: Running) -> None:
    with connect(service) as connection:
        connection.sendall(b"GET /healthz HTTP/1.0\r\n\r\n")
        assert statuses(heard(connection)) == [200]


NOT_UTF8 = {
    "path": (b"GET /v1/alloys/\xff\xfe HTTP/1.1\r\nHost: x\r\n\r\n", {400, 404}),
    "path, encoded": (b"GET /v1/alloys/%ff%fe HTTP/1.1\r\nHost: x\r\n\r\n", {400, 404}),
    "half a letter": (b"GET /v1/alloys/%c3 HTTP/1.1\r\nHost: x\r\n\r\n", {400, 404}),
    "a null": (b"GET /v1/alloys/%00 HTTP/1.1\r\nHost: x\r\n\r\n", {400, 404}),
    "query": (b"GET /v1/mass?value=\xff&from=g&to=g HTTP/1.1\r\nHost: x\r\n\r\n", {400, 422}),
    "query, encoded": (b"GET /v1/mass?value=%ff&from=g&to=g HTTP/1.1\r\nHost: x\r\n\r\n", {400, 422}),
    "name in a query": (b"GET /v1/mass?%ff=1&value=1&from=g&to=g HTTP/1.1\r\nHost: x\r\n\r\n", {400, 422}),
    "a key": (b"GET /v1/shop/alloys HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer \xff\r\n\r\n", {401}),
    "what is accepted": (b"GET /v1/elements/Au HTTP/1.1\r\nHost: x\r\nAccept: \xff\r\n\r\n", {200, 400}),
    "an id": (b"GET /v1/nothing HTTP/1.1\r\nHost: x\r\nX-Request-Id: \xff\r\n\r\n", {404}),
    "an ETag": (b'GET /v1/elements/Au HTTP/1.1\r\nHost: x\r\nIf-None-Match: "\xff"\r\n\r\n', {200, 400}),
    "a media type": (
        b"POST /v1/mass HTTP/1.1\r\nHost: x\r\nContent-Type: \xff\r\nContent-Length: 2\r\n\r\n{}",
        {415},
    ),
    "a body": (head("Content-Length: 12") + b'{"value":"\xff"', {400}),
    "rows": (
        b"POST /v1/bulk/mass HTTP/1.1\r\nHost: x\r\nContent-Type: text/csv\r\nContent-Length: 21\r\n\r\n"
        b"value,from,to\n2,\xff\xfe,g\n",
        {200, 400, 422},
    ),
}


@pytest.mark.parametrize(("sent", "expected"), NOT_UTF8.values(), ids=NOT_UTF8)
def test_bytes_that_are_no_text_are_no_fault(service: Running, sent: bytes, expected: set[int]) -> None:
    with connect(service) as connection:
        connection.sendall(sent)
        found = statuses(connection.recv(65_536))
    assert found
    assert set(found) <= expected


FLOODS = {
    "many": (b"".join(b"X-%d: y\r\n" % one for one in range(20_000)), 431),
    "long": (b"Cookie: " + b"a" * 1_000_000 + b"\r\n", 431),
    "the same again": (b"Cookie: a\r\n" * 20_000, 431),
    "as many as there may be": (b"Accept-Language: en\r\n" * 90, 200),
}


@pytest.mark.parametrize(("flood", "expected"), FLOODS.values(), ids=FLOODS)
def test_a_flood_of_headers_ends_at_the_door(service: Running, flood: bytes, expected: int) -> None:
    for _ in range(20):
        with connect(service) as connection:
            # Who is refused before all is sent may hear of it only by the connection being reset.
            with suppress(ConnectionError):
                connection.sendall(b"GET /v1/elements/Au HTTP/1.1\r\nHost: x\r\n" + flood + b"\r\n")
            with suppress(ConnectionError):
                assert statuses(connection.recv(4000)) == [expected]
    prompt(service)


def test_ten_thousand_deep_and_a_name_twice_are_unreadable(service: Running) -> None:
    for body in (
        b"[" * 9_000 + b"]" * 9_000,
        b'{"value": 1, "value": 2, "from": "ozt", "to": "g"}',
        b'{"a":' * 4_000,
    ):
        with connect(service) as connection:
            connection.sendall(head(f"Content-Length: {len(body)}") + body)
            assert statuses(connection.recv(4000)) == [400]
