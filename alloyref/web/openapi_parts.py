"""Parts that every operation of the API description is made of."""

from __future__ import annotations

from typing import Any

from alloyref.domain.calculation import CompositionOf, Item
from alloyref.web.schemas.describe import Describer, Schema

PROBLEM = {"$ref": "#/components/responses/Problem"}


def refer(name: str) -> Schema:
    """A reference to a named schema."""
    return {"$ref": f"#/components/schemas/{name}"}


def format_parameter(*names: str) -> dict[str, Any]:
    """The parameter that chooses the form of the answer."""
    return {
        "name": "format",
        "in": "query",
        "description": "Form of the answer; goes before the Accept header.",
        "schema": {"type": "string", "enum": list(names)},
    }


ON_ERROR = {
    "name": "on_error",
    "in": "query",
    "description": "`text` turns a problem into a short text with status 200, for a spreadsheet cell.",
    "schema": {"type": "string", "enum": ["problem", "text"]},
}


DECIMAL = {
    "name": "decimal",
    "in": "query",
    "description": "Decimal mark of csv and text, and one that numbers in the query may have; with a comma, csv "
    "parts its cells by semicolons. JSON keeps the point.",
    "schema": {"type": "string", "enum": [".", ","]},
}


def read(
    summary: str,
    operation: str,
    schema: Schema | None,
    forms: tuple[str, ...] = ("json",),
    parameters: list[Any] | None = None,
) -> dict[str, Any]:
    """A reading operation with all its forms and problems."""
    content: dict[str, Any] = {}
    if schema is not None and "json" in forms:
        content["application/json"] = {"schema": schema}
    if "csv" in forms:
        content["text/csv"] = {"schema": {"type": "string"}}
    # On a read that takes on_error=text, the text form may also be that of an error.
    content["text/plain"] = {"schema": {"type": "string"}}
    own = [format_parameter(*forms), ON_ERROR, DECIMAL] if forms else []
    return {
        "get": {
            "summary": summary,
            "description": f"{summary}. {_manner(forms)}",
            "operationId": operation,
            "tags": ["reference"],
            "parameters": [*(parameters or []), *own],
            "responses": {
                "200": {
                    "description": summary,
                    "headers": {"ETag": {"$ref": "#/components/headers/ETag"}},
                    "content": content,
                },
                "304": {"$ref": "#/components/responses/NotModified"},
                "400": PROBLEM,
                "404": PROBLEM,
                "422": PROBLEM,
                "429": PROBLEM,
                "500": PROBLEM,
                "503": PROBLEM,
            },
        }
    }


def path_parameter(name: str, doc: str, example: str) -> dict[str, Any]:
    """A part of the address."""
    return {
        "name": name,
        "in": "path",
        "required": True,
        "description": doc,
        "schema": {"type": "string", "minLength": 1},
        "example": example,
    }


def _manner(forms: tuple[str, ...]) -> str:
    given = f"Given as {' or '.join(forms)}. " if len(forms) > 1 else ""
    return f"{given}The answer may be kept: it has a strong ETag, and If-None-Match is answered with 304."


def query_parameter(describer: Describer, one: Item) -> dict[str, Any]:
    """A query parameter: its schema is that of the field, numbers being written in digits and shares on a line."""
    schema = describer.item(one)
    doc = schema.pop("description")
    examples = schema.pop("examples", None)
    if "oneOf" in schema:
        flat = "string" if isinstance(one.kind, CompositionOf) else "number"
        schema = next({**branch} for branch in schema["oneOf"] if branch.get("type") == flat)
    parameter = {
        "name": one.name,
        "in": "query",
        "description": doc,
        "schema": schema,
        "required": not one.optional,
    }
    if examples:
        digits = "type" in schema and schema["type"] in ("number", "integer")
        parameter["example"] = float(examples[0]) if digits else examples[0]
    return parameter
