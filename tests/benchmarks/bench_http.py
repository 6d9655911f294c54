"""Requests a second of the service as ratios to bare Flask routes, on the same server and in the same run.

Run by hand: python tests/benchmarks/bench_http.py [--seconds 3] [--rounds 5]
It starts one worker that serves both the service and bare routes which return the same bytes, or parse the
same body with Flask's own get_json, and measures the two in turn, so that noise on the machine hits both.
A second worker, granian's own WSGI mode with the bare routes alone, is measured beside it.
Needs wrk; prints a table, and ends with 1 if a path answers anything but the expected status.
"""

from __future__ import annotations

import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import requests
from flask import Flask, Response, request

from alloyref.cli.demo import free_port, wait_until_ready
from alloyref.services.calculations import CALCULATIONS
from alloyref.settings import Settings
from alloyref.web.app import create_app
from alloyref.web.gateway import Gateway
from alloyref.web.worker import settle

HERE = Path(__file__).resolve()


@dataclass(frozen=True)
class Case:
    """One thing to measure and the ratio aimed at."""

    name: str
    method: str
    path: str
    aim: float
    body: bytes = b""
    headers: Mapping[str, str] | None = None


def cases(address: str) -> list[Case]:
    """What is measured, with the ETag that a 304 needs."""
    etag = requests.get(f"{address}/v1/alloys/sterling-silver", timeout=10).headers["ETag"]
    post = {"Content-Type": "application/json"}
    bodies = {name: json.dumps(CALCULATIONS[name].example).encode() for name in ("transfer", "order")}
    return [
        Case("one number", "GET", "/v1/alloys/sterling-silver/density?format=text", 0.85),
        Case("an alloy", "GET", "/v1/alloys/sterling-silver", 0.85),
        Case("304", "GET", "/v1/alloys/sterling-silver", 0.85, headers={"If-None-Match": etag}),
        Case("transfer", "POST", "/v1/transfer", 0.5, bodies["transfer"], post),
        Case("order", "POST", "/v1/order", 0.25, bodies["order"], post),
    ]


def add_bare(app: Flask) -> Flask:
    """Bare routes that answer with the very bytes the service answered with."""
    known: dict[str, bytes] = {}

    @app.post("/bare/learn/<int:number>")
    def learn(number: int) -> Response:
        known[str(number)] = request.get_data()
        return Response(status=204)

    @app.get("/bare/<number>")
    def read(number: str) -> Response:
        return Response(known[number], content_type="application/json")

    @app.post("/bare/<number>")
    def parse(number: str) -> Response:
        request.get_json()
        return Response(known[number], content_type="application/json")

    return app


def with_bare() -> Gateway:
    """The service with the bare routes beside it."""
    settings = Settings.from_environment()
    gateway = Gateway(add_bare(create_app(settings)), settings)
    settle()
    return gateway


def bare_alone() -> Flask:
    """The bare routes alone, for the server's own WSGI mode."""
    return add_bare(Flask("bare"))


@contextmanager
def server(factory: str, interface: str) -> Iterator[tuple[str, int, float]]:
    """A server process: its address, its process id, and the seconds until it answered."""
    port = free_port()
    code = (
        "from granian import Granian; from granian.constants import Interfaces\n"
        "if __name__ == '__main__':\n"
        f"    Granian('{HERE.stem}:{factory}', factory=True, port={port}, interface=Interfaces.{interface},"
        " websockets=False, blocking_threads=1, log_enabled=False).serve()\n"
    )
    with tempfile.TemporaryDirectory() as folder:
        start = Path(folder) / "start.py"
        start.write_text(code)
        environment = {**os.environ, "PYTHONPATH": str(HERE.parent), "ALLOYREF_DATA_DIR": folder}
        # `alloyref serve` does so by itself; this server is started past it, beside the bare routes.
        subprocess.run([sys.executable, "-m", "alloyref", "db", "upgrade"], env=environment, check=True)
        began = time.perf_counter()
        with subprocess.Popen([sys.executable, str(start)], env=environment) as process:
            try:
                address = f"http://127.0.0.1:{port}"
                if interface == "RSGI":
                    wait_until_ready(address)
                else:
                    learned(address, 0, b"x")
                yield address, process.pid, time.perf_counter() - began
            finally:
                process.terminate()


def learned(address: str, number: int, body: bytes) -> None:
    """Teach a bare route its bytes, waiting for the server if need be."""
    with requests.Session() as session:
        retry = requests.adapters.Retry(600, backoff_factor=0.05, backoff_max=0.05)
        session.mount(address, requests.adapters.HTTPAdapter(max_retries=retry))
        session.post(f"{address}/bare/learn/{number}", data=body, timeout=10).raise_for_status()


def rate(address: str, case: Case, path: str, seconds: int) -> float:
    """Requests a second that wrk reaches; raises if any answer is not 2xx or 3xx."""
    script = f"wrk.method={case.method!r}\nwrk.body={case.body.decode()!r}\n" + "".join(
        f"wrk.headers[{name!r}]={value!r}\n" for name, value in (case.headers or {}).items()
    )
    with tempfile.NamedTemporaryFile("w", suffix=".lua") as lua:
        lua.write(script)
        lua.flush()
        command = ["wrk", "-t1", "-c8", f"-d{seconds}s", "-s", lua.name, address + path]
        out = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    if "Non-2xx" in out:
        raise SystemExit(f"{case.name}: {path} answered with an error\n{out}")
    found = re.search(r"Requests/sec:\s+([\d.]+)", out)
    if found is None:
        raise SystemExit(out)
    return float(found.group(1))


def resident_megabytes(parent: int) -> float:
    """Resident memory of the largest worker below a server process, where /proc tells it."""
    sizes = []
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            text = status.read_text()
        except OSError:
            continue
        if f"\nPPid:\t{parent}\n" in text and (size := re.search(r"VmRSS:\s+(\d+)", text)):
            sizes.append(int(size.group(1)) / 1024)
    return max(sizes, default=float("nan"))


def run(seconds: int, rounds: int) -> None:
    """Measure and print."""
    with server("with_bare", "RSGI") as (address, pid, ready), server("bare_alone", "WSGI") as (plain, _, _):
        print(f"ready after {ready:.2f} s")
        print(f"{'case':<12}{'service/s':>12}{'bare/s':>12}{'ratio':>8}{'aim':>6}{'own WSGI mode/s':>19}{'ratio':>8}")
        for number, case in enumerate(cases(address)):
            body = case.body or None
            answer = requests.request(case.method, address + case.path, data=body, headers=case.headers, timeout=10)
            for where in (address, plain):
                learned(where, number, answer.content)
            places = ((address, case.path), (address, f"/bare/{number}"), (plain, f"/bare/{number}"))
            found = [[rate(where, case, path, seconds) for where, path in places] for _ in range(rounds)]
            service, same, own = (statistics.median(column) for column in zip(*found, strict=True))
            ratio, ratio_own = (statistics.median(one[0] / one[place] for one in found) for place in (1, 2))
            row = f"{case.name:<12}{service:>12.0f}{same:>12.0f}{ratio:>8.2f}{case.aim:>6.2f}"
            print(f"{row}{own:>19.0f}{ratio_own:>8.2f}")
        print(f"resident memory of the worker after the run: {resident_megabytes(pid):.0f} MB")


if __name__ == "__main__":
    from arguments import given

    run(**given(__doc__, "wrk", seconds=3, rounds=3))
