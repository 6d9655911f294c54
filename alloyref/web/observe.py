"""Each request seen from outside: its id, one line in the log, and counts for Prometheus."""

from __future__ import annotations

import logging
import re
import secrets
from time import perf_counter

from flask import Flask, Response, g, request

from alloyref.settings import Settings
from alloyref.web.logs import FIELDS
from alloyref.web.metrics import Metrics

HEADER = "X-Request-Id"
FORM = re.compile(r"[A-Za-z0-9._-]{1,64}")
log = logging.getLogger("alloyref")


def register(app: Flask, settings: Settings, metrics: Metrics | None) -> None:
    """Mark each request first of all, and note it last of all."""

    @app.before_request
    def begin() -> None:
        g.alloyref_begun = perf_counter()
        given = request.headers.get(HEADER, "")
        # An id from outside goes into the log, so only one that cannot break a line is taken over.
        g.alloyref_request = given if FORM.fullmatch(given) else secrets.token_hex(8)

    @app.after_request
    def end(response: Response) -> Response:
        response.headers[HEADER] = g.alloyref_request
        seconds = perf_counter() - g.alloyref_begun
        if metrics is not None:
            route = request.url_rule.rule if request.url_rule else "none"
            metrics.count(route, request.method, response.status_code, seconds)
        if settings.log_requests:
            _note(response, seconds)
        return response

    if metrics is not None:

        @app.get("/metrics")
        def read_metrics() -> Response:
            return Response(metrics.text(), content_type=metrics.content_type, headers={"Cache-Control": "no-store"})


def _note(response: Response, seconds: float) -> None:
    """One line: the path without its query, in which a key may stand, and the id of the key, never the key."""
    key = g.get("alloyref_key")
    fields = {
        "request": g.alloyref_request,
        "method": request.method,
        "path": request.path,
        "status": response.status_code,
        "ms": round(seconds * 1000, 2),
        "key": key.id if key else None,
    }
    words = (request.method, request.path.encode("ascii", "backslashreplace").decode(), response.status_code)
    log.info("%s %s %d %s", *words, g.alloyref_request, extra={FIELDS: fields})
