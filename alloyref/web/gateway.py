"""Between the server and the WSGI application: bodies are read here, bounded in size and time.

A WSGI worker that waits for a slow body can do nothing else. Here the event loop waits, and the application
is called only with a whole request; a client that sends slowly costs a few kilobytes and no worker. What may
take long is called on a thread beside the event loop, everything else on it. Ready answers go out without
calling the application at all.
"""

from __future__ import annotations

import asyncio
import io
import logging
import sys
from collections.abc import Iterable, Mapping
from functools import lru_cache, partial
from time import perf_counter
from typing import Any

from flask import Response

from alloyref.settings import Settings
from alloyref.web.access import holder, may_come_in
from alloyref.web.bulk.door import Door, is_bulk
from alloyref.web.finish import finish
from alloyref.web.flow import MANY_RUNS, Flow, Full
from alloyref.web.limits import Limiter, caller, too_many
from alloyref.web.memory import bulk_room
from alloyref.web.metrics import Metrics
from alloyref.web.observe import HEADER, Seen, request_id, route_of
from alloyref.web.places import MANY_CHARGES, MANY_LONG, Places, kind_of, may_search, may_take_long
from alloyref.web.problems import FAULT, MEDIA_TYPE, TYPES, problem_bytes
from alloyref.web.ready import Headers, ReadyAnswers, matches
from alloyref.web.unread import end_unread

log = logging.getLogger("alloyref")
Answer = tuple[int, Headers, bytes]
NOTHING_MORE: Mapping[str, Any] = {}
NO_BODY = frozenset({"GET", "HEAD", "OPTIONS"})
DEFAULT_ACCEPT = "*/*"
MOST_HEADERS = 16_384
"""Characters that all headers of a request may have: ten times what browsers send."""
UNREADABLE = "\xbf"
"""Stands for a header that the server hands over without its value, because it holds more than visible ASCII."""


class Refused(Exception):
    """A request that the application never gets, and why."""

    def __init__(self, type_: str, detail: str, *headers: tuple[str, str]) -> None:
        super().__init__(detail)
        self.type, self.detail, self.headers = type_, detail, headers


class Gateway:
    """An RSGI application over a WSGI application."""

    def __init__(
        self,
        application: Any,
        settings: Settings,
        metrics: Metrics | None = None,
        limiter: Limiter | None = None,
    ) -> None:
        self._application = application
        self._settings = settings
        self._ready = ReadyAnswers()
        # An answer that tells of its request is not one for the next.
        self._keeps = not settings.cors_origins and not settings.rate_limit
        self._metrics = metrics
        self._limiter = limiter
        self._bodies = Flow(settings.max_in_flight)
        room = bulk_room(settings)
        self._runs = Flow(room.runs, MANY_RUNS)
        self._charges = Places(settings.max_charges, MANY_CHARGES)
        # One place: more threads that hold Python's lock would only keep the event loop waiting.
        self._long = Places(1, MANY_LONG)
        self._door = Door(settings, room)
        self._asked_before = False

    async def __rsgi__(self, scope: Any, protocol: Any) -> None:
        """Answer one request."""
        begun = perf_counter()
        if scope.proto != "http":
            protocol.close()
            return
        if not self._asked_before:
            # Earlier the server has no socket that listens.
            self._asked_before = True
            end_unread()
        try:
            await self._answer(scope, protocol)
        except Full as full:
            busy = Refused("busy", f"{full.why} Ask again in {full.seconds} s.", ("retry-after", str(full.seconds)))
            self._refuse(scope, protocol, busy, begun)
        except Refused as refused:
            self._refuse(scope, protocol, refused, begun)
        except Exception:
            log.exception("fault before the application at %s %s", scope.method, scope.path)
            self._refuse(scope, protocol, Refused("internal", FAULT), begun)

    async def _answer(self, scope: Any, protocol: Any) -> None:
        headers = scope.headers
        if scope.http_version == "1.1" and len(headers.get_all("host")) != 1:
            # A proxy before the service and the service itself could each go by another one (RFC 9112, section 3.2).
            raise Refused("malformed", "An HTTP/1.1 request has one Host header.")
        if not scope.method.isupper():
            # Flask takes post for POST; methods are told apart by case (RFC 9110, section 9.1), and are here.
            raise Refused("malformed", "Methods are written in capitals.")
        if scope.path.startswith("//"):
            # Flask takes //v1 for /v1; what is decided here by the path would be decided by another one.
            raise Refused("not-found", "An address begins with one slash.")
        if scope.method == "GET" and self._keeps:
            # All of Accept, as the application will see it; of less, one client would get another's answer.
            key = (scope.path, scope.query_string, ", ".join(headers.get_all("accept")) or DEFAULT_ACCEPT)
            if self._answer_ready(key, headers.get("if-none-match"), protocol):
                return
            answer = await self._asked(scope, protocol)
            if answer is not None and answer[0] == 200:
                self._ready.keep(key, *answer[1:])
            self._give(answer, protocol)
            return
        if scope.method in NO_BODY:
            self._give(await self._asked(scope, protocol), protocol)
            return
        await self._answer_body(scope, protocol)

    def __rsgi_del__(self, loop: Any) -> None:
        """The worker stops."""
        self._door.close()
        self._charges.close()
        self._long.close()

    async def _answer_body(self, scope: Any, protocol: Any) -> None:
        """Answer a request that brings a body; `Full` where there is no room for it."""
        if is_bulk(scope):
            await self._answer_bulk(scope, protocol)
            return
        length = self._length(scope.headers, self._settings.max_body)
        with self._bodies.room(length):
            content = await self._body(protocol, length)
        self._give(await self._asked(scope, protocol, content), protocol)

    async def _asked(self, scope: Any, protocol: Any, content: bytes = b"") -> Answer | None:
        """The answer, worked out beside the event loop where that may take long; None if nobody waits for it."""
        ask = partial(self._call, scope, content)
        places = self._places_for(scope, len(content))
        whose = None if places is None else await self._whose(scope)
        if places is None or whose is None:
            return ask()
        answer: Answer | None = await places.run(ask, protocol, whose)
        return answer

    def _places_for(self, scope: Any, length: int) -> Places | None:
        """Where a request with a body of so many bytes is worked out; None for the event loop."""
        if may_search(scope):
            return self._charges
        return self._long if may_take_long(scope, length) else None

    @staticmethod
    def _give(answer: Answer | None, protocol: Any) -> None:
        if answer is not None:
            protocol.response_bytes(*answer)

    async def _whose(self, scope: Any) -> tuple[str, str] | None:
        """In whose line a request waits, and for what: the holder of a key has a line apart from other callers.

        None for one that would not be let in; it is refused at once, and keeps nobody's place.
        """
        address = caller(_address(scope))
        if self._limiter is not None and self._limiter.is_over(address):
            return None
        # A database that is away is waited for, and by nobody else.
        comes_in, who = await asyncio.to_thread(self._key_of, scope)
        return (who or address, kind_of(scope)) if comes_in else None

    def _key_of(self, scope: Any) -> tuple[bool, str | None]:
        """Whether a request is let in, and with which key."""
        given = environ(scope, b"")
        try:
            with self._application.request_context(given):
                return may_come_in(), holder()
        except Exception as error:
            # Whoever needs the key is told by the application.
            log.warning("the key of a request could not be looked at: %s", type(error).__name__)
            return True, None

    async def _answer_bulk(self, scope: Any, protocol: Any) -> None:
        length = self._length(scope.headers, self._settings.max_bulk_body)
        try:
            # Rows are answered within the request, so that they may name the shop's own alloys.
            with self._runs.room(1), self._application.request_context(environ(scope, b"")):
                await self._door.answer(partial(self._call, scope, b""), scope, protocol, length)
        except Full:
            # A client that is still sending would miss the answer.
            await self._door.read_on(protocol, length)
            raise

    def _answer_ready(self, key: tuple[str, str, str], if_none_match: str | None, protocol: Any) -> bool:
        found = self._ready.get(key)
        if found is None:
            return False
        if self._metrics is not None:
            self._metrics.ready()
        if if_none_match is not None and matches(if_none_match, found.etag):
            protocol.response_empty(304, found.headers_304)
        else:
            protocol.response_bytes(200, found.headers, found.body)
        return True

    @staticmethod
    def _length(headers: Any, most: int) -> int:
        """The length of the body; `Refused` where it is unknown, or too large.

        A body sent in chunks is refused: the server cannot tell one that was cut off from one that ended.
        """
        declared = headers.get("content-length") or "0"
        if headers.get("transfer-encoding") is not None:
            raise Refused("length-required", "Send the body with a Content-Length, not in chunks.")
        if not declared.isdecimal() or int(declared) > most:
            raise Refused("too-large", f"The body may have at most {most} bytes.")
        return int(declared)

    async def _body(self, protocol: Any, length: int) -> bytes:
        """The whole body; `Refused` where it comes too slowly, or is cut off: its sender may still read."""
        seconds = self._settings.body_seconds
        try:
            async with asyncio.timeout(seconds):
                return bytes(await protocol())
        except TimeoutError:
            raise Refused("timeout", f"The body did not arrive within {seconds:g} s.") from None
        except RuntimeError:
            raise Refused("malformed", f"The body ended before its {length} bytes.") from None

    def _refuse(self, scope: Any, protocol: Any, refused: Refused, begun: float) -> None:
        """Refuse what the application never gets, and count and note it as the application would."""
        refused = self._counted(scope, refused)
        route = route_of(self._application, scope.method, scope.path)
        seen = Seen(route, scope.method, scope.path, request_id(scope.headers.get(HEADER.lower())), begun)
        status, headers, body = self._problem(scope, refused.type, refused.detail)
        headers += [*refused.headers, (HEADER.lower(), seen.id), ("connection", "close")]
        protocol.response_bytes(status, headers, body)
        seen.note(status, self._settings, self._metrics)

    def _problem(self, scope: Any, type_: str, detail: str) -> Answer:
        """A problem that the application does not tell, with the headers that it gives every answer."""
        response = Response(problem_bytes(type_, detail), TYPES[type_].status, content_type=MEDIA_TYPE)
        response.headers["Cache-Control"] = "no-store"
        finish(response, scope.method, scope.headers.get("origin"), self._settings.cors_origins)
        return response.status_code, _lower(response.headers), response.get_data()

    def _counted(self, scope: Any, refused: Refused) -> Refused:
        """The same refusal, counted for whom it is told; that of one who sends too much where this was too much."""
        window = self._limiter.hit(caller(_address(scope))) if self._limiter is not None else None
        if self._limiter is None or window is None:
            return refused
        told = [(name.lower(), value) for name, value in self._limiter.headers(window)]
        if not window.allowed:
            return Refused("too-many", too_many(self._settings.rate_limit), *told)
        return Refused(refused.type, refused.detail, *refused.headers, *told)

    def _call(self, scope: Any, content: bytes, more: Mapping[str, Any] = NOTHING_MORE) -> Answer:
        """Call the WSGI application with a whole request and take its whole answer."""
        try:
            return self._called(scope, content, more)
        except Refused:
            raise
        except Exception:
            log.exception("fault before the application at %s %s", scope.method, scope.path)
            return self._problem(scope, "internal", FAULT)

    def _called(self, scope: Any, content: bytes, more: Mapping[str, Any]) -> Answer:
        answer: list[Any] = []

        def start_response(status: str, headers: Headers, exc_info: Any = None) -> None:
            answer[:] = [int(status[:3]), headers]

        parts: Iterable[bytes] = self._application({**environ(scope, content), **more}, start_response)
        try:
            body = b"".join(parts)
        finally:
            close = getattr(parts, "close", None)
            if close is not None:
                close()
        status, headers = answer
        return status, _lower(headers), body


def environ(scope: Any, content: bytes) -> dict[str, Any]:
    """The WSGI environment (PEP 3333) of a request whose body is already there."""
    host, _, port = scope.server.rpartition(":")
    found: dict[str, Any] = {
        "REQUEST_METHOD": scope.method,
        "SCRIPT_NAME": "",
        # WSGI wants the bytes of the path, one character each (PEP 3333).
        "PATH_INFO": scope.path.encode().decode("latin-1"),
        "QUERY_STRING": scope.query_string.encode().decode("latin-1"),
        "SERVER_NAME": host,
        "SERVER_PORT": port,
        "SERVER_PROTOCOL": f"HTTP/{scope.http_version}",
        "REMOTE_ADDR": _address(scope),
        "CONTENT_LENGTH": str(len(content)),
        "wsgi.version": (1, 0),
        "wsgi.url_scheme": scope.scheme,
        "wsgi.input": io.BytesIO(content),
        "wsgi.input_terminated": True,
        "wsgi.errors": sys.stderr,
        "wsgi.multithread": True,
        "wsgi.multiprocess": True,
        "wsgi.run_once": False,
    }
    found |= _headers(scope.headers)
    return found


def _lower(headers: Iterable[tuple[str, str]]) -> Headers:
    """The headers of an answer as the server takes them.

    It dates every answer itself; a date kept with a ready answer would make it look older and older.
    """
    return [(name.lower(), value) for name, value in headers if name.lower() != "date"]


def _address(scope: Any) -> str:
    """The address that a request came from, without its port."""
    found: str = scope.client.rpartition(":")[0]
    return found


def _headers(headers: Any) -> dict[str, str]:
    """The headers as the environment has them; `Refused` if they are larger than any sensible ones."""
    found: dict[str, str] = {}
    size = 0
    for name, value in headers.items():
        size += len(name) + len(value)
        variable = _variable(name)
        if variable is not None:
            # Among many spaces, of which one says as much, Accept's reader looks for a semicolon again and again.
            read = " ".join(value.split()) if name == "accept" else value
            # A header sent twice is one list (RFC 9110, section 5.3).
            found[variable] = f"{found[variable]}, {read}" if variable in found else read
    if size > MOST_HEADERS:
        raise Refused("headers-too-large", f"The headers may have at most {MOST_HEADERS} characters.")
    # Taken for missing, an unreadable Idempotency-Key would store twice what was to be stored once.
    named = filter(None, map(_variable, headers.keys()))
    return dict.fromkeys(named, UNREADABLE) | found


@lru_cache(maxsize=256)
def _variable(name: str) -> str | None:
    """The variable a header stands in; None for those that describe a body not yet read.

    None too for a name with an underscore, which would pass for the one with a hyphen that a proxy may have removed.
    """
    if name in ("content-length", "transfer-encoding") or "_" in name:
        return None
    return "CONTENT_TYPE" if name == "content-type" else "HTTP_" + name.upper().replace("-", "_")
