"""The service is told to stop while it is at work: all that it has begun is finished, and it ends by itself."""

from __future__ import annotations

import json
import os
import signal
import socket
from collections.abc import Callable
from contextlib import ExitStack
from http.client import HTTPResponse
from time import monotonic
from typing import Any

import pytest
from sqlalchemy import URL

from alloyref.cli.serve import GRACE_SECONDS
from alloyref.services.calculations import CALCULATIONS
from alloyref.shop.database import open_database
from tests.faults.service import SECONDS, Service

ROWS = 100_000
BULK = ("mass,metal\n" + "4.82 g,sterling-silver\n" * ROWS).encode()
CHARGE = json.dumps(CALCULATIONS["charge"].example).encode()
ORDER = json.dumps(CALCULATIONS["order"].example).encode()
AT_ONCE = [
    ("/v1/bulk/contents?summary=true", "text/csv", BULK),
    *[("/v1/charge?record=true", "application/json", CHARGE)] * 6,
    *[("/v1/order?record=true", "application/json", ORDER)] * 5,
]


def begun(service: Service, path: str, media: str, body: bytes) -> socket.socket:
    """A request whose head the service has read, and whose body it waits for."""
    connection = socket.create_connection(("127.0.0.1", service.port), timeout=SECONDS)
    lines = (
        f"POST {path} HTTP/1.1",
        "Host: bench.example",
        f"Authorization: Bearer {service.key}",
        f"Content-Type: {media}",
        f"Content-Length: {len(body)}",
        "Expect: 100-continue",
    )
    connection.sendall("\r\n".join([*lines, "", ""]).encode())
    assert connection.recv(1000).startswith(b"HTTP/1.1 100 ")
    return connection


def answer_on(connection: socket.socket) -> tuple[int, bytes]:
    """Read one whole answer."""
    response = HTTPResponse(connection, method="POST")
    response.begin()
    return response.status, response.read()


def told_to_stop(service: Service) -> Callable[[], bool]:
    """Tell it to stop; what comes back waits for its end and says whether its workers ended by themselves.

    One that does not is killed, but only when it has had its time. The log is no witness: the server may say that
    it kills a worker which ended that very moment.
    """
    told = monotonic()
    service.process.send_signal(signal.SIGTERM)

    def ended() -> bool:
        return service.process.wait(GRACE_SECONDS + SECONDS) == 0 and monotonic() - told < GRACE_SECONDS

    return ended


@pytest.mark.parametrize("workers", [1, 2])
def test_what_was_begun_is_finished(where: URL, serving: Callable[..., Any], workers: int) -> None:
    with serving(where, workers=workers) as service, ExitStack() as stack:
        open_ones = [stack.enter_context(begun(service, *one)) for one in AT_ONCE]
        for number, (connection, (_, _, body)) in enumerate(zip(open_ones, AT_ONCE, strict=True)):
            if number == len(open_ones) // 2:
                ended = told_to_stop(service)
            connection.sendall(body)
        answers = [answer_on(connection) for connection in open_ones]
        assert [status for status, _ in answers] == [200] * len(AT_ONCE)
        lines = answers[0][1].decode().splitlines()
        assert len(lines) == ROWS + 2
        kept = {json.loads(content)["record"] for _, content in answers[1:]}
        assert ended()
        assert "shutdown completed" in service.log.read_text(encoding="utf-8")
    database = open_database(where)
    with database.read() as connection_:
        stored = set(connection_.exec_driver_sql("SELECT id FROM shop_records").scalars())
    database.close()
    assert stored == kept


def test_a_worker_that_still_starts_does_not_keep_it(serving: Callable[..., Any], tmp_path: Any) -> None:
    where = URL.create("sqlite", database=str(tmp_path / "shop.sqlite"))
    with serving(where, workers=2) as service:
        service.wait_for("Started worker-", 4)
        os.kill(service.workers()[0], signal.SIGKILL)
        service.wait_for("Spawning worker-1", 2)
        assert told_to_stop(service)()


def test_a_client_that_never_ends_does_not_keep_it_alive(
    serving: Callable[..., Any], tmp_path: Any, long: bool
) -> None:
    if not long:
        pytest.skip("takes as long as the service waits; with ALLOYREF_FAULTS=long")
    where = URL.create("sqlite", database=str(tmp_path / "shop.sqlite"))
    with serving(where) as service, begun(service, *AT_ONCE[1]) as connection:
        connection.sendall(CHARGE[:5])
        service.process.send_signal(signal.SIGTERM)
        assert service.process.wait(GRACE_SECONDS + SECONDS / 2) == 0
