"""Headers that every answer carries, those of the application and those given before it alike."""

from __future__ import annotations

from collections.abc import Collection

from flask import Flask, Response, request

EXPOSED = "Content-Digest, ETag, Link, Location, RateLimit, RateLimit-Policy, Retry-After, X-Request-Id"
# Data are not to be shown in a frame or run as a page; a page may not be framed or moved to another base;
# a drawing has its styles within it. A page that sets its own policy keeps it.
DATA_POLICY = "default-src 'none'; frame-ancestors 'none'"
POLICIES = {
    "text/html": "frame-ancestors 'none'; base-uri 'none'; object-src 'none'",
    "image/svg+xml": f"{DATA_POLICY}; style-src 'unsafe-inline'",
}


def finish(response: Response, method: str, origin: str | None, origins: Collection[str]) -> Response:
    """The same answer with what a browser is to know of it; `origins` are those whose scripts may read it."""
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers.setdefault("Content-Security-Policy", POLICIES.get(response.mimetype or "", DATA_POLICY))
    if not origins:
        return response
    response.vary.add("Origin")
    if origin is not None and origin in origins:
        response.headers["Access-Control-Allow-Origin"] = origin
        response.headers["Access-Control-Expose-Headers"] = EXPOSED
        if method == "OPTIONS":
            response.headers["Access-Control-Allow-Methods"] = response.headers.get("Allow", "GET")
            response.headers["Access-Control-Allow-Headers"] = (
                "Authorization, Content-Type, Idempotency-Key, If-Match, If-None-Match"
            )
            response.headers["Access-Control-Max-Age"] = "600"
    return response


def register(app: Flask, origins: Collection[str]) -> None:
    """Finish each answer of the application."""

    @app.after_request
    def last(response: Response) -> Response:
        return finish(response, request.method, request.headers.get("Origin"), origins)
