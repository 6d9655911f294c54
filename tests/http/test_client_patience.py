"""The client asks again when that may help: through 429, 503 and a restart, without ever storing twice.

Time is told by a clock that only waiting moves, so nothing here takes any.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest
import requests

from alloyref.cli.demo import free_port
from alloyref.client import Client, Patience, ServiceProblem
from alloyref.client.problem import problem_of

OK = '{"mass": {"value": 1, "unit": "g"}}'
Answered = tuple[int, dict[str, str]]
FINE: Answered = (200, {})
CUT: Answered = (0, {})
"""The request is read whole, and the connection then closed without an answer."""


@dataclass
class Stub:
    """A service that answers by a script, and remembers what it was asked."""

    script: list[Answered] = field(default_factory=list)
    asked: list[tuple[str, str, dict[str, str], bytes]] = field(default_factory=list)
    address: str = ""


@pytest.fixture
def stub() -> Iterator[Stub]:
    """Such a service on a loopback port; when its script is used up it answers well."""
    told = Stub()

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def answer(self) -> None:
            body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
            told.asked.append((self.command, self.path, dict(self.headers), body))
            status, headers = told.script.pop(0) if told.script else FINE
            if not status:
                self.close_connection = True
                return
            self.send_response(status)
            for name, value in {**headers, "Content-Length": str(len(OK))}.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(OK.encode())

        do_GET = do_POST = do_PUT = do_DELETE = answer  # noqa: N815 - as the standard library names them

        def log_message(self, *_: Any) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    told.address = f"http://127.0.0.1:{server.server_port}"
    yield told
    server.shutdown()
    thread.join()
    server.server_close()


class Time:
    """A clock that waiting moves on."""

    def __init__(self, at_wait: Callable[[], None] = lambda: None) -> None:
        self.now = 0.0
        self.waits: list[float] = []
        self._at_wait = at_wait

    def sleep(self, seconds: float) -> None:
        self.waits.append(seconds)
        self.now += seconds
        self._at_wait()

    def patience(self, seconds: float = 60.0) -> Patience:
        return Patience(seconds, sleep=self.sleep, clock=lambda: self.now, backoff_jitter=0)


@pytest.fixture
def passing() -> Time:
    """The time of one test."""
    return Time()


@pytest.fixture
def client(stub: Stub, passing: Time) -> Iterator[Client]:
    """A client of the stub."""
    with Client(stub.address, timeout=10, patience=passing.patience()) as made:
        yield made


def ask(client: Client, method: str) -> Any:
    """One request of each kind that a client makes."""
    asks: dict[str, Callable[[], Any]] = {
        "GET": lambda: client.get("/v1/dataset"),
        "POST": lambda: client.store("/v1/shop/alloys", {"name": "house yellow"}),
        "PUT": lambda: client.replace("/v1/shop/alloys/house", {"name": "house yellow"}, '"1"'),
        "DELETE": lambda: client.delete("/v1/shop/alloys/house", '"1"'),
    }
    return asks[method]()


METHODS = pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE"])


@METHODS
@pytest.mark.parametrize("status", [429, 503])
def test_it_comes_back_when_retry_after_says(
    client: Client, stub: Stub, passing: Time, status: int, method: str
) -> None:
    stub.script = [(status, {"Retry-After": "7"}), (status, {"Retry-After": "3"})]
    ask(client, method)
    assert passing.waits == [7, 3]
    assert [one[0] for one in stub.asked] == [method] * 3
    assert len({one[3] for one in stub.asked}) == 1


def test_retry_after_may_be_a_date(client: Client, stub: Stub, passing: Time) -> None:
    day = datetime.now(UTC) + timedelta(days=2)
    stub.script = [(503, {"Retry-After": format_datetime(day, usegmt=True)})]
    with pytest.raises(ServiceProblem) as refused:
        client.get("/v1/dataset")
    assert (refused.value.status, passing.waits, len(stub.asked)) == (503, [], 1)
    stub.script = [(503, {"Retry-After": format_datetime(day - timedelta(days=4), usegmt=True)})]
    client.get("/v1/dataset")
    assert len(stub.asked) == 3


def test_a_date_is_waited_for(stub: Stub) -> None:
    passing = Time()
    day = datetime.now(UTC) + timedelta(hours=1)
    stub.script = [(503, {"Retry-After": format_datetime(day, usegmt=True)})]
    with Client(stub.address, patience=passing.patience(7200)) as patient:
        patient.get("/v1/dataset")
    (waited,) = passing.waits
    assert 0 < waited <= 3600
    assert len(stub.asked) == 2


@pytest.mark.parametrize("given", [{}, {"Retry-After": "soon"}, {"Retry-After": "0"}, {"Retry-After": "9" * 5000}])
def test_without_a_sensible_retry_after_the_waits_grow(
    client: Client, stub: Stub, passing: Time, given: dict[str, str]
) -> None:
    stub.script = [(503, given)] * 5
    client.get("/v1/dataset")
    assert len(stub.asked) == 6
    assert passing.waits == sorted(set(passing.waits))
    assert passing.waits[-1] > 2 * passing.waits[0] > 0


def test_it_gives_up_when_its_time_is_over(client: Client, stub: Stub, passing: Time) -> None:
    stub.script = [(429, {"Retry-After": "25"})] * 9
    with pytest.raises(ServiceProblem) as refused:
        client.get("/v1/dataset")
    assert (refused.value.status, refused.value.retry_after) == (429, "25")
    assert passing.waits == [25, 25]
    assert len(stub.asked) == 3


def test_no_patience_is_one_attempt(stub: Stub) -> None:
    stub.script = [(503, {})]
    with Client(stub.address, patience=Patience(0)) as hasty, pytest.raises(ServiceProblem):
        hasty.get("/v1/dataset")
    assert len(stub.asked) == 1


@pytest.mark.parametrize("status", [400, 401, 404, 412, 422, 500, 502])
def test_other_refusals_are_final(client: Client, stub: Stub, status: int) -> None:
    stub.script = [(status, {"Retry-After": "1"})]
    with pytest.raises(ServiceProblem) as refused:
        client.get("/v1/dataset")
    assert (refused.value.status, len(stub.asked)) == (status, 1)


@pytest.mark.parametrize(("method", "attempts"), [("GET", 3), ("POST", 3), ("PUT", 1), ("DELETE", 1)])
def test_after_a_lost_answer_only_what_is_known_again_is_repeated(
    client: Client, stub: Stub, method: str, attempts: int
) -> None:
    stub.script = [CUT, CUT]
    if attempts > 1:
        ask(client, method)
    else:
        with pytest.raises(requests.ConnectionError):
            ask(client, method)
    assert len(stub.asked) == attempts


def test_each_thing_stored_has_a_name_of_its_own_that_its_repeats_keep(client: Client, stub: Stub) -> None:
    stub.script = [CUT, (503, {}), FINE, (429, {})]
    for _ in range(2):
        ask(client, "POST")
    names = [one[2]["Idempotency-Key"] for one in stub.asked]
    assert len(names) == 5
    assert len(set(names[:3])) == len(set(names[3:])) == 1
    assert names[0] != names[3]


def test_what_stores_nothing_needs_no_name(client: Client, stub: Stub) -> None:
    with pytest.raises(KeyError):
        client.mass(value=1)
    with pytest.raises(KeyError):
        client.mass(value=1, record=True)
    plain, recorded = stub.asked
    assert ("Idempotency-Key" in plain[2], "Idempotency-Key" in recorded[2]) == (False, True)
    assert (plain[1], recorded[1]) == ("/v1/mass", "/v1/mass?record=true")


def test_the_key_is_shown_and_nowhere_told(stub: Stub, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    netrc = tmp_path / "netrc"
    netrc.write_text("machine 127.0.0.1 login someone password else\n", encoding="utf-8")
    monkeypatch.setenv("NETRC", str(netrc))
    monkeypatch.setenv("ALLOYREF_API_KEY", "from-environment\n")
    with Client(stub.address) as by_environment, Client(stub.address, "by-argument") as by_argument:
        by_environment.get("/v1/dataset")
        by_argument.get("/v1/dataset")
        assert "by-argument" not in repr(by_argument)
    assert [one[2]["Authorization"] for one in stub.asked] == ["Bearer from-environment", "Bearer by-argument"]


def test_without_a_key_none_is_shown(stub: Stub, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("ALLOYREF_API_KEY", raising=False)
    with Client(stub.address) as client:
        client.get("/v1/dataset")
    assert "Authorization" not in stub.asked[0][2]


@pytest.mark.parametrize("body", ["{", "[]", '{"errors": [{}]}', '{"errors": 3}', "\ufeff<html>"])
def test_a_refusal_of_somebody_else_is_a_problem_too(client: Client, body: str) -> None:
    response = requests.Response()
    response.status_code, response.reason, response.encoding = 502, "Bad Gateway", "utf-8"
    response._content = body.encode()
    with pytest.raises(ServiceProblem, match="502 Bad Gateway"):
        raise problem_of(response)


def test_it_waits_through_a_restart(start: Any, tmp_path: Path) -> None:
    folder = str(tmp_path)
    port = free_port()
    running: list[Any] = []

    def begin() -> None:
        if not running:
            running.append(start(port=port, ALLOYREF_DATA_DIR=folder))
            running[0].__enter__()

    passing = Time(begin)
    try:
        with Client(f"http://127.0.0.1:{port}", patience=passing.patience()) as client:
            with start(port=port, ALLOYREF_DATA_DIR=folder) as first:
                before = client.alloy("sterling-silver")
                assert client.mass(value=1, from_="ozt", to="g").quantity("mass").unit == "g"
            assert first.process.returncode == 0
            # The connection that was kept is dead, and nothing listens: the first wait starts another service.
            answer = client.mass(value=1, from_="ozt", to="g")
            assert str(answer.quantity("mass").value) == "31.1034768"
            assert client.alloy("sterling-silver") == before
        assert len(passing.waits) == 1
    finally:
        if running:
            running[0].__exit__(None, None, None)


def test_a_wrong_name_is_not_waited_for(passing: Time, monkeypatch: pytest.MonkeyPatch) -> None:
    def unknown(*_: Any, **__: Any) -> Any:
        raise socket.gaierror(socket.EAI_NONAME, "no such name")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    with Client("http://name.invalid", patience=passing.patience()) as lost, pytest.raises(requests.ConnectionError):
        lost.get("/v1/dataset")
    assert passing.waits == []
