"""A service in its own process, for the tests that speak to it over a real socket."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
import requests

from alloyref.cli.demo import free_port, wait_until_ready

KINDS = ["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)]
"""The kinds of database for the shop's own data."""
STOP_SECONDS = 20
FAULTS = re.compile(r"Traceback|fault at|raised an exception|panicked")


@dataclass(frozen=True, slots=True)
class Running:
    """A service in its own process."""

    address: str
    port: int
    process: subprocess.Popen[bytes]
    log: Path

    def faults(self) -> list[str]:
        """The lines of its log that tell of a fault."""
        return [line for line in self.log.read_text(encoding="utf-8").splitlines() if FAULTS.search(line)]

    def workers(self) -> list[int]:
        """The process ids of the workers, in the order in which they were started, those started anew too."""
        return [int(pid) for pid in re.findall(r"Spawning worker-\d+ with PID: (\d+)", self.log.read_text("utf-8"))]


@contextmanager
def started(folder: Path, *, ready: bool = True, port: int | None = None, **environment: str) -> Iterator[Running]:
    """A service whose log and data are in a folder, stopped at the end."""
    port = port or free_port()
    log = folder / "log"
    given = {name: value for name, value in os.environ.items() if not name.startswith("ALLOYREF_")}
    given |= {"ALLOYREF_DATA_DIR": str(folder / "data"), **environment}
    command = [sys.executable, "-m", "alloyref", "serve", "--port", str(port)]
    with log.open("wb") as stream, subprocess.Popen(command, stdout=stream, stderr=stream, env=given) as process:
        try:
            try:
                wait_until_ready(f"http://127.0.0.1:{port}", "/readyz" if ready else "/healthz")
            except requests.RequestException as error:
                pytest.fail(f"{error}\nThe service said:\n{log.read_text(encoding='utf-8')}")
            yield Running(f"http://127.0.0.1:{port}", port, process, log)
        finally:
            process.terminate()
            process.wait(STOP_SECONDS)
