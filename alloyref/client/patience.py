"""How long, and what, the client asks again: urllib3's own policy, bounded by the clock."""

from __future__ import annotations

import time
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

from urllib3.connectionpool import ConnectionPool
from urllib3.exceptions import (
    ConnectTimeoutError,
    InvalidHeader,
    MaxRetryError,
    NameResolutionError,
    NewConnectionError,
    ProtocolError,
    ReadTimeoutError,
    ResponseError,
)
from urllib3.response import BaseHTTPResponse
from urllib3.util import Retry

NOT_NOW = frozenset({429, 503})
"""With these the service says that it did not do what was asked."""
REPEATABLE = frozenset({"GET", "HEAD", "POST"})
"""What is asked again even after it may have been received. A POST of this client either stores nothing or carries
an Idempotency-Key. PUT and DELETE are conditional here: repeated after they were done, they would be refused as
stale, which tells the caller something untrue."""
USUAL: dict[str, Any] = {
    "total": None,
    "allowed_methods": REPEATABLE,
    "status_forcelist": NOT_NOW,
    "backoff_factor": 0.1,
    "backoff_max": 5.0,
    "backoff_jitter": 0.1,
    "raise_on_status": False,
}


class Patience(Retry):
    """Asks again on 429 and 503, as Retry-After says, and while the service is away.

    No attempt begins later than `seconds` after the first one failed; if Retry-After asks for more, the refusal is
    raised at once. What else is given goes to `urllib3.util.Retry`. `sleep` and `clock` are there for tests.
    """

    def __init__(
        self,
        seconds: float = 60.0,
        *,
        sleep: Callable[[float], None] = time.sleep,
        clock: Callable[[], float] = time.monotonic,
        **options: Any,
    ) -> None:
        super().__init__(**{**USUAL, **options})
        self._seconds, self._sleep, self._clock = seconds, sleep, clock
        self._until: float | None = None
        self._pause = 0.0

    def new(self, **options: Any) -> Self:
        """The same with other counters."""
        made = super().new(**options)
        made._seconds, made._sleep, made._clock, made._until = self._seconds, self._sleep, self._clock, self._until
        return made

    def is_retry(self, method: str, status_code: int, has_retry_after: bool = False) -> bool:
        """Whether a response is worth asking again: what was not done may be repeated whatever it was."""
        return status_code in NOT_NOW

    def increment(
        self,
        method: str | None = None,
        url: str | None = None,
        response: BaseHTTPResponse | None = None,
        error: Exception | None = None,
        _pool: ConnectionPool | None = None,
        _stacktrace: TracebackType | None = None,
    ) -> Self:
        """The policy after one more failure; `MaxRetryError` ends it where asking again is of no use or too late."""
        after = super().increment(method, url, response, error, _pool, _stacktrace)
        now = self._clock()
        after._until = now + self._seconds if self._until is None else self._until
        asked = None if response is None else self.get_retry_after(response)
        after._pause = asked or after.get_backoff_time()
        if now + after._pause >= after._until or not _passes(error):
            reason = error or ResponseError(f"status {response.status if response else 'unknown'}")
            raise MaxRetryError(_pool, url or "", reason)  # type: ignore[arg-type]  # as urllib3 itself does
        return after

    def get_retry_after(self, response: BaseHTTPResponse) -> float | None:
        """Seconds that Retry-After asks for, as a number or a date; nonsense is as good as none."""
        try:
            found = super().get_retry_after(response)
            return None if found is None else float(found)
        except (InvalidHeader, ValueError, OverflowError):
            return None

    def sleep(self, response: BaseHTTPResponse | None = None) -> None:
        """Wait before the next attempt."""
        if self._pause > 0:
            self._sleep(self._pause)


def _passes(error: Exception | None) -> bool:
    """Whether a failure may pass by itself. A wrong name or certificate does not."""
    if error is None:
        return True
    passing = (NewConnectionError, ConnectTimeoutError, ProtocolError, ReadTimeoutError)
    return isinstance(error, passing) and not isinstance(error, NameResolutionError)
