"""A rate limit counted in Redis: two workers count together, and a store that hangs or is away holds nobody up."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import requests

from alloyref.cli.demo import free_port

LIMIT = 10


@pytest.fixture
def store(tmp_path: Path) -> Iterator[str]:
    """A Redis of one's own; without the program the test is skipped, or fails where it must run."""
    if shutil.which("redis-server") is None:
        reason = "redis-server is not installed"
        if os.environ.get("CI_REQUIRES_REDIS") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    port = free_port()
    kept = ["--save", "", "--appendonly", "no", "--dir", str(tmp_path)]
    command = ["redis-server", "--port", str(port), "--bind", "127.0.0.1", *kept]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            assert any("eady to accept connections" in line for line in process.stdout)
            yield f"redis://127.0.0.1:{port}/0"
        finally:
            process.terminate()


def asked(service: Any, times: int) -> list[int]:
    """The statuses of so many requests, each on a connection of its own, so that both workers get some."""
    found = []
    for _ in range(times):
        answer = requests.get(f"{service.address}/v1/elements/Au", timeout=10)
        assert answer.status_code != 429 or answer.json()["type"] == "/v1/problems/too-many"
        found.append(answer.status_code)
    return found


def limits(store: str) -> dict[str, str]:
    """The settings of a service that counts so."""
    return {"ALLOYREF_RATE_LIMIT": f"{LIMIT}/hour", "ALLOYREF_RATE_STORE": store, "ALLOYREF_WORKERS": "2"}


def test_two_workers_count_together(start: Callable[..., Any], store: str) -> None:
    with start(**limits(store)) as service:
        assert asked(service, 40) == [200] * LIMIT + [429] * (40 - LIMIT)
        assert service.faults() == []


def test_without_a_shared_store_each_worker_counts_alone(start: Callable[..., Any]) -> None:
    with start(**limits("memory://")) as service:
        assert asked(service, 80).count(200) == 2 * LIMIT


@pytest.mark.parametrize("kind", ["away", "silent"])
def test_a_store_that_does_not_answer_holds_nobody_up(start: Callable[..., Any], kind: str) -> None:
    with socket.create_server(("127.0.0.1", 0), backlog=50) as silent:
        # It takes connections and never says a word; nothing listens at port 1.
        port = 1 if kind == "away" else silent.getsockname()[1]
        with start(**limits(f"redis://127.0.0.1:{port}/0")) as service:
            assert asked(service, 30) == [200] * 30
            assert service.faults() == []
            assert "store of the rate limit does not answer" in service.log.read_text(encoding="utf-8")
