"""Bulk requests over a real socket: order, digest, memory, fairness, and clients that are slow or leave."""

from __future__ import annotations

import base64
import hashlib
import json
import random
import re
import socket
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from http.client import HTTPResponse
from pathlib import Path
from typing import Any

import pytest
import requests

HEAD = b"mass,unit,from_metal,to_metal\r\n"
METALS = ["sterling-silver", "gold-585-yellow", "gold-750-yellow", "platinum-950-ru", "fine-silver"]
MEDIA = {"Content-Type": "text/csv"}
SECONDS = 20
PLACES = 4
# What a run may hold besides its rows: arrivals, one answer's turn, and what Python keeps for reuse.
MOST_GROWTH_MB = 40


def body_of(rows: int) -> bytes:
    """So many rows, all with an answer, each with its own mass."""
    draw = random.Random(rows)  # noqa: S311 - only to vary the rows
    lines = [
        f"{number + 1}.{draw.randrange(1000):03},{draw.choice(('g', 'dwt'))},{','.join(draw.choices(METALS, k=2))}"
        for number in range(rows)
    ]
    return HEAD + "\r\n".join(lines).encode() + b"\r\n"


def worker_memory(parent: int) -> float:
    """Megabytes that the worker below a server process holds."""
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            text = status.read_text()
        except OSError:
            continue
        size = re.search(r"VmRSS:\s+(\d+)", text)
        if f"\nPPid:\t{parent}\n" in text and size:
            return int(size.group(1)) / 1024
    raise AssertionError("the worker is not there")


def post(service: Any, body: Any, name: str = "transfer", **query: str) -> requests.Response:
    """Send rows and read the whole answer."""
    address = f"{service.address}/v1/bulk/{name}"
    return requests.post(address, data=body, params=query, headers=MEDIA, timeout=120)


def head(length: int, *more: str) -> bytes:
    """The head of a bulk request."""
    lines = ("POST /v1/bulk/transfer HTTP/1.1", "Host: bench.example", "Content-Type: text/csv")
    return "\r\n".join([*lines, f"Content-Length: {length}", *more, "", ""]).encode()


def connect(service: Any) -> socket.socket:
    """A raw connection."""
    return socket.create_connection(("127.0.0.1", service.port), timeout=SECONDS)


def begun(connection: socket.socket, length: int = 100_000) -> None:
    """Begin a bulk request and wait until the service reads its body."""
    connection.sendall(head(length, "Expect: 100-continue"))
    assert connection.recv(1000).startswith(b"HTTP/1.1 100 ")
    connection.sendall(body_of(5))


def held(service: Any, stack: ExitStack) -> None:
    """Take one of the places for runs; who left a moment ago may still have it."""
    ends = time.monotonic() + SECONDS
    while time.monotonic() < ends:
        connection = connect(service)
        connection.sendall(head(100_000, "Expect: 100-continue"))
        if connection.recv(1000).startswith(b"HTTP/1.1 100 "):
            stack.enter_context(connection)
            return
        connection.close()
    pytest.fail("there is no place")


def answer_on(connection: socket.socket) -> tuple[int, dict[str, str], bytes]:
    """Read one answer."""
    response = HTTPResponse(connection, method="POST")
    response.begin()
    return response.status, {name.lower(): value for name, value in response.getheaders()}, response.read()


@pytest.fixture(scope="module")
def service(start: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """A service whose temporary files can be seen."""
    folder = tmp_path_factory.mktemp("spool")
    with start(TMPDIR=str(folder), ALLOYREF_MAX_BULK_RUNS=str(PLACES), ALLOYREF_MAX_IN_FLIGHT="100000") as running:
        yield running
        assert running.faults() == []
    assert running.process.returncode == 0
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("rows", [3, 20_000])
def test_rows_come_back_in_order_and_whole(service: Any, rows: int) -> None:
    body = body_of(rows)
    answer = post(service, body, summary="true")
    assert answer.status_code == 200
    lines = answer.content.split(b"\r\n")
    assert len(lines) == rows + 3
    sent = body.split(b"\r\n")
    assert all(line.startswith(asked + b",") for line, asked in zip(lines, sent[: rows + 1], strict=False))
    assert int(answer.headers["Content-Length"]) == len(answer.content)
    digest = hashlib.sha256(answer.content[: -len(lines[-2]) - 2]).hexdigest()
    assert lines[-2].endswith(f"summary: rows={rows} errors=0 sha256={digest}".encode())
    whole = base64.b64encode(hashlib.sha256(answer.content).digest()).decode()
    assert answer.headers["Content-Digest"] == f"sha-256=:{whole}:"


def test_a_row_is_what_a_single_question_gives(service: Any) -> None:
    answer = post(service, body_of(10)).text.splitlines()
    for line in answer[1:]:
        mass, unit, from_metal, to_metal, value, low, *_ = line.split(",")
        query = {"mass": mass, "unit": unit, "from_metal": from_metal, "to_metal": to_metal}
        single = requests.get(f"{service.address}/v1/transfer", params=query, timeout=SECONDS).json()["result"]
        assert (float(value), float(low)) == (single["mass"]["value"], single["mass"]["low"])


def test_memory_does_not_grow_with_the_rows(service: Any) -> None:
    # Large enough that whatever large bodies need is there already.
    assert post(service, body_of(70_000)).status_code == 200
    before = worker_memory(service.process.pid)
    answer = post(service, body_of(200_000), summary="true")
    assert answer.content.endswith(b"\r\n")
    assert b"summary: rows=200000 errors=0 " in answer.content[-200:]
    assert worker_memory(service.process.pid) - before < MOST_GROWTH_MB


def test_others_are_answered_while_many_rows_run(service: Any) -> None:
    body = body_of(100_000)
    with ThreadPoolExecutor(1) as pool, requests.Session() as session:
        running = pool.submit(post, service, body)
        answered = 0
        while not running.done():
            reply = session.get(f"{service.address}/v1/mass?value={answered}&from=ozt&to=g", timeout=5)
            assert reply.status_code == 200
            answered += 1
        assert running.result().status_code == 200
    # One that did one after the other would have let through one or two.
    assert answered > 8


@pytest.mark.parametrize("body", [b"mas,unit\r\n" + b"1,g\r\n" * 400_000, b"\xff" + body_of(50_000)])
def test_a_wrong_head_is_told_even_to_those_who_send_all_first(
    service: Any, problem_of: Callable[..., Any], body: bytes
) -> None:
    document = problem_of(post(service, body), 422)
    assert document["errors"][0]["pointer"] in ("/columns", "")


def test_the_next_request_on_the_connection_is_answered(service: Any) -> None:
    body = body_of(20_000)
    with requests.Session() as session:
        address = f"{service.address}/v1/bulk/transfer"
        for sent, status in ((b"nothing\r\n", 422), (body, 200), (b"", 400), (HEAD, 200), (body, 200)):
            answer = session.post(address, data=sent, headers=MEDIA, timeout=60)
            assert answer.status_code == status
        assert session.get(f"{service.address}/v1/dataset", timeout=SECONDS).status_code == 200


def test_a_client_that_leaves_halfway_frees_its_place(service: Any) -> None:
    body = body_of(2000)
    for _ in range(6):
        with connect(service) as connection:
            connection.sendall(head(len(body)) + body[: len(body) // 2])
    with ExitStack() as stack:
        for _ in range(PLACES):
            held(service, stack)


def test_too_many_runs_at_a_time_are_told_to_come_again(service: Any, problem_of: Callable[..., Any]) -> None:
    with ExitStack() as stack:
        for _ in range(PLACES):
            held(service, stack)
        refused = post(service, body_of(3))
        assert problem_of(refused, 503)["type"] == "/v1/problems/busy"
        assert refused.headers["Retry-After"] == "1"
        single = {"value": "1", "from": "ozt", "to": "g"}
        assert requests.post(f"{service.address}/v1/mass", json=single, timeout=SECONDS).status_code == 200


def test_too_many_bytes_on_their_way_are_told_to_come_again(service: Any, problem_of: Callable[..., Any]) -> None:
    plain = b"POST /v1/mass HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\nExpect: 100-continue\r\n"
    with connect(service) as connection:
        connection.sendall(plain + b"Content-Length: 90000\r\n\r\n")
        assert connection.recv(1000).startswith(b"HTTP/1.1 100 ")
        large = json.dumps({"value": "1", "from": "ozt", "to": "g"}) + " " * 20_000
        refused = requests.post(
            f"{service.address}/v1/mass",
            data=large,
            headers={"Content-Type": "application/json"},
            timeout=SECONDS,
        )
        assert problem_of(refused, 503)["type"] == "/v1/problems/busy"


def test_slow_bulk_bodies_hold_nobody_up_and_end_in_408(strict_server: Any) -> None:
    with ExitStack() as stack:
        slow = [stack.enter_context(connect(strict_server)) for _ in range(10)]
        for one in slow:
            begun(one)
        assert requests.get(f"{strict_server.address}/v1/elements", timeout=1).status_code == 200
        for one in slow:
            status, headers, body = answer_on(one)
            assert (status, headers["content-type"]) == (408, "application/problem+json")
            assert headers["x-request-id"]
            assert json.loads(body)["type"] == "/v1/problems/timeout"


def test_a_body_without_a_length_and_one_too_large_are_refused(
    start: Callable[..., Any], problem_of: Callable[..., Any]
) -> None:
    with start(ALLOYREF_MAX_BULK_BODY="1000") as running:
        problem_of(post(running, iter([HEAD])), 411)
        problem_of(post(running, body_of(100)), 413)
        assert post(running, body_of(5)).status_code == 200


def test_an_answer_that_grows_too_large_is_refused_and_leaves_nothing(
    start: Callable[..., Any], problem_of: Callable[..., Any], tmp_path: Path
) -> None:
    with start(ALLOYREF_MAX_BULK_ANSWER="1000000", TMPDIR=str(tmp_path)) as running:
        with requests.Session() as session:
            for _ in range(2):
                address = f"{running.address}/v1/bulk/transfer"
                refused = session.post(address, data=HEAD + b"a\r\n" * 500_000, headers=MEDIA, timeout=60)
                document = problem_of(refused, 413)
                assert document["type"] == "/v1/problems/too-large"
                assert "more than 1000000 bytes" in document["detail"]
                assert list(tmp_path.glob("alloyref-bulk-*")) == []
        assert post(running, body_of(5000)).status_code == 200


def test_the_application_is_asked_first_as_for_any_request(start: Callable[..., Any]) -> None:
    origin = "https://bench.example"
    headers = {**MEDIA, "Origin": origin}
    with start(ALLOYREF_CORS_ORIGINS=origin) as running:
        address = f"{running.address}/v1/bulk/transfer"
        for body, status in ((body_of(3), 200), (body_of(30_000), 200), (b"mas\n", 422), (b"", 400)):
            answer = requests.post(address, data=body, headers=headers, timeout=60)
            holds(answer, status, origin)
        answer = requests.post(address, data=body_of(3), headers={"Origin": origin}, timeout=60)
        holds(answer, 415, origin)


def holds(answer: requests.Response, status: int, origin: str) -> None:
    """An answer has its status, and every header that the application gives."""
    assert answer.status_code == status
    assert answer.headers["Access-Control-Allow-Origin"] == origin
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Cache-Control"] == "no-store"
    assert int(answer.headers["Content-Length"]) == len(answer.content)


def test_no_name_of_a_kept_column_is_taken_for_a_formula(service: Any) -> None:
    for name, shown in (("=1+1", "'=1+1"), ("@sum", "'@sum"), ("note", "note")):
        body = f"mass,unit,from_metal,to_metal,{name}\n1,g,Ag,Au,x\n"
        answer = requests.post(
            f"{service.address}/v1/bulk/transfer", data=body, params={"keep": name}, headers=MEDIA, timeout=60
        )
        assert answer.status_code == 200
        assert answer.text.split(",")[4] == shown
