"""Log lines, as text or, for machines that gather them, as JSON. Never a body, a query or a key."""

from __future__ import annotations

import logging
import re
from datetime import UTC, datetime
from typing import Any

import orjson
from flask import g, has_request_context

FIELDS = "alloyref"
"""The attribute of a log record that holds further fields."""
UNPRINTABLE = re.compile(r"[\u0000-\u001f\u007f-\u009f\u2028-\u202e\u2066-\u2069]")


class TextLines(logging.Formatter):
    """Each record's message on one line, whatever path a caller put into it; below it only a fault's own lines."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - the name that logging has
        """The message with what would end or hide a line written out."""
        return UNPRINTABLE.sub(lambda one: one[0].encode("unicode_escape").decode(), super().formatMessage(record))


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


LOGGERS = ("_granian", "granian.access", "alloyref")
FORMATTERS: dict[str, dict[str, Any]] = {
    "text": {"()": f"{__name__}.{TextLines.__name__}", "fmt": "[%(levelname)s] %(message)s"},
    "json": {"()": f"{__name__}.{JsonLines.__name__}"},
}


def configuration(form: str, level: str) -> dict[str, Any]:
    """The server's and the service's own logging, all of it in one form ("text" or "json") on standard output."""
    handler = {"formatter": form, "class": "logging.StreamHandler", "stream": "ext://sys.stdout"}
    logger = {"handlers": ["lines"], "level": level.upper(), "propagate": False}
    return {
        "formatters": FORMATTERS,
        "handlers": {"lines": handler},
        "loggers": {name: {**logger} for name in LOGGERS},
    }
