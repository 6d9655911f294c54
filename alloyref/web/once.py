"""Storing what a POST brings, once for each Idempotency-Key (draft-ietf-httpapi-idempotency-key-header-07)."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable
from typing import Any

from flask import Response, request
from sqlalchemy import Connection

from alloyref.domain.errors import InvalidInput
from alloyref.shop.idempotency import Attempt, Stored
from alloyref.shop.keys import Key
from alloyref.web.service import service

HEADER = "Idempotency-Key"
FORM = re.compile(r"[\x21-\x7e]{1,255}")
Make = Callable[[Connection], Stored]


def once(key: Key, data: Any, prepare: Callable[[], Make]) -> Response:
    """Answer a POST that stores: `prepare` reads and calculates without any lock, what it returns then stores.

    What was refused stored nothing, and leaves its Idempotency-Key free.
    """
    database = service().database
    attempt = _attempt(key, data)
    stored = None
    if attempt is not None:
        with database.read() as connection:
            stored = attempt.answered(connection)
    if stored is None:
        make = prepare()
        with database.write() as connection:
            stored = attempt.claim(connection) if attempt else None
            if stored is None:
                stored = make(connection)
                if attempt:
                    attempt.answer(connection, stored)
    return Response(stored.body, stored.status, headers=dict(stored.headers))


def name_of_attempt() -> str | None:
    """The Idempotency-Key of this request; `InvalidInput` if it is of another form."""
    name = request.headers.get(HEADER)
    if name is not None and not FORM.fullmatch(name):
        raise InvalidInput.of("wrong-form", f"{HEADER} is 1 to 255 visible ASCII characters, such as a UUID.")
    return name


def _attempt(key: Key, data: Any) -> Attempt | None:
    name = name_of_attempt()
    if name is None:
        return None
    asked = [request.method, request.path, request.query_string.decode("latin-1"), data]
    fingerprint = hashlib.sha256(json.dumps(asked, sort_keys=True, default=str).encode()).hexdigest()
    return Attempt(key.id, name, fingerprint, service().settings.idempotency_hours)
