"""Rows a second of a bulk transfer, beside polars on the same file and beside one request a row, in one run.

Run by hand: python tests/benchmarks/bench_bulk.py [--rows 1000000] [--rounds 3]
A service is started, and in each round a file of rows goes through `/v1/bulk/transfer` from file to file, through
polars (which reads it, multiplies one column and writes it, streaming), and row by row through GET and POST on a
kept connection. Prints medians and ratios, and how much memory the worker held at most above what it held idle.
Needs polars for its column; ends with 1 if a row was not answered.
"""

from __future__ import annotations

import argparse
import http.client
import importlib.util
import os
import random
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode

from alloyref.cli.demo import free_port, wait_until_ready
from alloyref.client import Client

HEAD = "mass,unit,from_metal,to_metal"
TRIALS = ("sterling-silver", "fine-silver", "silver-800")
FINALS = ("gold-585-yellow", "gold-750-yellow", "platinum-950-ru", "gold-375-yellow")
SINGLE = 500
# A process of its own, so that its start is not counted: it prints the seconds of each round it is asked for.
POLARS = """
import sys, time
import polars as pl
source, target = sys.argv[1:]
for _ in sys.stdin:
    begin = time.perf_counter()
    pl.scan_csv(source).with_columns((pl.col("mass") * 1.2345).alias("result")).sink_csv(target)
    print(time.perf_counter() - begin, flush=True)
"""


def write_rows(path: Path, rows: int) -> None:
    """A file of rows that all have an answer."""
    draw = random.Random(1)  # noqa: S311 - only to vary the rows
    with path.open("w", encoding="utf-8", newline="") as stream:
        stream.write(HEAD + "\r\n")
        for _ in range(rows):
            mass, unit = draw.randint(100, 99_999) / 1000, draw.choice(("g", "dwt"))
            stream.write(f"{mass:.3f},{unit},{draw.choice(TRIALS)},{draw.choice(FINALS)}\r\n")


@contextmanager
def service() -> Iterator[tuple[str, int]]:
    """The service with one worker: its address, and the process above the worker."""
    port = free_port()
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "ALLOYREF_DATA_DIR": folder}
        command = [sys.executable, "-m", "alloyref", "serve", "--port", str(port)]
        with subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL) as process:
            try:
                wait_until_ready(f"http://127.0.0.1:{port}")
                yield f"http://127.0.0.1:{port}", process.pid
            finally:
                process.terminate()
                process.wait(20)


def worker_status(parent: int) -> str:
    """What /proc tells of the worker below a server process."""
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            text = status.read_text()
        except OSError:
            continue
        if f"\nPPid:\t{parent}\n" in text:
            return text
    raise SystemExit("the worker is not there")


def megabytes(parent: int, of: str) -> float:
    """VmRSS (held now) or VmHWM (held at most) of the worker."""
    found = re.search(rf"{of}:\s+(\d+)", worker_status(parent))
    return int(found.group(1)) / 1024 if found else float("nan")


def seconds_of(work: Callable[[], None]) -> float:
    """How long it takes."""
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def bulk(address: str, source: Path, target: Path, rows: int) -> None:
    """One pass through the service, its digest checked."""
    with Client(address, timeout=600) as client, source.open("rb") as stream, target.open("wb") as out:
        if client.bulk("transfer", stream, out) != {"rows": rows, "errors": 0}:
            raise SystemExit("a row was not answered")


def one_by_one(address: str, source: Path, post: bool) -> None:
    """The first rows of the file, a request each, on one connection that is kept."""
    connection = http.client.HTTPConnection(address.removeprefix("http://"))
    with source.open(encoding="utf-8", newline="") as stream:
        next(stream)
        for _, line in zip(range(SINGLE), stream, strict=False):
            mass, unit, from_metal, to_metal = line.strip().split(",")
            if post:
                body = f'{{"mass":"{mass} {unit}","from_metal":"{from_metal}","to_metal":"{to_metal}"}}'
                connection.request("POST", "/v1/transfer", body, {"Content-Type": "application/json"})
            else:
                query = urlencode({"mass": mass, "unit": unit, "from_metal": from_metal, "to_metal": to_metal})
                connection.request("GET", f"/v1/transfer?{query}")
            answer = connection.getresponse()
            answer.read()
            if answer.status != 200:
                raise SystemExit(f"a row was not answered: {answer.status}")
    connection.close()


def run(rows: int, rounds: int) -> None:
    """Measure and print."""
    times: dict[str, list[float]] = {"bulk": [], "polars": [], "GET a row": [], "POST a row": []}
    with tempfile.TemporaryDirectory() as folder, service() as (address, pid):
        source, target = Path(folder) / "in.csv", Path(folder) / "out.csv"
        write_rows(source, rows)
        one_by_one(address, source, post=False)
        idle = megabytes(pid, "VmRSS")
        with polars_beside(source, Path(folder) / "polars.csv") as polars:
            for _ in range(rounds):
                times["bulk"].append(seconds_of(lambda: bulk(address, source, target, rows)) / rows)
                if polars is not None:
                    times["polars"].append(polars() / rows)
                for name in ("GET a row", "POST a row"):
                    taken = seconds_of(lambda name=name: one_by_one(address, source, name.startswith("POST")))
                    times[name].append(taken / SINGLE)
        most = megabytes(pid, "VmHWM")
        print(f"{rows} rows, {source.stat().st_size / 1e6:.0f} MB in, {target.stat().st_size / 1e6:.0f} MB out")
    medians = {name: statistics.median(found) for name, found in times.items() if found}
    print(f"{'':<12}{'rows/s':>12}{'bulk takes, of its time':>26}")
    for name, one in medians.items():
        print(f"{name:<12}{1 / one:>12.0f}{medians['bulk'] / one:>26.4f}")
    print(f"most memory of the worker above idle ({idle:.0f} MB): {most - idle:.0f} MB")


@contextmanager
def polars_beside(source: Path, target: Path) -> Iterator[Callable[[], float] | None]:
    """A process that runs polars when asked and says how long it took; None where there is no polars."""
    if importlib.util.find_spec("polars") is None:
        print("polars is not installed, so there is nothing to compare with")
        yield None
        return
    command = [sys.executable, "-c", POLARS, str(source), str(target)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:

        def once() -> float:
            if process.stdin is None or process.stdout is None:
                raise SystemExit("polars cannot be asked")
            process.stdin.write("\n")
            process.stdin.flush()
            return float(process.stdout.readline())

        once()
        yield once


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--rows", type=int, default=1_000_000)
    parser.add_argument("--rounds", type=int, default=3)
    arguments = parser.parse_args()
    run(arguments.rows, arguments.rounds)
