"""How values look on a page: figures, units in full signs, and the headers that keep a page on its own host."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import Any

from flask import Flask, Response
from jinja2 import StrictUndefined

from alloyref.pictures.drawing import SVG, Drawing

UNIT_SIGNS = {"g/cm3": "g/cm³", "C": "°C", "permille": "‰", "HV": "HV"}
PAGE_POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
DOCS_POLICY = PAGE_POLICY.replace("style-src 'self'", "style-src 'self' 'unsafe-inline'")
"""The API reference sets styles of its own while it runs."""


def number(value: Any) -> str:
    """A figure without needless zeros.

    >>> number(13.640), number(961.78), number("1.10"), number(1250.0)
    ('13.64', '961.78', '1.10', '1250')
    """
    return f"{value:.10g}" if isinstance(value, float) else str(value)


def unit(symbol: str) -> str:
    """A unit as people write it.

    >>> unit("g/cm3"), unit("mm")
    ('g/cm³', 'mm')
    """
    return UNIT_SIGNS.get(symbol, symbol)


def figure(one: Mapping[str, Any]) -> str:
    """The figure of an assumption with its range; shares as percent.

    >>> figure({"value": 0.5, "low": 0.4, "high": 0.5, "unit": "1"})
    '50 % (40 to 50)'
    """
    scale, sign = (100, "%") if one["unit"] == "1" else (1, unit(one["unit"]))
    value, low, high = (number(float(one[key]) * scale) for key in ("value", "low", "high"))
    return f"{value} {sign}" + (f" ({low} to {high})" if low != high else "")


def shown(drawing: Drawing) -> dict[str, str]:
    """A drawing as the source of an image that stands in the page itself, and its words."""
    data = base64.b64encode(drawing.render(SVG)).decode()
    return {"source": f"data:{SVG};base64,{data}", "says": drawing.says}


def register(app: Flask) -> None:
    """Teach the templates of the application to show values; an unknown name in a template is a fault."""
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True
    app.jinja_env.filters.update(number=number, unit=unit, figure=figure)


def guarded(response: Response, policy: str = PAGE_POLICY) -> Response:
    """The page with headers that let it load from nowhere else and stand in no other page's frame."""
    response.headers["Content-Security-Policy"] = policy
    response.headers["Referrer-Policy"] = "no-referrer"
    return response
