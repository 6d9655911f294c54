"""Sixteen clients with large tables at once, in 256 MB: some are answered, the others told to come again."""

from __future__ import annotations

import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
import requests

MB = 1_000_000
CLIENTS = 16
SECONDS = 120
ROW = b"4.82,dwt,sterling-silver,gold-750-yellow\n"
# More than the size from which on polars is used.
BODY = b"mass,unit,from_metal,to_metal\n" + ROW * 60_000
SMAPS = Path("/proc/self/smaps_rollup")


def proportional(pid: int) -> int:
    """The memory of a process, in bytes, with what it shares counted in part."""
    text = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="utf-8")
    return int(re.search(r"^Pss: +(\d+) kB", text, re.MULTILINE)[1]) * 1024  # type: ignore[index]


def asked(address: str) -> requests.Response:
    """Send a large table."""
    headers = {"Content-Type": "text/csv"}
    return requests.post(f"{address}/v1/bulk/transfer", BODY, headers=headers, timeout=SECONDS)


@pytest.mark.skipif(not SMAPS.exists(), reason="memory is seen on Linux only")
def test_sixteen_tables_at_once_in_256_mb(
    start: Callable[..., Any], problem_of: Callable[..., Any], demo_order: dict[str, Any]
) -> None:
    with start(ALLOYREF_MAX_MEMORY=str(256 * MB)) as running:
        workers = re.findall(r"Spawning worker-\d+ with PID: (\d+)", running.log.read_text(encoding="utf-8"))
        assert requests.post(f"{running.address}/v1/order", json=demo_order, timeout=SECONDS).status_code == 200
        picture = f"{running.address}/v1/pictures/alloy-triangle?format=png"
        assert requests.get(picture, timeout=SECONDS).status_code == 200
        with ThreadPoolExecutor(CLIENTS) as pool:
            answers = list(pool.map(asked, [running.address] * CLIENTS))
        assert {answer.status_code for answer in answers} == {200, 503}
        for answer in answers:
            if answer.status_code == 200:
                assert answer.content.count(b"\r\n") + answer.content.count(b"\n") >= 60_001
            else:
                problem_of(answer, 503)
                assert answer.headers["Retry-After"].isdecimal()
        taken = sum(map(proportional, [running.process.pid, *map(int, workers)]))
        assert taken <= 256 * MB
        assert running.log.read_text(encoding="utf-8").count("Spawning worker") == len(workers)
        assert running.faults() == []
