"""Each request seen from outside: its id, one line in the log, and counts for Prometheus.

A request is noted when its status is known: most when the application has answered, a bulk request when its rows
are through, and one that the gateway refuses by the gateway.
"""

from __future__ import annotations

import logging
import re
import secrets
from dataclasses import dataclass
from functools import partial
from time import perf_counter

from flask import Flask, Response, g, request
from werkzeug.exceptions import HTTPException

from alloyref.settings import Settings
from alloyref.web.bulk.door import PASSAGE, Passage
from alloyref.web.logs import FIELDS
from alloyref.web.metrics import Metrics

HEADER = "X-Request-Id"
NO_ROUTE = "none"
FORM = re.compile(r"[A-Za-z0-9._-]{1,64}")
log = logging.getLogger("alloyref")


def request_id(given: str | None) -> str:
    """The id of a request: its own, if it cannot break a line of the log, else one made for it.

    >>> request_id("till-7.42"), len(request_id("two words")), len(request_id(None))
    ('till-7.42', 16, 16)
    """
    return given if given is not None and FORM.fullmatch(given) else secrets.token_hex(8)


@dataclass(frozen=True, slots=True)
class Seen:
    """What is noted of a request: no query, in which a key may stand, and the id of the key, never the key."""

    route: str
    method: str
    path: str
    id: str
    begun: float
    key: str | None = None

    def note(self, status: int, settings: Settings, metrics: Metrics | None) -> None:
        """Count it and log it, as the settings ask."""
        seconds = perf_counter() - self.begun
        if metrics is not None:
            metrics.count(self.route, self.method, status, seconds)
        if not settings.log_requests:
            return
        fields = {
            "request": self.id,
            "method": self.method,
            "path": self.path,
            "status": status,
            "ms": round(seconds * 1000, 2),
            "key": self.key,
        }
        words = (self.method, self.path, status, fields["ms"], self.id)
        log.info("%s %s %d %s ms %s key %s", *words, self.key or "none", extra={FIELDS: fields})


def register(app: Flask, settings: Settings, metrics: Metrics | None) -> None:
    """Mark each request first of all, and note it last of all."""

    @app.before_request
    def begin() -> None:
        g.alloyref_begun = perf_counter()
        g.alloyref_request = request_id(request.headers.get(HEADER))

    @app.after_request
    def end(response: Response) -> Response:
        response.headers[HEADER] = g.alloyref_request
        seen = _seen()
        passage: Passage | None = request.environ.get(PASSAGE)
        if passage is not None and passage.run is not None:
            passage.note = partial(seen.note, settings=settings, metrics=metrics)
        else:
            seen.note(response.status_code, settings, metrics)
        return response

    if metrics is not None:

        @app.get("/metrics")
        def read_metrics() -> Response:
            return Response(metrics.text(), content_type=metrics.content_type, headers={"Cache-Control": "no-store"})


def _seen() -> Seen:
    route = request.url_rule.rule if request.url_rule else NO_ROUTE
    key = g.get("alloyref_key")
    return Seen(
        route, request.method, request.path, g.alloyref_request, g.alloyref_begun, key.id if key is not None else None
    )


def route_of(app: Flask, method: str, path: str) -> str:
    """The route that a request would take, for one that the application never gets."""
    try:
        rule, _ = app.url_map.bind("").match(path, method=method, return_rule=True)
    except HTTPException:
        return NO_ROUTE
    return rule.rule
