"""A problem as a page, for whoever asks with a browser: the same facts, and a way back."""

from __future__ import annotations

from typing import Any

from flask import Response, render_template, request

from alloyref.web.pages.show import guarded
from alloyref.web.representation import HTML, JSON

PROGRAMS = (JSON, "application/problem+json")


def asks_for_a_page() -> bool:
    """Whether whoever asks would rather have a page than JSON: it names html itself and holds it dearer.

    `*/*` is what programs and spreadsheets send; they keep their JSON, and so does a `format=` in the address.
    """
    if request.args.get("format"):
        return False
    accepted = request.accept_mimetypes
    named = max((quality for media, quality in accepted if media == HTML), default=0)
    return named > max(accepted.quality(media) for media in PROGRAMS)


def problem_page(document: dict[str, Any], meaning: str) -> Response:
    """The page of a problem document, with what its kind means."""
    body = render_template("problem.html", problem=document, meaning=meaning, path=request.path)
    response = Response(body, document["status"], content_type="text/html; charset=utf-8")
    response.headers["Cache-Control"] = "no-store"
    return guarded(response)
