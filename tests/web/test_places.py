"""Which requests may search for long, and who gets a place."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Event
from typing import Any

import pytest
from flask import Flask

from alloyref.web.bulk.run import BULK
from alloyref.web.flow import Full
from alloyref.web.places import LARGE, MANY_LONG, MOST_WAITING, Places, kind_of, may_search, may_take_long
from tests.own_loop import in_own_loop


@dataclass(frozen=True)
class Scope:
    """What the gateway sees of a request."""

    method: str
    path: str
    query_string: str = ""


def test_what_may_search_is_found_by_its_address(app: Flask) -> None:
    found = {
        (method, rule.rule)
        for rule in app.url_map.iter_rules()
        for method in rule.methods or ()
        if may_search(Scope(method, rule.rule))
    }
    assert found == {("POST", "/v1/charge"), ("POST", "/v1/shop/records/<name>/recompute")}


def test_what_may_take_long_is_found_by_its_address(app: Flask) -> None:
    found = {
        rule.rule
        for rule in app.url_map.iter_rules()
        if may_take_long(Scope("POST" if "POST" in (rule.methods or ()) else "GET", rule.rule), 0)
    }
    pictures = {"/v1/pictures/alloy-triangle", "/v1/pictures/density-karat", "/v1/pictures/charge-flow"}
    assert found == {*pictures, "/v1/recovery", "/order", "/density-test", "/recovery"}
    # A form that nobody has filled in is no sheet, and is kept ready.
    assert not may_take_long(Scope("GET", "/recovery"), 0)
    assert not may_take_long(Scope("OPTIONS", "/v1/recovery"), 0)


def test_a_large_request_may_take_long_whatever_it_asks_for() -> None:
    order, reads = Scope("POST", "/v1/order"), "/v1/alloys"
    assert not may_take_long(order, LARGE // 2)
    assert may_take_long(order, LARGE)
    assert not may_take_long(Scope("GET", reads, "q=gold"), 0)
    assert may_take_long(Scope("GET", reads, "q" * LARGE), 0)
    assert may_take_long(Scope("GET", f"/{'%' * LARGE}"), 0)


@pytest.mark.parametrize("path", ["/v1/shop/alloys", "/v1/shop/prices", "/v1/shop/records", "/v1/shop/history"])
def test_a_long_page_of_the_shops_own_may_take_long(path: str) -> None:
    for query in (
        "page_size=500",
        "page=2&page_size=101",
        "page%5fsize=500",
        "page_size=1&page_size=500",
        "page_size=5e2",
    ):
        assert may_take_long(Scope("GET", path, query), 0), query
    for query in ("", "page=500", "page_size=100", "page_size=7&page=500", "other_page_size=500"):
        assert not may_take_long(Scope("GET", path, query), 0), query
    assert not may_take_long(Scope("GET", "/v1/alloys", "page_size=500"), 0)


def test_rows_do_not_search() -> None:
    assert not [one.name for one in BULK.values() if one.searches]


def test_nothing_else_searches() -> None:
    """Every other calculation, row and picture does without the solver."""
    code = """
import sys
from alloyref.pictures.kinds import PICTURES
from alloyref.services.calculations import CALCULATIONS
from alloyref.settings import Settings
from alloyref.web.app import create_app
client = create_app(Settings()).test_client()
for one in CALCULATIONS.values():
    if not one.searches:
        assert client.post(f"/v1/{one.name}", json=one.example).status_code == 200, one.name
        client.post(f"/v1/bulk/{one.name}", data="nothing", content_type="text/csv")
for one in PICTURES.values():
    if one.query:
        assert client.get(f"/v1/pictures/{one.name}", query_string=one.example).status_code == 200, one.name
    else:
        assert client.post(f"/v1/pictures/{one.name}", json=one.example).status_code == 200, one.name
assert "highspy" not in sys.modules
assert client.post("/v1/charge", json=CALCULATIONS["charge"].example).status_code == 200
assert "highspy" in sys.modules
"""
    subprocess.run([sys.executable, "-c", code], check=True)


@dataclass
class Client:
    """A client that may leave."""

    gone: asyncio.Event = field(default_factory=asyncio.Event)

    async def client_disconnect(self) -> None:
        """Wait until it leaves."""
        await self.gone.wait()


@dataclass
class Work:
    """Work that goes on when it is told to."""

    begun: Event = field(default_factory=Event)
    go_on: Event = field(default_factory=Event)

    def __call__(self) -> str:
        """Begin, wait, and be done."""
        self.begun.set()
        assert self.go_on.wait(20)
        return "done"


def in_places(check: Callable[[Places], Any]) -> None:
    """Check one place, in a loop of its own."""

    async def checked() -> None:
        places = Places(1, MANY_LONG)
        try:
            await check(places)
        finally:
            places.close()

    in_own_loop(checked())


async def begun(places: Places, work: Work) -> asyncio.Task[Any]:
    """A piece of work that has the place."""
    running = asyncio.ensure_future(places.run(work, Client()))
    await asyncio.to_thread(work.begun.wait, 20)
    return running


def test_who_has_left_is_passed_over() -> None:
    async def check(places: Places) -> None:
        first, second, third, leaves = Work(), Work(), Work(), Client()
        running = await begun(places, first)
        others = [asyncio.ensure_future(places.run(work, who)) for work, who in ((second, leaves), (third, Client()))]
        await asyncio.sleep(0)
        leaves.gone.set()
        first.go_on.set()
        third.go_on.set()
        assert [await running, *[await one for one in others]] == ["done", None, "done"]
        assert not second.begun.is_set()

    in_places(check)


def test_the_line_is_bounded_too() -> None:
    async def check(places: Places) -> None:
        first = Work()
        running = await begun(places, first)
        waiting = [asyncio.ensure_future(places.run(str, Client())) for _ in range(MOST_WAITING)]
        await asyncio.sleep(0)
        with pytest.raises(Full) as refused:
            await places.run(str, Client())
        assert refused.value.seconds > 0
        first.go_on.set()
        assert {await running, *[await one for one in waiting]} == {"done", ""}

    in_places(check)


async def stand(places: Places, whose: str, *works: Work) -> list[asyncio.Task[Any]]:
    """These wait for the place, one after the other."""
    waiting = [asyncio.ensure_future(places.run(work, Client(), whose)) for work in works]
    await asyncio.sleep(0)
    return waiting


def test_the_lines_take_turns() -> None:
    async def check(places: Places) -> None:
        first, many, one = Work(), [Work() for _ in range(3)], Work()
        running = await begun(places, first)
        waiting = [*await stand(places, "many", *many), *await stand(places, "one", one)]
        order = []
        first.go_on.set()
        for name, work in (("many", many[0]), ("one", one), ("many", many[1]), ("many", many[2])):
            await asyncio.to_thread(work.begun.wait, 20)
            order.append((name, [other.begun.is_set() for other in (*many, one)]))
            work.go_on.set()
        assert [begun for _, begun in order] == [
            [True, False, False, False],
            [True, False, False, True],
            [True, True, False, True],
            [True, True, True, True],
        ]
        assert {await one for one in (running, *waiting)} == {"done"}

    in_places(check)


def test_who_fills_the_room_makes_room_for_others() -> None:
    async def check(places: Places) -> None:
        first, works, other = Work(), [Work() for _ in range(MOST_WAITING)], Work()
        running = await begun(places, first)
        waiting = await stand(places, "many", *works)
        waiting += await stand(places, "one", other)
        with pytest.raises(Full):
            await waiting[MOST_WAITING - 1]
        for work in (first, *works, other):
            work.go_on.set()
        given = await asyncio.gather(running, *waiting, return_exceptions=True)
        assert given.count("done") == MOST_WAITING + 1
        assert given[-1] == "done"

    in_places(check)


def test_a_place_given_to_one_that_is_stopped_meanwhile_is_handed_on() -> None:
    async def check(places: Places) -> None:
        first, second = Work(), Work()
        running = await begun(places, first)
        (stopped,) = await stand(places, "many", second)
        first.go_on.set()
        # What waits is given the place and stopped in the same turn of the loop.
        running.add_done_callback(lambda _: stopped.cancel())
        await running
        with pytest.raises(asyncio.CancelledError):
            await stopped
        assert await places.run(lambda: 1, Client()) == 1

    in_places(check)


def test_drawings_settlements_and_other_requests_stand_apart() -> None:
    paths = ("/v1/pictures/charge-flow", "/v1/recovery", "/order", "/v1/order", "/v1/charge")
    kinds = [kind_of(Scope("POST", path)) for path in paths]
    assert kinds == ["drawing", "settlement", "settlement", "other", "other"]


def test_a_fault_frees_its_place() -> None:
    def fails() -> None:
        raise ValueError

    async def check(places: Places) -> None:
        with pytest.raises(ValueError, match=r"^$"):
            await places.run(fails, Client())
        assert await places.run(lambda: 1, Client()) == 1

    in_places(check)
