"""A client that asks and never reads its answer: its connection is ended, and others are answered."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
import requests

SECONDS = 20
TIMES = 5_000
TABLE = Path("/proc/net/tcp")
IMPATIENT = "import alloyref.web.unread as unread; unread.end_unread.__defaults__ = (1,)"


def held(port: int, connection: socket.socket) -> bool:
    """Whether the service's end of a connection is still there."""
    ends = [f"{here:04X}" for here in (port, connection.getsockname()[1])]
    rows = [line.split()[1:3] for line in TABLE.read_text("utf-8").splitlines()[1:]]
    return any([end.rpartition(":")[2] for end in row] == ends for row in rows)


@pytest.mark.skipif(not TABLE.exists() or not hasattr(socket, "TCP_USER_TIMEOUT"), reason="only Linux can")
def test_a_connection_that_takes_nothing_is_ended(start: Callable[..., Any], tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(IMPATIENT, encoding="utf-8")
    path = os.pathsep.join(filter(None, (str(tmp_path), os.environ.get("PYTHONPATH"))))
    with start(PYTHONPATH=path) as running, ExitStack() as stack:
        connection = stack.enter_context(socket.socket())
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        connection.settimeout(SECONDS)
        connection.connect(("127.0.0.1", running.port))
        connection.sendall(b"GET /openapi.json HTTP/1.1\r\nHost: x\r\n\r\n")
        assert connection.recv(1)
        assert held(running.port, connection)
        for _ in range(TIMES):
            if not held(running.port, connection):
                break
            assert requests.get(f"{running.address}/healthz", timeout=SECONDS).status_code == 200
        assert not held(running.port, connection)
        assert running.faults() == []
