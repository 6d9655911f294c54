"""Every error as a problem document (RFC 9457): what happened, where, and what would have been right."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

import orjson
from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException, MethodNotAllowed, NotFound, RequestEntityTooLarge

from alloyref.domain.errors import (
    AlloyrefError,
    InvalidInput,
    Issue,
    NotAvailable,
    UnknownName,
    did_you_mean,
    nearest,
)
from alloyref.shop.errors import (
    ConditionMissing,
    KeyRefused,
    RepeatDiffers,
    ScopeMissing,
    ShopError,
    Stale,
    Taken,
    Unavailable,
)
from alloyref.web.pages.problem_page import asks_for_a_page, problem_page
from alloyref.web.schemas.fields import MOST_ISSUES

MEDIA_TYPE = "application/problem+json"
FAULT = "The service failed on this request; the fault was logged."
RETRY_AFTER_SECONDS = 2
log = logging.getLogger("alloyref")


@dataclass(frozen=True, slots=True)
class ProblemType:
    """A kind of problem; served at `/v1/problems/{id}`, which is its type URI."""

    id: str
    status: int
    title: str
    meaning: str


TYPES = {
    one.id: one
    for one in (
        ProblemType(
            "malformed",
            400,
            "The request cannot be read",
            "The body is not JSON, or the request breaks HTTP.",
        ),
        ProblemType(
            "key-needed", 401, "A key is needed", "No key was shown, or none that is good; see WWW-Authenticate."
        ),
        ProblemType(
            "scope-needed", 403, "Not with this key", "The key is good, but has not the scope that this needs."
        ),
        ProblemType(
            "not-found",
            404,
            "Nothing is here",
            "No such address, or no entry of that id; near ones are named.",
        ),
        ProblemType("not-available", 404, "Not known", "The entry exists, but nothing published gives this value."),
        ProblemType(
            "method-not-allowed", 405, "Not this method", "The header Allow lists the methods that work here."
        ),
        ProblemType("timeout", 408, "Sent too slowly", "The body did not arrive in time; nothing was done."),
        ProblemType("conflict", 409, "Already there", "An id is used once, also after its entry was deleted."),
        ProblemType(
            "length-required", 411, "Length required", "Bodies are sent with a Content-Length, not in chunks."
        ),
        ProblemType("stale", 412, "Changed meanwhile", "If-Match names a version that is no longer the present one."),
        ProblemType(
            "too-large", 413, "Too large", "The body, or the answer to its rows, is larger than the service takes."
        ),
        ProblemType("wrong-media-type", 415, "Not this media type", "Bodies are application/json in UTF-8."),
        ProblemType("invalid", 422, "The input breaks a rule", "Each issue names its place by JSON pointer."),
        ProblemType(
            "no-answer", 422, "No answer", "The question is sound, but nothing answers it; no guess is given."
        ),
        ProblemType(
            "busy",
            503,
            "Busy",
            "Too many bodies are on their way, too many charges, pictures, settlements or large requests are being "
            "worked out, or the disk is full; see Retry-After.",
        ),
        ProblemType(
            "repeat-differs",
            422,
            "Another request",
            "The Idempotency-Key was used before, for a request that differs.",
        ),
        ProblemType(
            "condition-needed",
            428,
            "Which version?",
            "A change names the version it changes, by its ETag in If-Match.",
        ),
        ProblemType("too-many", 429, "Too many requests", "The limit of this service is reached; see Retry-After."),
        ProblemType(
            "headers-too-large",
            431,
            "Headers too large",
            "All headers together, or Accept alone, are larger than the service reads.",
        ),
        ProblemType("internal", 500, "A fault of the service", "Not the caller's doing; the fault was logged."),
        ProblemType(
            "unavailable",
            503,
            "Not now",
            "The database of the shop's own data is away, locked or on another schema; try again after Retry-After.",
        ),
    )
}
# Where two types share a status, the first one listed is what a bare status means.
_BY_STATUS = {one.status: one.id for one in reversed(TYPES.values())}


def problem_json(type_: str, detail: str, issues: Sequence[Issue] = (), status: int | None = None) -> dict[str, Any]:
    """The document of a problem."""
    kind = TYPES[type_]
    return {
        "type": f"/v1/problems/{kind.id}",
        "title": kind.title,
        "status": status or kind.status,
        "detail": detail,
        "errors": [
            {
                "pointer": one.pointer,
                "code": one.code,
                "detail": one.detail,
                "suggestions": list(one.suggestions),
                **({"choices": [asdict(choice) for choice in one.choices]} if one.choices else {}),
            }
            for one in issues[:MOST_ISSUES]
        ],
    }


def problem_bytes(type_: str, detail: str, issues: Sequence[Issue] = (), status: int | None = None) -> bytes:
    """The document of a problem as it goes out. Lone surrogates, which JSON input may hold, are replaced."""
    document = problem_json(type_, detail, issues, status)
    try:
        return orjson.dumps(document)
    except TypeError:
        return orjson.dumps(_printable(document))


def _printable(value: Any) -> Any:
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, dict):
        return {name: _printable(inner) for name, inner in value.items()}
    return [_printable(inner) for inner in value] if isinstance(value, list) else value


def problem_response(type_: str, detail: str, issues: Sequence[Issue] = (), status: int | None = None) -> Response:
    """The response for a problem: JSON, or a page for a browser.

    With `on_error=text` it is a short text with status 200, for a spreadsheet cell.
    """
    status = status or TYPES[type_].status
    if request.args.get("on_error") == "text" and request.method in ("GET", "HEAD") and status < 500:
        words = issues[0].detail if issues else detail
        return Response(
            f"#ERROR {words}",
            200,
            content_type="text/plain; charset=utf-8",
            headers={"Cache-Control": "no-store"},
        )
    if asks_for_a_page():
        response = problem_page(_printable(problem_json(type_, detail, issues, status)), TYPES[type_].meaning)
    else:
        body = problem_bytes(type_, detail, issues, status)
        response = Response(body, status, content_type=MEDIA_TYPE, headers={"Cache-Control": "no-store"})
    response.vary.add("Accept")
    return response


def of_domain(error: AlloyrefError) -> tuple[str, int]:
    """Which problem, with which status, an error of the core is."""
    if isinstance(error, InvalidInput):
        return "invalid", 422
    if isinstance(error, UnknownName):
        return "not-found", 404
    if isinstance(error, NotAvailable) and request.method == "GET" and request.view_args:
        return "not-available", 404
    return "no-answer", 422


def detail_of(error: AlloyrefError) -> str:
    """What an error of the core comes to in one sentence."""
    count = len(error.issues)
    return error.issues[0].detail if count == 1 else f"{count} things are wrong with the input."


_OF_SHOP: dict[type[ShopError], str] = {
    KeyRefused: "key-needed",
    ScopeMissing: "scope-needed",
    Taken: "conflict",
    Stale: "stale",
    RepeatDiffers: "repeat-differs",
    ConditionMissing: "condition-needed",
    Unavailable: "unavailable",
}


def _of_shop(error: ShopError) -> Response:
    """The problem of what went wrong with the shop's own data."""
    response = problem_response(_OF_SHOP[type(error)], error.issue.detail, [error.issue])
    if isinstance(error, Unavailable):
        log.warning("unavailable at %s %s: %s", request.method, request.path, error)
        response.headers["Retry-After"] = str(RETRY_AFTER_SECONDS)
    if isinstance(error, (KeyRefused, ScopeMissing)):
        response.headers["WWW-Authenticate"] = _challenge(error)
    return response


def _challenge(error: KeyRefused | ScopeMissing) -> str:
    """What a caller should show (RFC 6750, section 3); without any key no error is named."""
    challenge = 'Bearer realm="alloyref"'
    if isinstance(error, ScopeMissing):
        return f'{challenge}, error="insufficient_scope", scope="{error.scope}"'
    return challenge if error.issue.code == "key-missing" else f'{challenge}, error="invalid_token"'


def register(app: Flask) -> None:
    """Let one handler turn each kind of failure into a problem."""

    @app.errorhandler(AlloyrefError)
    def domain(error: AlloyrefError) -> Response:
        type_, status = of_domain(error)
        return problem_response(type_, detail_of(error), error.issues, status)

    app.register_error_handler(ShopError, _of_shop)

    @app.errorhandler(HTTPException)
    def http(error: HTTPException) -> Response:
        status = error.code or 500
        issues: tuple[Issue, ...] = ()
        allowed: list[str] = []
        if isinstance(error, RequestEntityTooLarge):
            detail = f"The body may have at most {app.config['MAX_CONTENT_LENGTH']} bytes."
        elif isinstance(error, NotFound):
            paths = nearest(request.path, {str(rule) for rule in app.url_map.iter_rules() if "<" not in str(rule)})
            detail = f"There is no address {request.path[:80]!r} here." + did_you_mean(paths)
            issues = (Issue("unknown-path", detail, "", paths),)
        elif isinstance(error, MethodNotAllowed):
            allowed = sorted(error.valid_methods or ())
            detail = f"{request.method[:20]} does not work at this address; it takes {', '.join(allowed)}."
        else:
            detail = error.description or ""
        response = problem_response(_BY_STATUS.get(status, "malformed"), detail, issues, status)
        if allowed:
            response.headers["Allow"] = ", ".join(allowed)
        return response

    @app.errorhandler(Exception)
    def fault(error: Exception) -> Response:
        log.exception("fault at %s %s", request.method, request.path)
        return problem_response("internal", FAULT)
