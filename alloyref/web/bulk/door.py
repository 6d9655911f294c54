"""Bulk requests on the event loop: read as they arrive, answered in short turns, never whole in memory."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Callable, Iterator
from dataclasses import dataclass
from typing import Any

from alloyref.settings import Settings
from alloyref.web.bulk.fastlane import WORTH_BYTES, load_polars
from alloyref.web.bulk.run import BULK, Refusal, Run
from alloyref.web.bulk.spool import Spool
from alloyref.web.problems import MEDIA_TYPE

log = logging.getLogger("alloyref")
PREFIX = "/v1/bulk/"
PROGRESS = 16_384
"""So many bytes must arrive within the time for a body; a slower client is let go."""
PLENTY = 400_000
"""Arrivals are answered together from so many bytes on; a client may send a few at a time."""
HEADERS = [("cache-control", "no-store")]
OF_THE_BODY = frozenset({"content-type", "content-length", "cache-control"})


PASSAGE = "alloyref.bulk"
"""Where the environment of a request holds its `Passage`."""
Answer = tuple[int, list[tuple[str, str]], bytes]
Ask = Callable[[dict[str, Any]], Answer]


@dataclass(slots=True)
class Passage:
    """What the application leaves when it lets a bulk request in: the run that its rows go through."""

    polars: Any
    run: Run | None = None


class Door:
    """Answers the bulk requests of a worker."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._spools: set[Spool] = set()

    def close(self) -> None:
        """Leave no file behind."""
        for spool in self._spools:
            spool.remove()

    async def answer(self, ask: Ask, scope: Any, protocol: Any, length: int) -> None:
        """Answer one request whose body has this length, if the application, asked first, lets it in."""
        spool = Spool()
        self._spools.add(spool)
        body = self._body(protocol, length)
        try:
            passage = Passage(await self._polars(length))
            status, headers, content = ask({PASSAGE: passage})
            try:
                if passage.run is not None:
                    await self._fill(passage.run, body, spool)
            except Refusal as refused:
                status, content, passage.run = refused.status, refused.body(), None
                headers = [*_without_content(headers), ("content-type", MEDIA_TYPE), *HEADERS]
            if passage.run is None:
                # Read to the end first: a client that is still sending would miss the answer.
                async for _ in body:
                    pass
                protocol.response_bytes(status, headers, content)
            else:
                await self._give(passage.run, _without_content(headers), spool, protocol)
        except Slow:
            detail = f"Fewer than {PROGRESS} bytes arrived within {self._settings.body_seconds:g} s."
            _refuse(protocol, Refusal("timeout", detail))
        except Gone as gone:
            log.debug("bulk body not received: %s", gone)
        except Exception:
            log.exception("fault at %s", scope.path)
            _refuse(protocol, Refusal("internal", "The service failed on this request; the fault was logged."))
        finally:
            self._spools.discard(spool)
            spool.remove()

    @staticmethod
    async def _polars(length: int) -> Any:
        """Polars where it pays, loaded beside the event loop."""
        return await asyncio.to_thread(load_polars) if length >= WORTH_BYTES else None

    async def _fill(self, run: Run, body: AsyncIterator[bytes], spool: Spool) -> None:
        async for data in body:
            await self._turns(run.take(data), spool)
        await self._turns(run.end(), spool)

    @staticmethod
    async def _turns(pieces: Iterator[bytes], spool: Spool) -> None:
        """Take the pieces one by one, with a turn for everybody else after each."""
        for piece in pieces:
            spool.put(piece)
            await asyncio.sleep(0)

    @staticmethod
    async def _give(run: Run, more: list[tuple[str, str]], spool: Spool, protocol: Any) -> None:
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
        received, mark, held = 0, PROGRESS, bytearray()
        loop = asyncio.get_running_loop()
        ends = loop.time() + self._settings.body_seconds
        while received < length:
            try:
                async with asyncio.timeout_at(ends):
                    data = await anext(arrivals)
            except TimeoutError:
                raise Slow from None
            except (StopAsyncIteration, RuntimeError) as error:
                raise Gone(f"{received} of {length} bytes: {error}") from None
            received += len(data)
            held += data
            if len(held) >= PLENTY or received == length:
                yield bytes(held)
                held.clear()
                mark = received  # the time that the answering took is not the client's
            if received >= mark:
                mark = received + PROGRESS
                ends = loop.time() + self._settings.body_seconds


def _without_content(headers: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """The headers of an answer that has no body yet, but for what they say of the body."""
    return [pair for pair in headers if pair[0] not in OF_THE_BODY]


def _refuse(protocol: Any, refusal: Refusal) -> None:
    headers = [("content-type", MEDIA_TYPE), *HEADERS, ("x-content-type-options", "nosniff"), ("connection", "close")]
    protocol.response_bytes(refusal.status, headers, refusal.body())


class Slow(Exception):
    """The body does not come in time."""


class Gone(Exception):
    """The client left before the end of its body."""


def is_bulk(scope: Any) -> bool:
    """Whether the body of a request is read here."""
    path = scope.path
    return scope.method == "POST" and path.startswith(PREFIX) and path[len(PREFIX) :] in BULK
