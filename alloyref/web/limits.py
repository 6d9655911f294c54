"""How many requests one address may send, if the settings limit it.

The headers are those of draft-ietf-httpapi-ratelimit-headers-10. Counts are kept by each worker on its own, unless a
store is set that all of them share.
"""

from __future__ import annotations

import logging
import time
from dataclasses import dataclass
from ipaddress import IPv4Address, ip_address, ip_network
from math import ceil
from typing import Any

from flask import Flask, Response, g, request
from werkzeug.exceptions import TooManyRequests

from alloyref.settings import Settings

# A supervisor must get an answer, and these cost next to nothing.
EXEMPT = frozenset({"/healthz", "/readyz", "/metrics"})
# A worker answers nearly all requests on one thread, so it may wait for no store long, nor for each request anew.
STORE_SECONDS = 1
REST_SECONDS = 5
log = logging.getLogger("alloyref")


@dataclass(frozen=True, slots=True)
class Window:
    """Where one address stands: whether this request may pass, how many are left, and for how many seconds."""

    allowed: bool
    remaining: int
    reset: int


class Limiter:
    """Counts the requests of each address in a moving window."""

    def __init__(self, limit: str, store: str) -> None:
        from limits import parse  # noqa: PLC0415 - only where a limit is set
        from limits.storage import storage_from_string  # noqa: PLC0415
        from limits.strategies import MovingWindowRateLimiter  # noqa: PLC0415

        self._limit = parse(limit)
        storage = storage_from_string(store, wrap_exceptions=True, **_bounds(store))
        self._strategy = MovingWindowRateLimiter(storage)
        self._rests_until = 0.0
        self.policy = f'"address";q={self._limit.amount};w={self._limit.get_expiry()}'

    def hit(self, address: str) -> Window | None:
        """Count one request; None if the shared store does not answer, and then nobody is held up."""
        from limits.errors import StorageError  # noqa: PLC0415

        if time.monotonic() < self._rests_until:
            return None
        try:
            allowed = self._strategy.hit(self._limit, address)
            now = self._strategy.get_window_stats(self._limit, address)
        except StorageError as error:
            self._rest(error)
            return None
        return Window(allowed, max(0, now.remaining), max(1, ceil(now.reset_time - time.time())))

    def is_over(self, address: str) -> bool:
        """Whether a request would be too much, without counting it."""
        from limits.errors import StorageError  # noqa: PLC0415

        try:
            return time.monotonic() >= self._rests_until and not self._strategy.test(self._limit, address)
        except StorageError as error:
            self._rest(error)
            return False

    def _rest(self, error: Any) -> None:
        """Leave a store that does not answer alone for a while."""
        self._rests_until = time.monotonic() + REST_SECONDS
        log.warning("the store of the rate limit does not answer: %s", type(error.storage_error).__name__)

    def headers(self, window: Window) -> list[tuple[str, str]]:
        """What a caller is told of where it stands."""
        told = [
            ("RateLimit-Policy", self.policy),
            ("RateLimit", f'"address";r={window.remaining};t={window.reset}'),
        ]
        return told if window.allowed else [*told, ("Retry-After", str(window.reset))]


def caller(address: str) -> str:
    """Whom requests from an address are counted for: itself, or its /64, of which one IPv6 host has every address.

    >>> caller("192.0.2.7"), caller("2001:db8::1:2:3:4"), caller("[2001:db8::9]"), caller("::ffff:192.0.2.7")
    ('192.0.2.7', '2001:db8::/64', '2001:db8::/64', '192.0.2.7')
    """
    try:
        found = ip_address(address.strip("[]").partition("%")[0])
    except ValueError:
        return address
    if isinstance(found, IPv4Address):
        return str(found)
    return str(found.ipv4_mapped or ip_network((found, 64), strict=False))


def _bounds(store: str) -> dict[str, Any]:
    """How long the store's client may take to connect and to answer, in the words of that client."""
    scheme = store.partition("://")[0].partition("+")[0]
    if scheme in ("redis", "rediss", "valkey"):
        # Without `retry` the client would try a silent store again and again, for some ten seconds.
        return {"socket_connect_timeout": STORE_SECONDS, "socket_timeout": STORE_SECONDS, "retry": None}
    if scheme == "mongodb":
        waits = ("serverSelectionTimeoutMS", "connectTimeoutMS", "socketTimeoutMS")
        return dict.fromkeys(waits, STORE_SECONDS * 1000)
    return {}


def too_many(limit: str) -> str:
    """What a caller is told who sent more than that."""
    return f"At most {limit.replace('/', ' requests a ')}; wait a little."


def register(app: Flask, limiter: Limiter | None, settings: Settings) -> None:
    """Refuse what is too much (429), and tell everyone where they stand."""
    if limiter is None:
        return

    @app.before_request
    def count() -> None:
        if request.method == "OPTIONS" or request.path in EXEMPT:
            return
        g.alloyref_window = limiter.hit(caller(request.remote_addr or ""))
        if g.alloyref_window is not None and not g.alloyref_window.allowed:
            raise TooManyRequests(too_many(settings.rate_limit))

    @app.after_request
    def tell(response: Response) -> Response:
        window: Any = g.get("alloyref_window")
        if window is not None:
            response.headers.update(limiter.headers(window))
        return response
