"""The part of the API description that is about the shop's own data: what needs a key, and what stores."""

from __future__ import annotations

from typing import Any

from apispec import APISpec

from alloyref.domain.calculation import ListOf, MetalName, Record, items
from alloyref.domain.shop.record import HistoryQuery, PageQuery, Recompute, RecordLineView, RecordQuery
from alloyref.shop.keys import READ, WRITE
from alloyref.web.access import OPEN, PARAMETER
from alloyref.web.once import HEADER
from alloyref.web.openapi_parts import PROBLEM, path_parameter, query_parameter, read, refer
from alloyref.web.routes.shop import RESOURCES, SHOP, Resource
from alloyref.web.schemas.describe import Describer, Schema

TAG = "shop"
Security = list[dict[str, list[str]]]
# The scopes that a key must have stand as roles beside its scheme (OpenAPI 3.1, Security Requirement Object).
READER: Security = [{"Key": [READ]}, {"KeyInQuery": [READ]}]
ASKER: Security = [{"Key": [READ]}]
WRITER: Security = [{"Key": [WRITE]}]
ANYONE: Security = [{}]
NEEDS_KEY = dict.fromkeys(("401", "403", "503"), PROBLEM)
HAS_BODY = dict.fromkeys(("400", "408", "411", "413", "415", "422", "429", "500"), PROBLEM)
ONCE = {
    "name": HEADER,
    "in": "header",
    "description": "A text of one's own, such as a UUID: the same request with the same one is stored once and gets "
    "the same answer, for as long as ALLOYREF_IDEMPOTENCY_HOURS says.",
    "schema": {"type": "string", "pattern": "^[!-~]{1,255}$"},
}
VERSION = {
    "name": "If-Match",
    "in": "header",
    "required": True,
    "description": "ETag of the version that is to be changed; `*` for whichever there is.",
    "schema": {"type": "string", "pattern": '^("[!#-~]{1,64}"|[*])$'},
    "example": "*",
}
NESTED = (Record, ListOf)
EXAMPLE_ALLOY, EXAMPLE_ID = "shop:house-yellow-14", "0123456789abcdef"
DATASET = {
    "type": "object",
    "required": ["version", "hash"],
    "properties": {"version": {"type": "string"}, "hash": {"type": "string"}},
}


def describe_shop(spec: APISpec, describer: Describer) -> None:
    """Add everything under `/v1/shop`."""
    spec.components.security_scheme("Key", {"type": "http", "scheme": "bearer", "description": KEY_ABOUT})
    spec.components.security_scheme(
        "KeyInQuery", {"type": "apiKey", "in": "query", "name": PARAMETER, "description": KEY_IN_QUERY_ABOUT}
    )
    for resource in RESOURCES:
        _resource(spec, describer, resource)
    spec.components.schema("ShopChange", _change())
    whole = _listing(describer, "changes", refer("ShopChange"), HistoryQuery, "history")
    spec.path(f"{SHOP}/history", operations=whole)
    _records(spec, describer)


KEY_ABOUT = "A key made by `alloyref keys create`, with the scopes `read` and `write`."
KEY_IN_QUERY_ABOUT = "For spreadsheet cells, which send no headers: a key made with --in-query, for reads only."


def with_key(operation: dict[str, Any], security: Security) -> dict[str, Any]:
    """An operation of the shop's own data, which needs a key."""
    operation["tags"] = [TAG]
    return guarded(operation, security)


def guarded(operation: dict[str, Any], security: Security) -> dict[str, Any]:
    """An operation that asks for a key, always or for some requests."""
    operation["security"] = security
    operation["responses"] |= NEEDS_KEY
    return operation


def names_metals(type_: type) -> bool:
    """Whether an input may name a metal anywhere, and so an alloy of the shop's own, which needs a key."""
    kinds = [one.kind for one in items(type_).values()]
    inner = [
        kind.record.type if isinstance(kind, ListOf) else kind.type for kind in kinds if isinstance(kind, NESTED)
    ]
    return any(isinstance(kind, MetalName) for kind in kinds) or any(map(names_metals, inner))


def close(document: dict[str, Any]) -> None:
    """Make the description that of a service which asks for a key everywhere (`ALLOYREF_REQUIRE_KEY`)."""
    for path, operations in document["paths"].items():
        for method, operation in operations.items():
            security = operation.get("security", ANYONE)
            if ANYONE[0] in security and not OPEN.fullmatch(path):
                others = [one for one in security if one and WRITE not in one.get("Key", ())]
                guarded(operation, others or (READER if method == "get" else ASKER))


def _listing(describer: Describer, field: str, row: Schema, query: type, of: str) -> dict[str, Any]:
    whole = {
        field: {"type": "array", "items": row},
        **{name: {"type": "integer"} for name in ("total", "page", "page_size")},
    }
    schema = {"type": "object", "required": list(whole), "properties": whole}
    parameters = [query_parameter(describer, one) for one in items(query).values()]
    operations = read(f"A page of {field}", f"list_shop_{of}", schema, ("json",), parameters)
    with_key(operations["get"], READER)
    return operations


def _resource(spec: APISpec, describer: Describer, resource: Resource) -> None:
    name, single = resource.name, resource.name.removesuffix("s")
    new, inputs = describer.record(resource.new), describer.record(resource.inputs)
    view = describer.record(resource.view, output=True)
    path = f"{SHOP}/{name}"
    operations = _listing(describer, name, view, resource.query, name)
    operations["post"] = {
        "summary": f"Write a new {single}",
        "description": "Stored once, however often it is sent under the same Idempotency-Key.",
        "operationId": f"create_shop_{single}",
        "parameters": [ONCE],
        "requestBody": _body(new, resource.new),
        "responses": {
            "201": {
                **_answer("It was written.", view),
                "headers": _headers("ETag", "Location"),
                "links": _links(single, "id", "get", "replace", "delete", "history"),
            },
            "409": PROBLEM,
            **HAS_BODY,
        },
    }
    with_key(operations["post"], WRITER)
    spec.path(path, operations=operations)
    where = path_parameter("name", f"Id of the {single}.", EXAMPLE_ALLOY if resource.prefix else EXAMPLE_ID)
    entry = read(f"One {single}", f"get_shop_{single}", view, ("json",), [where])
    with_key(entry["get"], READER)
    entry["get"]["responses"]["200"]["links"] = _links(single, "id", "replace", "delete", "history")
    changing = {"404": PROBLEM, "412": PROBLEM, "428": PROBLEM}
    entry["put"] = {
        "summary": f"Put a new version in the place of the {single}",
        "description": "If it is still the version that If-Match names; what it was before stays in the history.",
        "operationId": f"replace_shop_{single}",
        "parameters": [where, VERSION],
        "requestBody": _body(inputs, resource.inputs),
        "responses": {
            "200": {
                **_answer("It was replaced.", view),
                "headers": _headers("ETag"),
                "links": _links(single, "id", "get", "delete", "history"),
            },
            **changing,
            **HAS_BODY,
        },
    }
    entry["delete"] = {
        "summary": f"Delete the {single}; its history stays",
        "description": "If it is still the version of the ETag in If-Match.",
        "operationId": f"delete_shop_{single}",
        "parameters": [where, VERSION],
        "responses": {"204": {"description": "It was deleted."}, **changing, **HAS_BODY},
    }
    for method in ("put", "delete"):
        with_key(entry[method], WRITER)
    spec.path(f"{path}/{{name}}", operations=entry)
    changes = _listing(describer, "changes", refer("ShopChange"), PageQuery, f"{single}_history")
    changes["get"]["parameters"].insert(0, where)
    spec.path(f"{path}/{{name}}/history", operations=changes)


def _body(schema: Schema, type_: type) -> dict[str, Any]:
    example = {one.name: one.example for one in items(type_).values() if one.example is not None}
    content = {"schema": schema, "examples": {"bench": {"value": example}}}
    return {"required": True, "content": {"application/json": content}}


def _answer(description: str, schema: Schema) -> dict[str, Any]:
    return {"description": description, "content": {"application/json": {"schema": schema}}}


def _headers(*names: str) -> dict[str, Any]:
    made = {"ETag": {"$ref": "#/components/headers/ETag"}, "Location": {"schema": {"type": "string"}}}
    return {name: made[name] for name in names}


def _links(single: str, place: str, *actions: str) -> dict[str, Any]:
    """What can be done next with the entry of an answer, its id being at this place; changes name its version."""
    operations = {
        "replace": f"replace_shop_{single}",
        "delete": f"delete_shop_{single}",
        "get": f"get_shop_{single}",
        "history": f"list_shop_{single}_history",
        "recompute": f"recompute_shop_{single}",
    }
    made: dict[str, Any] = {}
    for action in actions:
        parameters = {"path.name": f"$response.body#/{place}"}
        if action in ("replace", "delete"):
            parameters["header.If-Match"] = "$response.header.ETag"
        made[action] = {"operationId": operations[action], "parameters": parameters}
    return made


def record_link() -> dict[str, Any]:
    """From the answer of a calculation to the record of it, if one was asked for."""
    return {"record": _links("record", "record", "get")["get"]}


def _change() -> Schema:
    texts = ("kind", "id", "action", "at", "key")
    return {
        "type": "object",
        "required": ["number", "version", *texts, "document"],
        "properties": {
            "number": {"type": "integer", "description": "Counts all changes."},
            "version": {"type": "integer", "description": "The version that the change made."},
            **{name: {"type": "string"} for name in texts},
            "document": {"type": ["object", "null"], "description": "What was written; null after a deletion."},
        },
        "description": "One change, with the id of the key it was made with.",
    }


def _records(spec: APISpec, describer: Describer) -> None:
    path = f"{SHOP}/records"
    row = describer.record(RecordLineView, output=True)
    spec.path(path, operations=_listing(describer, "records", row, RecordQuery, "records"))
    where = path_parameter("name", "Id of the record.", "0123456789abcdef01234567")
    spec.components.schema("ShopRecord", _record())
    one = read("One record, as it was written", "get_shop_record", refer("ShopRecord"), ("json",), [where])
    with_key(one["get"], READER)
    one["get"]["responses"]["200"]["links"] = _links("record", "id", "recompute")
    spec.path(f"{path}/{{name}}", operations=one)
    spec.components.schema("Recomputed", _recomputed())
    inputs = describer.record(Recompute)
    post = {
        "summary": "Ask a recorded calculation again, and tell what differs; nothing is stored",
        "description": "With the shop's alloys as they were then, on the record's own dataset if held, or today's; "
        "without a body, today's.",
        "operationId": "recompute_shop_record",
        "parameters": [where],
        "requestBody": {
            "required": False,
            "content": {"application/json": {"schema": inputs, "examples": {"bench": {"value": {"dataset": "own"}}}}},
        },
        "responses": {"200": _answer("The answer now.", refer("Recomputed")), "404": PROBLEM, **HAS_BODY},
    }
    spec.path(f"{path}/{{name}}/recompute", operations={"post": with_key(post, ASKER)})


def _record() -> Schema:
    texts = ("id", "calculation", "created", "key", "program", "digest")
    return {
        "type": "object",
        "required": [*texts, "dataset", "request", "alloys", "answer", "whole"],
        "properties": {
            **{name: {"type": "string"} for name in texts},
            "dataset": DATASET,
            "request": {"type": "object", "description": "The input as it was sent."},
            "alloys": {"type": "object", "description": "The shop's own alloys that went in, as they were."},
            "answer": {"type": "object", "description": "The whole answer."},
            "whole": {"type": "boolean", "description": "Whether the digest still fits what is kept."},
        },
        "description": "A calculation as it was asked and answered; never changed.",
    }


def _recomputed() -> Schema:
    texts = ("record", "calculation")
    both = dict.fromkeys(("recorded", "now"), DATASET)
    programs = {name: {"type": "string"} for name in ("recorded", "now")}
    difference = {
        "type": "object",
        "required": ["pointer", "kind", "recorded", "now"],
        "properties": {
            "pointer": {"type": "string", "description": "JSON pointer into the answer."},
            "kind": {"type": "string", "enum": ["changed", "added", "removed"]},
            "recorded": {},
            "now": {},
        },
    }
    return {
        "type": "object",
        "required": [*texts, "dataset", "program", "same", "differences", "more", "answer"],
        "properties": {
            **{name: {"type": "string"} for name in texts},
            "dataset": {"type": "object", "required": list(both), "properties": both},
            "program": {"type": "object", "required": list(programs), "properties": programs},
            "same": {"type": "boolean"},
            "differences": {"type": "array", "items": difference},
            "more": {"type": "boolean", "description": "Whether there are more differences than are listed."},
            "answer": {"type": "object"},
        },
        "description": "A recorded calculation by today's program, with the shop's alloys as they were then.",
    }
