"""Reading a JSON body: the media type, the size, the form, and nothing that JSON does not allow."""

from __future__ import annotations

from typing import Any

import orjson
from flask import request
from werkzeug.exceptions import BadRequest, UnsupportedMediaType


def json_body() -> Any:
    """The parsed body; 415 for another media type, 413 for a large one, 400 for what is not JSON.

    The parser refuses NaN, infinities, invalid UTF-8 and nesting too deep to be meant.
    """
    if request.mimetype != "application/json":
        sent = request.mimetype or "none"
        raise UnsupportedMediaType(f"Send the body as application/json (sent: {sent[:60]}).")
    data = request.get_data(cache=False)
    if not data.strip():
        raise BadRequest("The body is empty; a JSON object is needed.")
    try:
        return orjson.loads(data)
    except orjson.JSONDecodeError as error:
        raise BadRequest(f"The body is not valid JSON: {error}") from None
