"""How values look on a page: figures with the reader's decimal mark, and the headers that keep a page on its host."""

from __future__ import annotations

import base64
from typing import Any

from flask import Flask, Response, g
from jinja2 import StrictUndefined

from alloyref.domain import figures, sheet_words
from alloyref.domain.numbers import POINT
from alloyref.domain.terms import terms
from alloyref.pictures.drawing import SVG, Drawing

PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
DOCS_POLICY = PAGE_POLICY.replace("style-src 'self'", "style-src 'self' 'unsafe-inline'")
"""The API reference sets styles of its own while it runs."""


def write_decimals_with(mark: str) -> None:
    """Let the page that is being made write its decimals so."""
    g.decimal_mark = mark


def said(value: Any) -> str:
    """A text or a figure as the page writes it."""
    return figures.with_mark(figures.with_signs(str(value)), g.get("decimal_mark", POINT))


FILTERS = {
    "said": said,
    "number": lambda value: said(figures.number(value)),
    "fixed": lambda value, decimals: said(figures.fixed(value, decimals)),
    "mass": lambda value, unit: said(figures.mass_in(unit, value)),
    "asked": figures.asked,
    "as_asked": lambda one: said(figures.as_asked(one)),
    "both_ways": lambda one: said(figures.both_ways(one)),
    "mass_units": figures.mass_units,
    "mass_cells": lambda one, more: [said(cell) for cell in figures.mass_cells(one, more)],
    "mass_range": lambda one: said(figures.mass_range(one)),
    "figure": lambda one: said(figures.figure(one)),
    "unit": figures.unit_sign,
    "weighed": sheet_words.weighed,
    "bought": sheet_words.bought,
    "held_against": sheet_words.held_against,
    "on_the_arm": sheet_words.on_the_arm,
    "to_be_sure": sheet_words.to_be_sure,
    "weighed_in": sheet_words.weighed_in,
    "mark_warning": sheet_words.mark_warning,
    "mark_rows": sheet_words.mark_rows,
}


def shown(drawing: Drawing) -> dict[str, str]:
    """A drawing as the source of an image that stands in the page itself, and its words."""
    data = base64.b64encode(drawing.render(SVG)).decode()
    return {"source": f"data:{SVG};base64,{data}", "says": drawing.says}


def register(app: Flask) -> None:
    """Teach the templates of the application to show values; an unknown name in a template is a fault."""
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True
    app.jinja_env.filters.update(FILTERS)
    app.jinja_env.globals["terms"] = terms


def guarded(response: Response, policy: str = PAGE_POLICY) -> Response:
    """The page with headers that let it load from nowhere else and stand in no other page's frame."""
    response.headers["Content-Security-Policy"] = policy
    response.headers["Referrer-Policy"] = "no-referrer"
    return response
