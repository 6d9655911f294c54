"""A service of several processes that can be killed, stopped and started again over the same data."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from threading import Condition, Event, Thread
from typing import IO, Any

import requests

from alloyref.cli.demo import free_port, wait_until_ready
from tests.running import FAULTS

SECONDS = 30


class Service:
    """`alloyref serve` in a process group of its own; `up` is set while it should answer."""

    def __init__(self, folder: Path, data: Path, url: str, key: str, *, workers: int) -> None:
        self.port = free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.key = key
        self.up = Event()
        self.log = folder / "log"
        self._logged = Condition()
        given = {name: value for name, value in os.environ.items() if not name.startswith("ALLOYREF_")}
        self._environment = given | {
            "ALLOYREF_DATA_DIR": str(data),
            "ALLOYREF_DATABASE_URL": url,
            "ALLOYREF_WORKERS": str(workers),
        }
        self.process: subprocess.Popen[bytes]
        self._copying: Thread

    def start(self) -> None:
        """Start it and wait until it is ready."""
        command = [sys.executable, "-m", "alloyref", "serve", "--port", str(self.port)]
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=self._environment,
            start_new_session=True,
        )
        self._copying = Thread(target=self._copy, args=(self.process.stdout,), daemon=True)
        self._copying.start()
        wait_until_ready(self.address)
        self.up.set()

    def _copy(self, output: IO[bytes]) -> None:
        with output, self.log.open("ab") as log:
            for line in output:
                with self._logged:
                    log.write(line)
                    log.flush()
                    self._logged.notify_all()

    def wait_for(self, words: str, times: int = 1) -> None:
        """Wait until its log has said these words so many times."""
        with self._logged:
            said = self._logged.wait_for(lambda: self.log.read_text(encoding="utf-8").count(words) >= times, SECONDS)
        assert said, f"not said {times} times: {words}"

    def kill(self) -> None:
        """Kill all its processes at once, with no chance to finish anything."""
        self.up.clear()
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(SECONDS)
        # What they write to ends only when the last of them is gone.
        self._copying.join(SECONDS)
        assert not self._copying.is_alive()

    def end(self) -> None:
        """Leave nothing running."""
        self.up.clear()
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(SECONDS)
            except subprocess.TimeoutExpired:
                self.kill()
                raise
        self._copying.join(SECONDS)

    def workers(self) -> list[int]:
        """The process ids of the workers that were started last."""
        found: dict[str, int] = {}
        for worker, pid in re.findall(r"Spawning (worker-\d+) with PID: (\d+)", self.log.read_text(encoding="utf-8")):
            found[worker] = int(pid)
        return list(found.values())

    def faults(self) -> list[str]:
        """The lines of its log that tell of a fault."""
        return [line for line in self.log.read_text(encoding="utf-8").splitlines() if FAULTS.search(line)]

    def ask(self, method: str, path: str, key: str | None = "", **options: Any) -> requests.Response:
        """Ask over a connection of its own, so that any worker may answer; with `key=None` as a stranger."""
        headers = dict(options.pop("headers", {}))
        if key is not None:
            headers["Authorization"] = f"Bearer {key or self.key}"
        return requests.request(method, self.address + path, headers=headers, timeout=SECONDS, **options)
