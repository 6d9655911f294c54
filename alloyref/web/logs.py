"""Log lines as JSON, one object a line: for machines that gather them. Never a body, a query or a key."""

from __future__ import annotations

import logging
from datetime import UTC, datetime
from typing import Any

import orjson
from flask import g, has_request_context

FIELDS = "alloyref"
"""The attribute of a log record that holds further fields."""


class JsonLines(logging.Formatter):
    """Time, level, logger, message, the id of the request it happened in, and what else was given."""

    def format(self, record: logging.LogRecord) -> str:
        """One record as one line."""
        line: dict[str, Any] = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
        }
        if has_request_context() and "alloyref_request" in g:
            line["request"] = g.alloyref_request
        line |= getattr(record, FIELDS, {})
        if record.exc_info:
            line["fault"] = self.formatException(record.exc_info)
        return orjson.dumps(line, default=str).decode()


def json_configuration(level: str) -> dict[str, Any]:
    """The server's and the service's own logging, all of it as JSON on standard output."""
    handler = {"formatter": "json", "class": "logging.StreamHandler", "stream": "ext://sys.stdout"}
    return {
        "formatters": {"json": {"()": f"{__name__}.{JsonLines.__name__}"}},
        "handlers": {"json": handler},
        "loggers": {
            name: {"handlers": ["json"], "level": level.upper(), "propagate": False}
            for name in ("_granian", "granian.access", "alloyref")
        },
    }
