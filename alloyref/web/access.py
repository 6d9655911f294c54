"""Who asks: the key of a request, checked once, and what an answer that rests on it may be kept by."""

from __future__ import annotations

from flask import Flask, Response, g, request

from alloyref.shop import keys
from alloyref.shop.errors import KeyRefused, ScopeMissing
from alloyref.shop.keys import READ, Key
from alloyref.web.service import service

PARAMETER = "key"
READS = ("GET", "HEAD")
# What the caller must be able to read to find out why nothing else can be read.
OPEN = ("/v1/problems",)


def key_with(scope: str) -> Key:
    """The key of this request, if it has the scope; `KeyRefused` or `ScopeMissing` otherwise.

    From then on the answer is the holder's own: no shared cache may keep it.
    """
    found: Key | None = g.get("alloyref_key")
    g.alloyref_private = True
    if found is None:
        found = g.alloyref_key = _checked()
    if scope not in found.scopes:
        raise ScopeMissing(scope)
    return found


def _checked() -> Key:
    database = service().database
    header, parameter = request.headers.get("Authorization"), request.args.get(PARAMETER)
    if header is not None:
        scheme, _, token = header.partition(" ")
        if scheme.lower() != "bearer":
            raise KeyRefused("Show the key as Authorization: Bearer KEY.", "key-unknown")
        return keys.check(database, token.strip())
    if parameter is not None and request.method in READS:
        return keys.check(database, parameter, in_query=True)
    raise KeyRefused("A key is needed here: Authorization: Bearer KEY. alloyref keys create makes one.")


def register(app: Flask, *, require_key: bool) -> None:
    """Ask for a key everywhere if the settings say so, and keep private answers out of shared caches."""

    @app.before_request
    def ask() -> None:
        # OPTIONS stays open: a browser and a spreadsheet send it without any key first.
        open_to_all = request.method == "OPTIONS" or request.path.startswith(OPEN)
        if require_key and request.path.startswith("/v1/") and not open_to_all:
            key_with(READ)

    @app.after_request
    def keep_private(response: Response) -> Response:
        if g.get("alloyref_private") or PARAMETER in request.args:
            response.vary.add("Authorization")
            if response.headers.get("Cache-Control") != "no-store":
                response.headers["Cache-Control"] = "private, no-cache"
        return response
