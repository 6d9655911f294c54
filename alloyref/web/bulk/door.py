"""Bulk requests on the event loop: read as they arrive, answered in short turns, never whole in memory."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Callable, Iterator
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any

from alloyref.settings import Settings
from alloyref.web.bulk.fastlane import BLOCK_BYTES, WORTH_BYTES, load_polars
from alloyref.web.bulk.run import BULK, Refusal, Run, Step
from alloyref.web.bulk.spool import Spool
from alloyref.web.memory import BulkRoom
from alloyref.web.problems import FAULT, MEDIA_TYPE

log = logging.getLogger("alloyref")
PREFIX = "/v1/bulk/"
PROGRESS = 16_384
"""So many bytes must arrive within the time for a body; a slower client is let go."""
PLENTY = BLOCK_BYTES
"""Arrivals are answered together from so many bytes on; a client may send a few at a time."""
PAUSE_SECONDS = 0.2
"""A refusal waits no longer than this for more of a body that it does not answer."""
HEADERS = [("cache-control", "no-store")]
OF_THE_BODY = frozenset({"content-type", "content-length", "cache-control"})


PASSAGE = "alloyref.bulk"
"""Where the environment of a request holds its `Passage`."""
Headers = list[tuple[str, str]]
Answer = tuple[int, Headers, bytes]
Ask = Callable[[dict[str, Any]], Answer]


@dataclass(slots=True)
class Passage:
    """What the application leaves when it lets a bulk request in.

    The run that its rows go through, and how its status is noted once that is known.
    """

    polars: Any
    run: Run | None = None
    note: Callable[[int], None] | None = None
    headers: Headers = field(default_factory=list)

    def end(self, status: int) -> None:
        """Note how it ended, once, and only if the application has not done so when it was asked."""
        note, self.note = self.note, None
        if note is not None:
            note(status)


class Door:
    """Answers the bulk requests of a worker."""

    def __init__(self, settings: Settings, room: BulkRoom) -> None:
        self._settings, self._room = settings, room
        self._spools: set[Spool] = set()

    def close(self) -> None:
        """Leave no file behind."""
        for spool in self._spools:
            spool.remove()

    async def answer(self, ask: Ask, scope: Any, protocol: Any, length: int) -> None:
        """Answer one request whose body has this length, if the application, asked first, lets it in."""
        spool = Spool(self._room.most_answer)
        self._spools.add(spool)
        body = self._body(protocol, length)
        passage = Passage(await self._polars(length))
        try:
            status, headers, content = ask({PASSAGE: passage})
            passage.headers = _without_content(headers)
            if passage.run is None:
                await _refuse_read(protocol, body, (status, headers, content))
            else:
                await self._let_in(passage, passage.run, body, spool, protocol)
        except Slow:
            detail = f"Fewer than {PROGRESS} bytes arrived within {self._settings.body_seconds:g} s."
            _refuse(protocol, passage, Refusal("timeout", detail))
        except Gone as gone:
            _refuse(protocol, passage, Refusal("malformed", str(gone)))
        except Exception:
            log.exception("fault at %s", scope.path)
            _refuse(protocol, passage, Refusal("internal", FAULT))
        finally:
            self._spools.discard(spool)
            spool.remove()

    async def read_on(self, protocol: Any, length: int) -> None:
        """Read a body that is not answered, to its end or until it pauses; a refusal in the midst would be missed."""
        await _read_on(self._body(protocol, length))

    async def _let_in(
        self, passage: Passage, run: Run, body: AsyncIterator[bytes], spool: Spool, protocol: Any
    ) -> None:
        try:
            await self._fill(run, body, spool)
        except Refusal as refused:
            spool.remove()
            headers = [*passage.headers, ("content-type", MEDIA_TYPE), *HEADERS, *refused.headers]
            await _refuse_read(protocol, body, (refused.status, headers, refused.body()))
            passage.end(refused.status)
            return
        passage.end(200)
        await self._give(run, passage.headers, spool, protocol)

    async def _polars(self, length: int) -> Any:
        """Polars where it pays and there is room for it, loaded beside the event loop."""
        pays = length >= WORTH_BYTES and self._room.polars
        return await asyncio.to_thread(load_polars) if pays else None

    async def _fill(self, run: Run, body: AsyncIterator[bytes], spool: Spool) -> None:
        async for data in body:
            await self._turns(run.steps(data), spool)
        await self._turns(run.last_steps(), spool)

    @staticmethod
    async def _turns(steps: Iterator[Step], spool: Spool) -> None:
        """Take the pieces one by one, with a turn for everybody else after each."""
        for step in steps:
            if isinstance(step, Future):
                await asyncio.wrap_future(step)
            else:
                spool.put(step)
                await asyncio.sleep(0)

    @staticmethod
    async def _give(run: Run, more: Headers, spool: Spool, protocol: Any) -> None:
        headers = [
            *more,
            ("content-type", run.media),
            ("content-length", str(spool.size)),
            ("content-digest", run.content_digest()),
            *HEADERS,
        ]
        path = spool.file()
        if path is None:
            protocol.response_bytes(200, headers, spool.content())
            return
        # The server sends a file as fast as the client reads; what is handed over in pieces it would pile up.
        protocol.response_file(200, headers, str(path))
        await spool.read_by_others()

    async def _body(self, protocol: Any, length: int) -> AsyncIterator[bytes]:
        """The body in parts of some size; `Slow` and `Gone` where it does not come."""
        arrivals = aiter(protocol)
        received, mark, held, size = 0, PROGRESS, list[bytes](), 0
        loop = asyncio.get_running_loop()
        ends = loop.time() + self._settings.body_seconds
        while received < length:
            try:
                async with asyncio.timeout_at(ends):
                    data = await anext(arrivals)
            except TimeoutError:
                raise Slow from None
            except (StopAsyncIteration, RuntimeError):
                raise Gone(f"The body ended after {received} of {length} bytes.") from None
            received += len(data)
            size += len(data)
            held.append(data)
            if size >= PLENTY or received == length:
                whole, size = b"".join(held), 0
                held.clear()
                yield whole
                mark = received  # the time that the answering took is not the client's
            if received >= mark:
                mark = received + PROGRESS
                ends = loop.time() + self._settings.body_seconds


def _without_content(headers: Headers) -> Headers:
    """The headers of an answer that has no body yet, but for what they say of the body."""
    return [pair for pair in headers if pair[0] not in OF_THE_BODY]


async def _refuse_read(protocol: Any, body: AsyncIterator[bytes], answer: Answer) -> None:
    """Refuse once no more of the body comes."""
    await _read_on(body)
    protocol.response_bytes(*answer)


async def _read_on(body: AsyncIterator[bytes]) -> None:
    with suppress(Gone, Slow, StopAsyncIteration, TimeoutError):
        while True:
            async with asyncio.timeout(PAUSE_SECONDS):
                await anext(body)


def _refuse(protocol: Any, passage: Passage, refusal: Refusal) -> None:
    """Refuse at once, and read no more."""
    headers = [*passage.headers, ("content-type", MEDIA_TYPE), *HEADERS, ("connection", "close")]
    protocol.response_bytes(refusal.status, headers, refusal.body())
    passage.end(refusal.status)


class Slow(Exception):
    """The body does not come in time."""


class Gone(Exception):
    """The body was cut off; its sender may have left, or still read."""


def is_bulk(scope: Any) -> bool:
    """Whether the body of a request is read here."""
    path = scope.path
    return scope.method == "POST" and path.startswith(PREFIX) and path[len(PREFIX) :] in BULK
