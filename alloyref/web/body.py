"""Reading a JSON body: the media type, the size, the form, and nothing that JSON does not allow."""

from __future__ import annotations

from typing import Any

from flask import request
from werkzeug.exceptions import BadRequest, UnsupportedMediaType

from alloyref.domain.errors import InvalidInput
from alloyref.web.schemas.document import parse


def json_body() -> Any:
    """The parsed body; 415 for another media type or coding, 413 for a large one, 400 for what is not JSON.

    Numbers are read as exact decimals. NaN, infinities, invalid UTF-8, nesting too deep to be meant, and
    a name that stands twice in one object (where one of two masses would win in silence) are refused.
    """
    charset = request.mimetype_params.get("charset", "utf-8").lower()
    if request.mimetype != "application/json" or charset != "utf-8":
        sent = request.headers.get("Content-Type", "none")
        raise UnsupportedMediaType(f"Send the body as application/json in UTF-8 (sent: {sent[:60]}).")
    if request.headers.get("Content-Encoding", "identity") != "identity":
        raise UnsupportedMediaType("Send the body without a content coding.")
    data = request.get_data(cache=False)
    if not data.strip():
        raise BadRequest("The body is empty; a JSON object is needed.")
    try:
        return parse(data)
    except ValueError as error:  # also what is not UTF-8, and whole numbers of thousands of digits
        raise BadRequest(f"The body is not valid JSON: {error}") from None


def has_body() -> bool:
    """Whether anything was sent, for the few requests that need not send it."""
    return bool(request.content_length)


def an_object(data: Any) -> dict[str, Any]:
    """The parsed input as an object; refused if it is anything else."""
    if not isinstance(data, dict):
        raise InvalidInput.of("not-an-object", "The input is a JSON object.")
    return data
