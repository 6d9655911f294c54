"""Charges and other long work: nobody else waits, places are bounded, and what was begun is finished."""

from __future__ import annotations

import json
import signal
import socket
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor
from concurrent.futures import wait as wait_for
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
import requests

from alloyref.domain.charge import CHARGE
from alloyref.domain.recovery import RECOVERY
from alloyref.pictures.kinds import PICTURES
from alloyref.services.calculations import CALCULATIONS
from alloyref.shop import keys
from alloyref.shop.database import Database, address, open_database
from alloyref.shop.migrate import upgrade
from alloyref.web.places import LARGE
from tests.http.searching import SECONDS, Searches, held

SHORT, LONG = "0.05", "15"
FLOW, DRAWN = "/v1/pictures/charge-flow", PICTURES["charge-flow"].example
RECORD = "/v1/charge?record=true"
Problem = Callable[[requests.Response, int], dict[str, Any]]


class Bench:
    """A service with one worker, its searches, and a holder of a key who asks it from several threads."""

    def __init__(self, running: Any, searches: Searches, database: Database, key: str) -> None:
        self.running, self.searches, self.database = running, searches, database
        self.key = {"Authorization": f"Bearer {key}"}
        self.pool = ThreadPoolExecutor(8)

    def ask(self, method: str, path: str, body: Any = None, **headers: str) -> requests.Response:
        """Ask, over a connection of its own."""
        whole = self.running.address + path
        return requests.request(method, whole, json=body, headers=self.key | headers, timeout=SECONDS)

    def later(self, path: str, body: Any = None, **headers: str) -> Future[requests.Response]:
        """Ask by POST on another thread."""
        return self.pool.submit(self.ask, "POST", path, body, **headers)

    def others_are_answered(self) -> None:
        """Everybody else gets an answer now."""
        for path in (
            "/healthz",
            "/readyz",
            "/v1/elements",
            "/v1/mass?value=1&from=ozt&to=g",
            "/v1/shop/records",
            "/",
        ):
            assert self.ask("GET", path).status_code == 200
        assert self.ask("POST", "/v1/order", CALCULATIONS["order"].example).status_code == 200

    def stored(self) -> int:
        """How many records were kept."""
        with self.database.read() as connection:
            return int(connection.exec_driver_sql("SELECT count(*) FROM shop_records").scalar() or 0)


@pytest.fixture
def wait() -> str:
    """How many seconds a request waits for a place."""
    return SHORT


@pytest.fixture
def more() -> dict[str, str]:
    """More settings."""
    return {}


@pytest.fixture
def bench(start: Callable[..., Any], wait: str, more: dict[str, str], tmp_path: Path) -> Iterator[Bench]:
    """A service with one place for charges."""
    where = address("", tmp_path)
    database = open_database(where)
    upgrade(database)
    key = keys.create(database, "till", ("read", "write"))[1]
    given = {
        "ALLOYREF_DATABASE_URL": where.render_as_string(hide_password=False),
        "ALLOYREF_MAX_CHARGES": "1",
        "ALLOYREF_LOG_REQUESTS": "true",
        "ALLOYREF_LOG_FORMAT": "json",
        "ALLOYREF_METRICS": "true",
        "WAIT": wait,
        **more,
    }
    with held(start, tmp_path, **given) as (running, searches):
        made = Bench(running, searches, database, key)
        yield made
        made.pool.shutdown()
        assert running.faults() == []
    database.close()
    assert running.process.returncode == 0


def test_others_are_answered_while_a_charge_searches(bench: Bench) -> None:
    long = bench.later("/v1/charge", CHARGE.example)
    with bench.searches.begun():
        bench.others_are_answered()
        assert not long.done()
    assert long.result().json()["result"]["possible"]


def test_one_beyond_the_places_is_told_to_come_again_and_stores_nothing(bench: Bench, problem_of: Problem) -> None:
    once = {"Idempotency-Key": str(uuid4())}
    long = bench.later(RECORD, CHARGE.example)
    with bench.searches.begun():
        refused = bench.ask("POST", RECORD, CHARGE.example, **once)
        assert problem_of(refused, 503)["type"] == "/v1/problems/busy"
        assert refused.headers["Retry-After"] == "5"
        bench.others_are_answered()
        assert bench.stored() == 0
    assert long.result().status_code == 200
    again = bench.later(RECORD, CHARGE.example, **once)
    with bench.searches.begun():
        pass
    assert again.result().json()["record"] == bench.ask("POST", RECORD, CHARGE.example, **once).json()["record"]
    assert bench.stored() == 2
    counted = bench.ask("GET", "/metrics").text
    assert 'alloyref_requests_total{method="POST",route="/v1/charge",status="503"} 1.0' in counted
    assert "POST /v1/charge 503" in bench.running.log.read_text("utf-8")


def test_a_recorded_charge_is_asked_again_in_the_same_places(bench: Bench, problem_of: Problem) -> None:
    first = bench.later(RECORD, CHARGE.example)
    with bench.searches.begun():
        pass
    path = f"{first.result().headers['Location']}/recompute"
    again = bench.later(path)
    with bench.searches.begun():
        problem_of(bench.ask("POST", path), 503)
        problem_of(bench.ask("POST", "/v1/charge", CHARGE.example), 503)
        bench.others_are_answered()
    assert again.result().json()["same"] is True


LONG_WORK = (
    ("GET", "/v1/pictures/alloy-triangle", None),
    ("HEAD", "/v1/pictures/density-karat", None),
    ("POST", "/v1/pictures/charge-flow", CALCULATIONS["order"].example),
    ("POST", "/v1/recovery", {**RECOVERY.example, "terms": RECOVERY.example["terms"][:1]}),
)


@pytest.mark.parametrize(("method", "path", "body"), LONG_WORK, ids=[path for _, path, _ in LONG_WORK])
def test_others_are_answered_while_a_picture_is_drawn_or_an_offer_settled(
    bench: Bench, method: str, path: str, body: Any, problem_of: Problem
) -> None:
    long = bench.pool.submit(bench.ask, method, path, body)
    with bench.searches.begun():
        bench.others_are_answered()
        refused = bench.ask("GET", "/v1/pictures/alloy-triangle?shows=karat")
        assert problem_of(refused, 503)["type"] == "/v1/problems/busy"
        assert refused.headers["Retry-After"] == "5"
        # Charges have places of their own.
        charge = bench.later("/v1/charge", CHARGE.example)
        with bench.searches.begun():
            assert not long.done()
        assert charge.result().status_code == 200
    assert long.result().status_code == 200


def test_a_long_page_of_the_shops_own_takes_the_place_of_a_picture(bench: Bench, problem_of: Problem) -> None:
    path = "/v1/shop/records?page_size="
    long = bench.later("/v1/pictures/charge-flow", CALCULATIONS["order"].example)
    with bench.searches.begun():
        assert problem_of(bench.ask("GET", f"{path}500"), 503)["type"] == "/v1/problems/busy"
        assert bench.ask("GET", f"{path}100").status_code == 200
        # Who may not read it does not wait in line.
        problem_of(requests.get(f"{bench.running.address}{path}500", timeout=SECONDS), 401)
    assert long.result().status_code == 200
    assert bench.ask("GET", f"{path}500").status_code == 200


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        ("/order", {"/final_metal": "Au", "/volume": "1 cm3"}),
        ("/density-test", {"/weighings/0/in_air": "10.0000 g", "/weighings/0/in_liquid": "9.4834 g"}),
    ],
)
def test_others_are_answered_while_a_sheet_is_made(bench: Bench, path: str, fields: dict[str, str]) -> None:
    address = bench.running.address + path
    sheet = bench.pool.submit(requests.post, address, data=fields, timeout=SECONDS)
    with bench.searches.begun():
        bench.others_are_answered()
        assert not sheet.done()
    assert sheet.result().status_code == 200


@pytest.mark.parametrize("more", [{"ALLOYREF_REQUIRE_KEY": "true"}])
def test_whoever_may_not_calculate_does_not_wait_in_line(bench: Bench, problem_of: Problem) -> None:
    asking = (f"{bench.running.address}/v1/charge", f"{bench.running.address}/v1/shop/records/{'0' * 24}/recompute")
    write_only = {"Authorization": f"Bearer {keys.create(bench.database, 'scale', ('write',))[1]}"}
    long = bench.later("/v1/charge", CHARGE.example)
    with bench.searches.begun():
        for url in asking:
            problem_of(requests.post(url, json=CHARGE.example, timeout=SECONDS), 401)
        problem_of(requests.post(asking[0], json=CHARGE.example, headers=write_only, timeout=SECONDS), 403)
        problem_of(bench.ask("POST", "/v1/charge", CHARGE.example), 503)
    assert long.result().status_code == 200


@pytest.mark.parametrize(("wait", "more"), [(LONG, {"ALLOYREF_RATE_LIMIT": "1/day"})])
def test_whoever_has_asked_too_much_does_not_wait_in_line(bench: Bench, problem_of: Problem) -> None:
    asking = bench.later("/v1/charge", CHARGE.example)
    with bench.searches.begun():
        problem_of(bench.ask("POST", "/v1/charge", CHARGE.example), 429)
        assert not asking.done()
    assert asking.result().status_code == 200


@pytest.mark.parametrize(("wait", "more"), [(LONG, {"LINE": "2"})])
def test_an_order_is_answered_however_many_drawings_wait(bench: Bench, problem_of: Problem) -> None:
    many = {
        bench.pool.submit(requests.post, bench.running.address + FLOW, json=DRAWN, timeout=SECONDS) for _ in range(4)
    }
    large = {"data": json.dumps(CALCULATIONS["order"].example) + " " * LARGE, "timeout": SECONDS}
    large |= {"headers": {"Content-Type": "application/json", **bench.key}}
    with bench.searches.begun():
        refused = wait_for(many, SECONDS, FIRST_COMPLETED)
        problem_of(refused.done.pop().result(), 503)
        order = bench.pool.submit(requests.post, f"{bench.running.address}/v1/order", **large)
        # The order has its place in line once another has lost the last one.
        problem_of(wait_for(refused.not_done, SECONDS, FIRST_COMPLETED).done.pop().result(), 503)
    with bench.searches.begun():
        pass
    assert order.result().status_code == 200
    assert sorted(one.result().status_code for one in many) == [200, 200, 503, 503]


@pytest.mark.parametrize("more", [{"ALLOYREF_REQUIRE_KEY": "true"}])
def test_large_entries_are_stored_on_the_thread_by_a_key_that_only_writes(bench: Bench) -> None:
    write_only = {"Authorization": f"Bearer {keys.create(bench.database, 'scale', ('write',))[1]}"}
    entry = {"name": "a", "note": "n" * LARGE}
    drawing = bench.later(FLOW, DRAWN)
    with bench.searches.begun():
        refused = requests.post(
            f"{bench.running.address}/v1/shop/alloys", json=entry, headers=write_only, timeout=SECONDS
        )
        assert refused.status_code == 503
    assert drawing.result().status_code == 200


@pytest.mark.parametrize("wait", [LONG])
def test_the_next_waits_for_a_place_and_has_its_answer(bench: Bench) -> None:
    answers = [bench.later(RECORD, CHARGE.example) for _ in range(4)]
    for _ in answers:
        with bench.searches.begun():
            bench.others_are_answered()
    assert [one.result().status_code for one in answers] == [200] * 4
    assert bench.stored() == 4


def left_behind(bench: Bench) -> None:
    """A charge to be recorded, whose client has left."""
    body = json.dumps(CHARGE.example).encode()
    lines = [f"POST {RECORD} HTTP/1.1", "Host: x", "Content-Type: application/json", f"Content-Length: {len(body)}"]
    lines += [f"{name}: {value}" for name, value in bench.key.items()]
    with socket.create_connection(("127.0.0.1", bench.running.port), timeout=SECONDS) as connection:
        connection.sendall("\r\n".join([*lines, "", ""]).encode() + body)
        with bench.searches.begun():
            connection.close()
            bench.others_are_answered()


@pytest.mark.parametrize("wait", [LONG])
def test_a_client_that_leaves_frees_its_place_and_what_it_began_is_kept(bench: Bench) -> None:
    left_behind(bench)
    after = bench.later("/v1/charge", CHARGE.example)
    with bench.searches.begun():
        assert bench.stored() == 1
    assert after.result().status_code == 200


def test_what_is_searched_for_is_finished_before_the_service_stops(bench: Bench) -> None:
    long = bench.later(RECORD, CHARGE.example)
    with bench.searches.begun():
        bench.running.process.send_signal(signal.SIGTERM)
        while "Shutting down" not in bench.running.log.read_text("utf-8"):
            assert bench.running.process.poll() is None
    assert long.result().status_code == 200
    assert bench.running.process.wait(SECONDS) == 0
    assert bench.stored() == 1


def test_many_at_once_are_answered_as_one_by_one(start: Callable[..., Any]) -> None:
    masses = [f"{20 + number}.5 g" for number in range(24)]
    asked = [{**CHARGE.example, "target": {**CHARGE.example["target"], "mass": mass}} for mass in masses]
    given = {"ALLOYREF_MAX_CHARGES": "4", "ALLOYREF_METRICS": "true", "ALLOYREF_RATE_LIMIT": "1000/minute"}
    with start(**given) as running, ThreadPoolExecutor(12) as pool:
        address = f"{running.address}/v1/charge"
        at_once = pool.map(lambda body: requests.post(address, json=body, timeout=SECONDS).json(), [*asked, *asked])
        first, second = (
            list(at_once)[: len(asked)],
            [requests.post(address, json=body, timeout=SECONDS).json() for body in asked],
        )
        assert first == second
        assert running.faults() == []
