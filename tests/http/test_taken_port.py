"""Starting where something listens already, and starting again where a service has just stopped."""

from __future__ import annotations

import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import requests

SECONDS = 60


def begin(tmp_path: Path, *options: str) -> subprocess.CompletedProcess[str]:
    """Start a service that should not come to serve."""
    command = [sys.executable, "-m", "alloyref", "serve", *options]
    environment = {"ALLOYREF_DATA_DIR": str(tmp_path), "PATH": ""}
    return subprocess.run(command, capture_output=True, text=True, check=False, env=environment, timeout=SECONDS)


def test_a_second_service_on_a_port_is_refused(server: Any, tmp_path: Path) -> None:
    done = begin(tmp_path, "--port", str(server.port))
    assert done.returncode == 1
    assert done.stderr == (
        f"127.0.0.1:{server.port} is taken: another service listens there. Stop it, or choose another --port.\n"
    )
    assert requests.get(f"{server.address}/readyz", timeout=20).status_code == 200


def test_so_it_is_where_something_else_listens(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0), reuse_port=True) as other:
        port = other.getsockname()[1]
        done = begin(tmp_path, "--port", str(port), "--workers", "2")
        assert (done.returncode, "is taken" in done.stderr) == (1, True)
        anywhere = begin(tmp_path, "--port", str(port), "--host", "0.0.0.0")  # noqa: S104  refused before it listens
        assert (anywhere.returncode, "is taken" in anywhere.stderr) == (1, True)


def test_an_address_of_elsewhere_is_refused_in_a_line(tmp_path: Path) -> None:
    for host in ("192.0.2.1", "no-such-host.invalid"):  # kept for examples (RFC 5737, RFC 6761)
        done = begin(tmp_path, "--port", "8087", "--host", host)
        assert done.returncode == 1
        assert host in done.stderr
        assert "Traceback" not in done.stderr


def test_after_a_stop_the_port_is_free_at_once(start: Callable[..., Any]) -> None:
    """With two workers, and with connections of the last one still lingering."""
    with start(ALLOYREF_WORKERS="2") as first, requests.Session() as session:
        assert session.get(f"{first.address}/readyz", timeout=20).status_code == 200
        first.process.terminate()
        first.process.wait(SECONDS)
    with start(port=first.port, ALLOYREF_WORKERS="2") as second:
        for _ in range(8):
            assert requests.get(f"{second.address}/readyz", timeout=20).status_code == 200
