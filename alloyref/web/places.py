"""What may take seconds runs on threads beside the event loop, a few at a time, so that nobody else waits for it.

The searches of a charge let other threads run while they search (HiGHS gives up Python's lock).
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from alloyref.services.calculations import CALCULATIONS
from alloyref.web.flow import Flow
from alloyref.web.record import RECORDS

WAIT_SECONDS = 5.0
"""How long a request waits for a place; with the search itself it is answered well within the time to stop."""
MOST_WAITING = 100
BUSY, AFTER_SECONDS = "Many charges are being worked out.", 5
SEARCHING = frozenset(f"/v1/{one.name}" for one in CALCULATIONS.values() if one.searches)
RECOMPUTE = "/recompute"


def may_search(scope: Any) -> bool:
    """Whether a request may search for long: it asks for such a calculation, or asks a recorded one again."""
    path: str = scope.path
    again = path.startswith(RECORDS) and path.endswith(RECOMPUTE)
    return scope.method == "POST" and (path in SEARCHING or again)


class Places:
    """So many pieces of work at a time, each on a thread; the next ones wait for a place, and not for long."""

    def __init__(self, places: int) -> None:
        self._free = asyncio.Semaphore(places)
        self._line = Flow(places + MOST_WAITING, BUSY, AFTER_SECONDS)
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
