"""What may take long runs on threads beside the event loop, a few at a time, so that nobody else waits for it.

The searches of a charge take seconds and let other threads run meanwhile (HiGHS gives up Python's lock). Pictures,
settlements and large requests take tenths of a second, as do a few long pages of what the shop has stored, and
threads take turns; on the event loop everybody would wait for as many of them as there are.
"""

from __future__ import annotations

import asyncio
import re
from collections import deque
from collections.abc import Callable, Hashable
from concurrent.futures import ThreadPoolExecutor
from typing import Any
from urllib.parse import parse_qs

from alloyref.domain.recovery import RECOVERY
from alloyref.pictures.kinds import PICTURES
from alloyref.services.calculations import CALCULATIONS
from alloyref.web.access import OWN
from alloyref.web.flow import Full
from alloyref.web.record import RECORDS

WAIT_SECONDS = 5.0
"""How long a request waits for a place; with the search itself it is answered well within the time to stop."""
MOST_WAITING = 100
MANY_CHARGES = "Many charges are being worked out."
MANY_LONG = "Many pictures, settlements, long pages or large requests are being worked out."
AFTER_SECONDS = 5
SEARCHING = frozenset(f"/v1/{one.name}" for one in CALCULATIONS.values() if one.searches)
RECOMPUTE = "/recompute"
DRAWINGS = frozenset(f"/v1/pictures/{name}" for name in PICTURES)
LONG = DRAWINGS | {f"/v1/{RECOVERY.name}"}
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


def kind_of(scope: Any) -> str:
    """What a long request asks for: drawings, settlements with the sheets, and others."""
    if scope.path in DRAWINGS:
        return "drawing"
    return "settlement" if scope.path in LONG | SHEETS else "other"


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
    """So many pieces of work at a time, each on a thread; the next ones wait for a place, and not for long.

    Who waits stands in a line of one's own, and the lines take turns: however many one caller sends, another's next
    request waits for one of them.
    """

    def __init__(self, places: int, busy: str) -> None:
        self._free, self._busy = places, busy
        self._lines: dict[Hashable, deque[asyncio.Future[None]]] = {}
        self._threads = ThreadPoolExecutor(places, "alloyref-place")

    async def run(self, work: Callable[[], Any], protocol: Any, whose: Hashable = None) -> Any:
        """What the work gives; None if the client has left before it was begun, `Full` if that would take long."""
        left = asyncio.ensure_future(protocol.client_disconnect())
        try:
            await self._place(whose)
        finally:
            has_left = left.done()
            left.cancel()
        try:
            if has_left:
                return None
            return await asyncio.get_running_loop().run_in_executor(self._threads, work)
        finally:
            self._hand_on()

    async def _place(self, whose: Hashable) -> None:
        """Take a free place, or wait for one to be handed on."""
        if self._free:
            self._free -= 1
            return
        turn = self._stand(whose)
        late = asyncio.get_running_loop().call_later(WAIT_SECONDS, self._refuse, turn)
        try:
            await turn
        except asyncio.CancelledError:
            if turn.done() and not turn.cancelled() and turn.exception() is None:
                self._hand_on()  # given in the very moment, to nobody
            raise
        finally:
            late.cancel()

    def _stand(self, whose: Hashable) -> asyncio.Future[None]:
        """The last in that line; where there is no room for more, the last of the longest line has to go."""
        waiting = {name: [turn for turn in line if not turn.done()] for name, line in self._lines.items()}
        self._lines = {name: deque(line) for name, line in waiting.items() if line}
        if sum(map(len, self._lines.values())) >= MOST_WAITING:
            longest = max(self._lines, key=lambda name: len(self._lines[name]))
            if len(self._lines.get(whose, ())) >= len(self._lines[longest]):
                raise self._full()
            self._refuse(self._lines[longest].pop())
        turn: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._lines.setdefault(whose, deque()).append(turn)
        return turn

    def _hand_on(self) -> None:
        """Give a place that is free again to the first of the line whose turn it is."""
        for whose in tuple(self._lines):
            line = self._lines.pop(whose)
            while line:
                turn = line.popleft()
                if not turn.done():
                    if line:
                        self._lines[whose] = line
                    turn.set_result(None)
                    return
        self._free += 1

    def _refuse(self, turn: asyncio.Future[None]) -> None:
        if not turn.done():
            turn.set_exception(self._full())

    def _full(self) -> Full:
        return Full(self._busy, AFTER_SECONDS)

    def close(self) -> None:
        """Begin nothing more; what runs is finished before the process ends."""
        self._threads.shutdown(wait=False, cancel_futures=True)
