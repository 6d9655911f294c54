"""What a second worker brings, what PostgreSQL costs, and what nginx's cache gives: requests a second, in one run.

Run by hand: python tests/benchmarks/bench_scale.py [--seconds 3] [--rounds 3]
For each database `alloyref serve` runs with one worker and with two, side by side and asked in turn, so that noise on
the machine hits both; the ratio is the median of the ratios of the rounds. wrk, PostgreSQL and nginx take their share
of the same processors: with two of these, twice the rate cannot be reached. Needs wrk; without nginx or PostgreSQL
their columns are left out, and it says so. Ends with 1 if anything answers with an error.
"""

from __future__ import annotations

import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from uuid import uuid4

import requests
from sqlalchemy import create_engine, make_url, text
from sqlalchemy.exc import OperationalError
from tabulate import tabulate

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from alloyref.services.calculations import CALCULATIONS
from tests import front
from tests.benchmarks.bench_http import Case, rate, resident_megabytes
from tests.running import Running, started

POSTGRES = os.environ.get("ALLOYREF_TEST_POSTGRES", "postgresql+psycopg://postgres@127.0.0.1:5432/postgres")
READ = "/v1/alloys/sterling-silver"
UNLIMITED = {"rate=100r/s": "rate=1000000r/s"}


@contextmanager
def postgres() -> Iterator[str | None]:
    """A database of one's own, dropped at the end; None where no server answers."""
    engine = create_engine(POSTGRES, isolation_level="AUTOCOMMIT", connect_args={"connect_timeout": 5})
    try:
        engine.connect().close()
    except OperationalError:
        yield None
        return
    name = f"alloyref_scale_{uuid4().hex[:12]}"
    with engine.connect() as connection:
        connection.execute(text(f"CREATE DATABASE {name}"))
    try:
        yield make_url(POSTGRES).set(database=name).render_as_string(hide_password=False)
    finally:
        with engine.connect() as connection:
            connection.execute(text(f"DROP DATABASE {name} WITH (FORCE)"))
        engine.dispose()


def command(url: str, folder: Path, *arguments: str) -> str:
    """Run `alloyref ...` over a database."""
    given = {**os.environ, "ALLOYREF_DATABASE_URL": url, "ALLOYREF_DATA_DIR": str(folder)}
    ran = [sys.executable, "-m", "alloyref", *arguments]
    return subprocess.run(ran, env=given, check=True, capture_output=True, text=True).stdout


def cases(key: str) -> list[Case]:
    """What is asked of each service."""
    body = json.dumps(CALCULATIONS["transfer"].example).encode()
    post = {"Content-Type": "application/json"}
    shown = {"Authorization": f"Bearer {key}"}
    return [
        Case("read, kept ready", "GET", READ, 0),
        Case("transfer", "POST", "/v1/transfer", 0, body, post),
        Case("transfer, recorded", "POST", "/v1/transfer?record=true", 0, body, {**post, **shown}),
        Case("read of the shop", "GET", "/v1/shop/alloys", 0, headers=shown),
    ]


def measured(places: dict[str, tuple[str, Case]], seconds: int, rounds: int) -> dict[str, list[float]]:
    """The rates of each place, asked in turn."""
    found: dict[str, list[float]] = {name: [] for name in places}
    for _ in range(rounds):
        for name, (address, case) in places.items():
            found[name].append(rate(address, case, case.path, seconds))
    return found


def row(name: str, base: list[float], other: list[float]) -> list[str]:
    """A line of the table: both medians, and the median ratio."""
    ratio = statistics.median(one / two for one, two in zip(other, base, strict=True))
    return [name, f"{statistics.median(base):,.0f}", f"{statistics.median(other):,.0f}", f"{ratio:.2f}"]


def scaling(kind: str, services: dict[int, Running], key: str, seconds: int, rounds: int) -> list[list[str]]:
    """One worker and two over the same database."""
    lines = []
    for case in cases(key):
        places = {str(count): (service.address, case) for count, service in services.items()}
        found = measured(places, seconds, rounds)
        lines.append([kind, *row(case.name, found["1"], found["2"])])
    return lines


def before_nginx(service: Running, folder: Path, seconds: int, rounds: int) -> list[list[str]]:
    """The service itself, and the same through nginx over TLS: from its cache, and passed on."""
    lines = []
    body = json.dumps(CALCULATIONS["transfer"].example).encode()
    post = {"Content-Type": "application/json"}
    with front.serving(folder, service.port, **UNLIMITED) as running:
        address = f"https://127.0.0.1:{running.tls}"
        host = {"Host": front.HOST}
        verify = str(running.certificate)
        shown = [
            requests.get(address + READ, headers=host, verify=verify, timeout=10).headers["X-Cache-Status"]
            for _ in range(2)
        ]
        if shown != ["MISS", "HIT"]:
            raise SystemExit(f"the cache of nginx says {shown}")
        for name, case in (
            ("read, from the cache", Case("read", "GET", READ, 0)),
            ("transfer, passed on", Case("transfer", "POST", "/v1/transfer", 0, body, post)),
        ):
            through = Case(case.name, case.method, case.path, 0, case.body, {**(case.headers or {}), **host})
            places = {"direct": (service.address, case), "nginx": (address, through)}
            found = measured(places, seconds, rounds)
            lines.append(row(name, found["direct"], found["nginx"]))
    return lines


def run(seconds: int, rounds: int) -> None:
    """Measure and print."""
    print(f"{os.cpu_count()} processors, shared by wrk, the workers, nginx and PostgreSQL")
    # The services stop before their database and their folder go.
    with tempfile.TemporaryDirectory() as made, postgres() as url, ExitStack() as stack:
        folder = Path(made)
        lines = []
        for kind, where in (("SQLite", f"sqlite:///{folder}/shop.sqlite"), ("PostgreSQL", url)):
            if where is None:
                print("no PostgreSQL answers: its lines are left out")
                continue
            command(where, folder, "db", "upgrade")
            key = command(where, folder, "keys", "create", "bench", "--scope", "read", "--scope", "write").split()[-1]
            services = {}
            for count in (1, 2):
                own = folder / f"{kind}{count}"
                own.mkdir()
                given = {"ALLOYREF_WORKERS": str(count), "ALLOYREF_DATABASE_URL": where}
                services[count] = stack.enter_context(started(own, **given))
            lines += scaling(kind, services, key, seconds, rounds)
            sizes = {count: f"{resident_megabytes(one.process.pid):.0f} MB" for count, one in services.items()}
            print(f"{kind}: the largest worker of 1 has {sizes[1]}, of 2 {sizes[2]}")
        print(tabulate(lines, ["database", "case", "1 worker/s", "2 workers/s", "ratio"], disable_numparse=True))
        if shutil.which("nginx", path=f"{os.environ.get('PATH', os.defpath)}:/usr/sbin") is None:
            print("no nginx: its lines are left out")
            return
        (folder / "front").mkdir()
        through = before_nginx(services[2], folder / "front", seconds, rounds)
        print()
        print(tabulate(through, ["2 workers", "direct/s", "nginx, TLS/s", "ratio"], disable_numparse=True))


if __name__ == "__main__":
    from arguments import given

    run(**given(__doc__, "wrk", seconds=3, rounds=3))
