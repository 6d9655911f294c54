"""Rows a second of a bulk transfer, beside polars on the same file and beside one request a row, in one run.

Run by hand: python tests/benchmarks/bench_bulk.py [--rows 1000000] [--rounds 3]
A service is started, and in each round a file of rows goes through `/v1/bulk/transfer` from file to file, through
polars (which reads it, multiplies one column and writes it, streaming), and row by row through GET and POST on a
kept connection. Polars and the service have the same threads and cores, and take turns.

Two more lines tell how low the time can go: polars writing the very columns that the answer has, from factors that it
is given; and a bare application on the same server (`bare_bulk.py`), asked by the same client, which takes the body
and gives back the same answer without reading a row. Over HTTP no less than the second is possible, and with polars
no less than the longer of the two.

Prints medians and ratios, and how much memory the worker held at most above what it held idle. Needs polars for its
lines; ends with 1 if a row was not answered.
"""

from __future__ import annotations

import csv
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
from contextlib import ExitStack, contextmanager
from pathlib import Path
from urllib.parse import urlencode

import requests

from alloyref.cli.demo import free_port, wait_until_ready
from alloyref.client import Client

HEAD = "mass,unit,from_metal,to_metal"
TRIALS = ("sterling-silver", "fine-silver", "silver-800")
FINALS = ("gold-585-yellow", "gold-750-yellow", "platinum-950-ru", "gold-375-yellow")
SINGLE = 500
KEY = ("unit", "from_metal", "to_metal")
MASSES = ("result_mass", "result_mass_low", "result_mass_high", "result_in_unit")
# A process of its own, so that its start is not counted: it prints the seconds of each round it is asked for.
POLARS = """
import sys, time
import polars as pl
source, target = sys.argv[1:3]
for _ in sys.stdin:
    begin = time.perf_counter()
    pl.scan_csv(source).with_columns((pl.col("mass") * 1.2345).alias("result")).sink_csv(target)
    print(time.perf_counter() - begin, flush=True)
"""
# The same, with the columns of the answer from a table of factors and of the texts between them.
POLARS_SAME = """
import sys, time
import polars as pl
source, target, table = sys.argv[1:4]
known = pl.read_csv(table, separator=";").lazy()
keys = ["unit", "from_metal", "to_metal"]
for _ in sys.stdin:
    begin = time.perf_counter()
    rows = pl.scan_csv(source, schema_overrides={"mass": pl.String}).with_columns(x=pl.col("mass").cast(pl.Float64))
    rows = rows.join(known, on=keys, how="left", maintain_order="left")
    masses = [(pl.col("x") * pl.col(f"f{at}")).cast(pl.Decimal(18, 4)).alias(f"r{at}") for at in range(4)]
    rows = rows.select("mass", *keys, *masses[:3], "t1", masses[3], "t2")
    rows.sink_csv(target, quote_style="never", line_terminator="\\r\\n")
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


def answer_as_it_is(address: str, source: Path, target: Path) -> None:
    """The answer with its summary, to be given again by the bare application."""
    url = f"{address}/v1/bulk/transfer?summary=true"
    with (
        source.open("rb") as stream,
        requests.post(url, stream, headers={"Content-Type": "text/csv"}, stream=True, timeout=600) as answer,
        target.open("wb") as out,
    ):
        out.writelines(answer.iter_content(2**20))


def write_factors(answer: Path, target: Path) -> None:
    """What polars needs for the same columns: for each key its factors, and the cells between the masses."""
    with answer.open(encoding="utf-8", newline="") as stream, target.open("w", encoding="utf-8") as out:
        rows = csv.DictReader(stream)
        names = list(rows.fieldnames or ())
        after = [names.index(name) + 1 for name in ("result_mass_high", "result_in_unit")]
        out.write(";".join([*KEY, "f0", "f1", "f2", "f3", "t1", "t2"]) + "\n")
        seen = set()
        for row in rows:
            key, cells = tuple(row[name] for name in KEY), list(row.values())
            if key not in seen and row["mass"]:
                seen.add(key)
                factors = [str(float(row[name]) / float(row["mass"])) for name in MASSES]
                texts = [",".join(cells[after[0] : after[1] - 1]), ",".join(cells[after[1] :])]
                out.write(";".join([*key, *factors, *texts]) + "\n")


@contextmanager
def bare_server(answer: Path) -> Iterator[str]:
    """The bare application: its address."""
    port = free_port()
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "ANSWER": str(answer), "SPOOL": folder}
        options = ["--interface", "rsgi", "--http", "1", "--no-ws", "--host", "127.0.0.1", "--port", str(port)]
        command = [sys.executable, "-m", "granian", *options, "bare_bulk:application"]
        here = Path(__file__).parent
        with subprocess.Popen(command, env=environment, cwd=here, stdout=subprocess.DEVNULL) as process:
            try:
                wait_until_ready(f"http://127.0.0.1:{port}")
                yield f"http://127.0.0.1:{port}"
            finally:
                process.terminate()
                process.wait(20)


def run(rows: int, rounds: int) -> None:
    """Measure and print."""
    times: dict[str, list[float]] = {}
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        address, pid = stack.enter_context(service())
        source, target, whole = folder / "in.csv", folder / "out.csv", folder / "whole.csv"
        write_rows(source, rows)
        one_by_one(address, source, post=False)
        idle = megabytes(pid, "VmRSS")
        answer_as_it_is(address, source, whole)
        write_factors(whole, folder / "factors.csv")
        bare = stack.enter_context(bare_server(whole))
        ways: dict[str, Callable[[], float]] = {
            "bulk": lambda: seconds_of(lambda: bulk(address, source, target, rows)) / rows,
            "polars, one column": polars_beside(stack, POLARS, source, folder / "polars.csv", rows),
            "polars, same columns": polars_beside(stack, POLARS_SAME, source, folder / "polars.csv", rows),
            "bare server": lambda: seconds_of(lambda: bulk(bare, source, folder / "bare.csv", rows)) / rows,
            "GET a row": lambda: seconds_of(lambda: one_by_one(address, source, post=False)) / SINGLE,
            "POST a row": lambda: seconds_of(lambda: one_by_one(address, source, post=True)) / SINGLE,
        }
        for _ in range(rounds):
            for name, way in ways.items():
                times.setdefault(name, []).append(way())
        most = megabytes(pid, "VmHWM")
        print(f"{rows} rows, {source.stat().st_size / 1e6:.0f} MB in, {target.stat().st_size / 1e6:.0f} MB out")
    medians = {name: statistics.median(found) for name, found in times.items()}
    print(f"{'':<22}{'rows/s':>12}{'bulk takes, of its time':>26}")
    for name, one in medians.items():
        print(f"{name:<22}{1 / one:>12.0f}{medians['bulk'] / one:>26.4f}")
    print(f"most memory of the worker above idle ({idle:.0f} MB): {most - idle:.0f} MB")
    if medians["polars, one column"] < float("inf"):
        floor = max(medians["bare server"], medians["polars, same columns"]) / medians["polars, one column"]
        print(f"least that is possible, of the time of polars with one column: {floor:.1f}")


def polars_beside(stack: ExitStack, script: str, source: Path, target: Path, rows: int) -> Callable[[], float]:
    """A process that runs polars when asked and says how long it took; for ever where there is no polars."""
    if importlib.util.find_spec("polars") is None:
        return lambda: float("inf")
    command = [sys.executable, "-c", script, str(source), str(target), str(source.parent / "factors.csv")]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    stack.enter_context(process)

    def once() -> float:
        if process.stdin is None or process.stdout is None:
            raise SystemExit("polars cannot be asked")
        process.stdin.write("\n")
        process.stdin.flush()
        return float(process.stdout.readline()) / rows

    once()
    return once


if __name__ == "__main__":
    from arguments import given

    run(**given(__doc__, rows=1_000_000, rounds=3))
