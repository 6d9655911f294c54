"""Who asks: the key of a request, checked once, and what an answer that rests on it may be kept by."""

from __future__ import annotations

import re

from flask import Flask, Response, g, request

from alloyref.shop import keys
from alloyref.shop.errors import KeyRefused, ScopeMissing, Unavailable
from alloyref.shop.keys import READ, Key
from alloyref.web.service import service

PARAMETER = "key"
READS = ("GET", "HEAD")
OWN = "/v1/shop/"
NO_KEY = (
    "A key is needed here: Authorization: Bearer KEY, or in the address of a cell key=KEY. alloyref keys create "
    "makes one, with --in-query for a cell."
)
# What tells a caller how to get in, and a supervisor how things stand; all else is closed if keys are required.
OPEN = re.compile(r"/(healthz|readyz|metrics|openapi\.(json|yaml)|v1/problems(/.*)?|docs(/.*)?|assets/.*)?")


def key_with(scope: str) -> Key:
    """The key of this request, if it has the scope; `KeyRefused` or `ScopeMissing` otherwise."""
    found = good_key()
    if scope not in found.scopes:
        raise ScopeMissing(scope)
    return found


def let_in() -> None:
    """`KeyRefused` or `ScopeMissing` where the settings ask for a key and this request shows none that will do."""
    # OPTIONS stays open: a browser and a spreadsheet send it without any key first.
    if not service().settings.require_key or request.method == "OPTIONS" or OPEN.fullmatch(request.path):
        return
    if request.path.startswith(OWN):
        good_key()  # each of these asks for its scope itself: a key that only writes may write
    else:
        key_with(READ)


def may_come_in() -> bool:
    """Whether this request is let in, to read the shop's own too; a database that is away is told of later."""
    try:
        let_in()
        if request.method in READS and request.path.startswith(OWN):
            key_with(READ)
    except (KeyRefused, ScopeMissing):
        return False
    except Unavailable:
        pass
    return True


def holder() -> str | None:
    """The id of the key that this request shows, if it shows a good one and that can be seen now."""
    if "Authorization" not in request.headers and PARAMETER not in request.args:
        return None
    try:
        return good_key().id
    except (KeyRefused, Unavailable):
        return None


def good_key() -> Key:
    """The key of this request, whatever its scopes, or `KeyRefused`.

    From then on the answer is the holder's own: no shared cache may keep it.
    """
    found: Key | None = g.get("alloyref_key")
    g.alloyref_private = True
    if found is None:
        found = g.alloyref_key = _once_checked()
    return found


def _once_checked() -> Key:
    """Checked once in a request; one of many rows may ask again and again, and is told the same."""
    refused: KeyRefused | None = g.get("alloyref_refused")
    if refused is not None:
        # Raised again as it is, its traceback would grow by the frames of each row, and hold them all.
        raise refused.with_traceback(None)
    try:
        return _checked()
    except KeyRefused as error:
        g.alloyref_refused = error
        raise


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
    raise KeyRefused(NO_KEY)


def register(app: Flask) -> None:
    """Ask for a key everywhere if the settings say so, and keep private answers out of shared caches."""
    app.before_request(let_in)

    @app.after_request
    def keep_private(response: Response) -> Response:
        if g.get("alloyref_private") or PARAMETER in request.args:
            response.vary.add("Authorization")
            if response.headers.get("Cache-Control") != "no-store":
                response.headers["Cache-Control"] = "private, no-cache"
        return response
