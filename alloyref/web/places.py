"""What may take long runs on threads beside the event loop, a few at a time, so that nobody else waits for it.

The searches of a charge take seconds and let other threads run meanwhile (HiGHS gives up Python's lock). Pictures,
settlements and large requests take tenths of a second, as do a few long pages of what the shop has stored, and
threads take turns; on the event loop everybody would wait for as many of them as there are.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from urllib.parse import parse_qs

from alloyref.domain.recovery import RECOVERY
from alloyref.pictures.kinds import PICTURES
from alloyref.services.calculations import CALCULATIONS
from alloyref.web.access import OWN
from alloyref.web.flow import Flow
from alloyref.web.record import RECORDS

WAIT_SECONDS = 5.0
"""How long a request waits for a place; with the search itself it is answered well within the time to stop."""
MOST_WAITING = 100
MANY_CHARGES = "Many charges are being worked out."
MANY_LONG = "Many pictures, settlements, long pages or large requests are being worked out."
AFTER_SECONDS = 5
SEARCHING = frozenset(f"/v1/{one.name}" for one in CALCULATIONS.values() if one.searches)
RECOMPUTE = "/recompute"
LONG = frozenset({f"/v1/{RECOVERY.name}", *(f"/v1/pictures/{name}" for name in PICTURES)})
SHEETS = frozenset({"/order", "/density-test", "/recovery"})
"""Pages that answer a form with a picture, or with a settlement."""
LARGE = 4_000
"""Bytes of an address and a body together from which they take long to read, whatever they ask for."""
PAGE_SIZE = "page_size"
SHORT_PAGE = re.compile("[0-9]{1,2}|100")
"""Sizes of a page that is soon written, up to the usual one: 500 alloys take 20 ms."""


def may_search(scope: Any) -> bool:
    """Whether a request may search for long: it asks for such a calculation, or asks a recorded one again."""
    path: str = scope.path
    again = path.startswith(RECORDS) and path.endswith(RECOMPUTE)
    return scope.method == "POST" and (path in SEARCHING or again)


def may_take_long(scope: Any, length: int) -> bool:
    """Whether a request with a body of so many bytes may take tenths of a second without any search."""
    path: str = scope.path
    if len(path) + len(scope.query_string) + length > LARGE:
        return True
    if scope.method == "OPTIONS":
        return False  # asked by browsers before the request itself, and works nothing out
    return path in LONG or (scope.method == "POST" and path in SHEETS) or _is_long_page(scope)


def _is_long_page(scope: Any) -> bool:
    """Whether a long page of the shop's own is asked for; those of the catalogue are quick, and kept ready."""
    sizes = parse_qs(scope.query_string).get(PAGE_SIZE, ()) if scope.path.startswith(OWN) else ()
    return not all(SHORT_PAGE.fullmatch(size) for size in sizes)


class Places:
    """So many pieces of work at a time, each on a thread; the next ones wait for a place, and not for long."""

    def __init__(self, places: int, busy: str) -> None:
        self._free = asyncio.Semaphore(places)
        self._line = Flow(places + MOST_WAITING, busy, AFTER_SECONDS)
        self._threads = ThreadPoolExecutor(places, "alloyref-place")

    async def run(self, work: Callable[[], Any], protocol: Any) -> Any:
        """What the work gives; None if the client has left before it was begun, `Full` if that would take long."""
        with self._line.room(1):
            left = asyncio.ensure_future(protocol.client_disconnect())
            try:
                await self._place()
            finally:
                has_left = left.done()
                left.cancel()
            try:
                if has_left:
                    return None
                return await asyncio.get_running_loop().run_in_executor(self._threads, work)
            finally:
                self._free.release()

    async def _place(self) -> None:
        try:
            async with asyncio.timeout(WAIT_SECONDS):
                await self._free.acquire()
        except TimeoutError:
            raise self._line.full() from None

    def close(self) -> None:
        """Begin nothing more; what runs is finished before the process ends."""
        self._threads.shutdown(wait=False, cancel_futures=True)
