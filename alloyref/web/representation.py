"""Which form an answer takes (JSON, csv, text), and the headers that let caches keep it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from flask import Flask, Request, Response, request
from werkzeug.datastructures import MIMEAccept
from werkzeug.exceptions import RequestHeaderFieldsTooLarge
from werkzeug.utils import cached_property

from alloyref.domain.errors import InvalidInput, nearest
from alloyref.domain.numbers import COMMA, POINT
from alloyref.settings import Settings

JSON, CSV, TEXT, HTML = "application/json", "text/csv", "text/plain", "text/html"
ANY = "*/*"
MOST_ACCEPT = 1000
"""Characters of Accept: several times what browsers send. Each type in it is compared with each that is offered."""
SVG, PNG = "image/svg+xml", "image/png"
YAML = "application/yaml"
"""RFC 9512."""
FORMATS = {"json": JSON, "csv": CSV, "text": TEXT, "svg": SVG, "png": PNG}
CONTENT_TYPES = {
    JSON: JSON,
    CSV: "text/csv; charset=utf-8; header=present",
    TEXT: "text/plain; charset=utf-8",
    HTML: "text/html; charset=utf-8",
    SVG: SVG,
    PNG: PNG,
    YAML: YAML,
}


class BriefRequest(Request):
    """A request whose Accept is read only where it is of a sensible length."""

    @cached_property
    def accept_mimetypes(self) -> MIMEAccept:
        """The media types that the caller takes; none where Accept is too long, so that its refusal is cheap too."""
        return MIMEAccept() if accept_is_long(self) else super().accept_mimetypes


def accept_is_long(of: Request) -> bool:
    """Whether Accept is longer than is read."""
    return len(of.environ.get("HTTP_ACCEPT", "")) > MOST_ACCEPT


def register(app: Flask) -> None:
    """Refuse what brings a longer Accept than is read."""

    @app.before_request
    def refuse_long_accept() -> None:
        if accept_is_long(request):
            raise RequestHeaderFieldsTooLarge(f"Accept may have at most {MOST_ACCEPT} characters.")


def chosen(offered: Sequence[str]) -> str:
    """The media type to answer with: `format=` first, else the best match of Accept, else the first offered."""
    accept = request.environ.get("HTTP_ACCEPT", ANY)
    if not request.query_string and accept in (ANY, offered[0]):
        return offered[0]
    asked = request.args.get("format")
    if len(request.args.getlist("format")) > 1:
        raise InvalidInput.of("duplicate", "format is given twice.", "/format")
    if asked is not None:
        names = [name for name, media in FORMATS.items() if media in offered]
        if asked not in names:
            near = nearest(asked, names)
            raise InvalidInput.of("not-an-option", f"format is one of: {', '.join(names)}.", "/format", near or names)
        return FORMATS[asked]
    best = request.accept_mimetypes.best_match(offered, default=offered[0])
    return best or offered[0]


def decimal_mark() -> str:
    """How csv and text write the decimal mark, and numbers in the query may: `decimal=,` where a comma is usual."""
    asked = request.args.get("decimal", POINT) if request.query_string else POINT
    if asked not in (POINT, COMMA):
        raise InvalidInput.of("not-an-option", "decimal is . or ,", "/decimal", (POINT, COMMA))
    return asked


def strong_etag(body: bytes) -> str:
    """A strong validator: it changes whenever a byte of the body does."""
    return hashlib.sha256(body).hexdigest()[:32]


def reference_response(body: bytes, media: str, settings: Settings) -> Response:
    """An answer that holds until the data change: cacheable by any proxy, with a validator and 304."""
    response = Response(body, content_type=CONTENT_TYPES[media])
    response.set_etag(strong_etag(body))
    response.headers["Cache-Control"] = f"public, max-age={settings.cache_seconds}"
    response.headers["Vary"] = "Accept"
    # Only If-None-Match is for reads here; If-Match guards writes.
    asked: dict[str, str] = {
        name: request.environ[name] for name in ("REQUEST_METHOD", "HTTP_IF_NONE_MATCH") if name in request.environ
    }
    response.make_conditional(asked, accept_ranges=False)
    return response
