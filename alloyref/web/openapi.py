"""The OpenAPI 3.1 description, generated from the declarations; the copy in `openapi/` is compared with it in CI."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Any

import yaml
from apispec import APISpec

from alloyref import __version__
from alloyref.domain.calculation import Calculation, Quantity, items
from alloyref.domain.finder import AlloyQuery
from alloyref.domain.reference import Reference
from alloyref.pictures.drawing import PNG, SVG
from alloyref.pictures.kinds import PICTURES, PictureKind
from alloyref.services.calculations import CALCULATIONS
from alloyref.services.lookup import PROPERTIES
from alloyref.services.views import AlloyDetail, AlloyView, DatasetView, NumberView
from alloyref.web.bulk.describe import bulk_path
from alloyref.web.openapi_parts import (
    DECIMAL,
    ON_ERROR,
    PROBLEM,
    format_parameter,
    path_parameter,
    query_parameter,
    read,
    refer,
)
from alloyref.web.openapi_shop import (
    ANYONE,
    ASKER,
    ONCE,
    READER,
    WRITER,
    close,
    describe_shop,
    guarded,
    names_metals,
    record_link,
)
from alloyref.web.problems import TYPES
from alloyref.web.routes.tables import TABLES, TableRoute
from alloyref.web.schemas.describe import STATUSES, Describer, Schema, unit_schema
from alloyref.web.schemas.query import UNIT, main_quantity

ABOUT = """Alloy properties with source and uncertainty, and the metal math of a casting shop.

Quantities carry their unit. Every served value has a standing and a source. Errors are problem documents
(RFC 9457) with a JSON pointer to each fault. Casting, melting and pickling can hurt: answers carry the usual
cautions, and local codes and licensed practice come first.
"""
DUMPER = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
"""Libyaml's where PyYAML has it: half the time, and the same text."""
EXAMPLE_ALLOY = "sterling-silver"
EXAMPLE_GOLD = "gold-585-yellow"

RECORD_PARAMETER = {
    "name": "record",
    "in": "query",
    "description": "Whether to keep a record of it (`/v1/shop/records`); needs a key with the scope write.",
    "schema": {"type": "boolean", "default": False},
}


def document(reference: Reference, *, closed: bool = False) -> dict[str, Any]:
    """The whole description; `closed` is that of a service which asks for a key everywhere."""
    spec = APISpec(
        title="alloyref",
        version=__version__,
        openapi_version="3.1.0",
        security=[],
        info={
            "description": ABOUT,
            "contact": {"name": "The maintainers of alloyref"},
            "license": {"name": "MIT", "identifier": "MIT"},
        },
        servers=[{"url": "/", "description": "This service"}],
        tags=[
            {
                "name": "reference",
                "description": "Alloys, elements, units and the other tables, with sources.",
            },
            {"name": "calculations", "description": "The metal math."},
            {"name": "pictures", "description": "The same numbers drawn, as SVG or PNG, or in words as text."},
            {"name": "shop", "description": "What the shop writes itself; needs a key."},
            {"name": "operations", "description": "The service about itself."},
        ],
    )
    describer = Describer(reference)
    _shared(spec)
    for table in TABLES:
        _table(spec, describer, table)
    _alloys(spec, describer)
    for calculation in CALCULATIONS.values():
        _calculation(spec, describer, calculation)
    for kind in PICTURES.values():
        _picture(spec, describer, kind)
    describe_shop(spec, describer)
    _operations(spec, describer)
    for name, schema in describer.components.items():
        spec.components.schema(name, schema)
    found: dict[str, Any] = spec.to_dict()
    for operations in found["paths"].values():
        for operation in operations.values():
            operation["responses"]["431"] = {"$ref": "#/components/responses/HeadersTooLarge"}
    if closed:
        close(found)
    return found


@lru_cache(maxsize=1)
def in_yaml(described: bytes) -> bytes:
    """A description in JSON as YAML, the last one kept: writing it takes half a second."""
    # Read anew from JSON: the same object standing twice would otherwise come out as a YAML alias.
    found: bytes = yaml.dump(
        json.loads(described), Dumper=DUMPER, sort_keys=False, allow_unicode=True, width=110, encoding="utf-8"
    )
    return found


def _shared(spec: APISpec) -> None:
    issue = {
        "type": "object",
        "required": ["pointer", "code", "detail", "suggestions"],
        "properties": {
            "pointer": {
                "type": "string",
                "description": "JSON pointer to the fault; empty for the whole input.",
            },
            "code": {"type": "string"},
            "detail": {"type": "string"},
            "suggestions": {"type": "array", "items": {"type": "string"}},
            "choices": {
                "type": "array",
                "description": "What the suggestions are, where they have a name.",
                "items": {
                    "type": "object",
                    "required": ["id", "name", "what"],
                    "properties": {name: {"type": "string"} for name in ("id", "name", "what")},
                },
            },
        },
    }
    spec.components.schema(
        "Problem",
        {
            "type": "object",
            "required": ["type", "title", "status", "detail", "errors"],
            "properties": {
                "type": {"type": "string", "enum": [f"/v1/problems/{name}" for name in TYPES]},
                "title": {"type": "string"},
                "status": {"type": "integer"},
                "detail": {"type": "string"},
                "errors": {"type": "array", "items": issue},
            },
        },
    )
    content = {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    spec.components.response("Problem", {"description": "What is wrong, and where.", "content": content})
    too_large = {"description": "All headers of the request together are too large.", "content": content}
    spec.components.response("HeadersTooLarge", too_large)
    spec.components.response("NotModified", {"description": "The copy with that ETag is still good."})
    spec.components.schema(
        "Dataset",
        {
            "type": "object",
            "required": ["version", "hash"],
            "properties": {"version": {"type": "string"}, "hash": {"type": "string"}},
            "description": "Which data the answer rests on.",
        },
    )
    spec.components.schema("Assumption", _assumption())
    spec.components.header(
        "ETag",
        {"description": "Strong validator; send it back in If-None-Match.", "schema": {"type": "string"}},
    )


def _assumption() -> Schema:
    numbers = {name: {"type": "number"} for name in ("value", "low", "high")}
    texts = {name: {"type": "string"} for name in ("id", "text", "unit", "source", "note")}
    return {
        "type": "object",
        "required": ["id", "text", "value", "unit", "low", "high", "status", "source"],
        "properties": {**texts, **numbers, "status": {"type": "string", "enum": STATUSES}},
        "description": "Something the answer rests on that the caller did not say.",
    }


def _with_dataset(schema: Schema) -> Schema:
    return {
        "allOf": [
            schema,
            {"type": "object", "required": ["dataset"], "properties": {"dataset": refer("Dataset")}},
        ]
    }


def _open(describer: Describer, type_: type) -> Schema:
    """The schema of a view that the dataset line is added to, so it cannot be closed."""
    describer.record(type_, output=True)
    schema = describer.components[type_.__name__]
    schema.pop("additionalProperties", None)
    return _with_dataset(refer(type_.__name__))


def _table(spec: APISpec, describer: Describer, table: TableRoute) -> None:
    row = describer.record(table.view, output=True)
    listing = _list_schema(table.field, row)
    name = table.field
    spec.path(f"/v1/{table.name}", operations=read(table.summary, f"list_{name}", listing, ("json", "csv")))
    spec.path(f"/v1/{table.name}.csv", operations=_csv(table.summary, f"list_{name}_csv"))
    if table.key is not None:
        where = path_parameter("name", f"The {table.key} of the entry.", table.example)
        schema = _open(describer, table.detail or table.view)
        spec.path(
            f"/v1/{table.name}/{{name}}",
            operations=read(f"One of: {table.summary}", f"get_{name}", schema, ("json",), [where]),
        )


def _list_schema(field: str, row: Schema, paged: bool = False) -> Schema:
    properties = {
        field: {"type": "array", "items": row},
        "total": {"type": "integer"},
        "dataset": refer("Dataset"),
    }
    if paged:
        properties |= {"page": {"type": "integer"}, "page_size": {"type": "integer"}}
    return {"type": "object", "required": list(properties), "properties": properties}


def _csv(summary: str, operation: str, parameters: list[Any] | None = None) -> dict[str, Any]:
    table = read(f"{summary}, as csv", operation, None, ("csv",), parameters)
    table["get"]["parameters"] = [*(parameters or []), ON_ERROR, DECIMAL]
    return table


def _alloys(spec: APISpec, describer: Describer) -> None:
    row = describer.record(AlloyView, output=True)
    # `fields` may leave any of them out.
    describer.components[AlloyView.__name__].pop("required")
    query = [query_parameter(describer, one) for one in items(AlloyQuery).values()]
    listing = _list_schema("alloys", row, True)
    spec.path(
        "/v1/alloys",
        operations=read("Alloys that answer a question", "list_alloys", listing, ("json", "csv"), query),
    )
    spec.path("/v1/alloys.csv", operations=_csv("Alloys that answer a question", "list_alloys_csv", query))
    where = path_parameter("name", "Id, exact name or alias of the alloy.", EXAMPLE_ALLOY)
    detail = _open(describer, AlloyDetail)
    spec.path(
        "/v1/alloys/{name}",
        operations=read("Everything known of an alloy", "get_alloy", detail, ("json",), [where]),
    )
    for name, dimension in PROPERTIES.items():
        which = "Id, name or alias of an alloy, symbol of an element, or with a key an alloy of the shop (shop:...)."
        where = path_parameter("name", which, EXAMPLE_GOLD if name == "karat" else EXAMPLE_ALLOY)
        unit = {
            "name": UNIT,
            "in": "query",
            "description": "The unit wanted.",
            "schema": refer(f"{dimension.value.capitalize()}Unit"),
        }
        operations = read(
            f"The {name} of an alloy, one number",
            f"get_alloy_{name}",
            _open(describer, NumberView),
            ("json", "text", "csv"),
            [where, unit],
        )
        guarded(operations["get"], [*ANYONE, *READER])
        spec.path(f"/v1/alloys/{{name}}/{name}", operations=operations)
    dataset = describer.record(DatasetView, output=True)
    spec.path(
        "/v1/dataset",
        operations=read("Version, hash, counts and changelog of the data", "get_dataset", dataset),
    )


def _calculation(spec: APISpec, describer: Describer, calculation: Calculation) -> None:
    name = calculation.name
    operation, answer_name = name.replace("-", "_"), f"{name.title().replace('-', '')}Answer"
    inputs = describer.record(calculation.inputs)
    result = describer.record(calculation.result, output=True)
    caution = {
        "type": "object",
        "required": ["id", "title", "text", "refer", "status", "source"],
        "properties": {key: {"type": "string"} for key in ("id", "title", "text", "refer", "status", "source")},
    }
    answer = {
        "type": "object",
        "required": ["result", "inputs", "assumptions", "cautions", "dataset"],
        "properties": {
            "result": result,
            "inputs": {"type": "object", "description": "The inputs as understood, in base units; may be sent back."},
            "assumptions": {"type": "array", "items": refer("Assumption")},
            "cautions": {"type": "array", "items": caution},
            "dataset": refer("Dataset"),
            "record": {"type": "string", "description": "Id of the record, if one was asked for."},
        },
    }
    describer.components[answer_name] = answer
    content: dict[str, Any] = {"application/json": {"schema": refer(answer_name)}}
    forms = ("json", "text") if calculation.text else ("json",)
    if calculation.text:
        content["text/plain"] = {"schema": {"type": "string"}}
    problems = dict.fromkeys(("400", "408", "411", "413", "415", "422", "429", "500", "503"), PROBLEM)
    operations: dict[str, Any] = {
        "post": {
            "summary": calculation.title,
            "description": calculation.doc,
            "operationId": operation,
            "tags": ["calculations"],
            "parameters": [RECORD_PARAMETER, ONCE],
            "requestBody": {
                "required": True,
                "content": {
                    "application/json": {
                        "schema": inputs,
                        "examples": {"bench": {"value": calculation.example}},
                    }
                },
            },
            "responses": {
                "200": {"description": calculation.title, "content": content, "links": record_link()},
                **problems,
            },
        }
    }
    metals = names_metals(calculation.inputs)
    guarded(operations["post"], [*ANYONE, *(ASKER if metals else []), *WRITER])
    if calculation.query:
        get = read(
            calculation.title,
            f"{operation}_by_query",
            refer(answer_name),
            forms,
            _query_parameters(describer, calculation),
        )
        get["get"]["tags"] = ["calculations"]
        operations |= get
        if metals:
            guarded(operations["get"], [*ANYONE, *READER])
    spec.path(f"/v1/{name}", operations=operations)
    if calculation.bulk:
        many = bulk_path(calculation, PROBLEM)
        if metals:
            guarded(many["post"], [*ANYONE, *ASKER])
        spec.path(f"/v1/bulk/{name}", operations=many)


def _picture(spec: APISpec, describer: Describer, kind: PictureKind) -> None:
    name = kind.name.replace("-", "_")
    forms = ("svg", "png", "text")
    drawn = read(kind.title, f"get_{name}", None, forms, _query_parameters(describer, kind) if kind.query else [])[
        "get"
    ]
    text = {"schema": {"type": "string"}}
    drawn["responses"]["200"]["content"] = {SVG: text, PNG: {"schema": {}}, "text/plain": text}
    drawn |= {"tags": ["pictures"], "description": kind.doc}
    if names_metals(kind.inputs):
        guarded(drawn, [*ANYONE, *(READER if kind.query else ASKER)])
    if kind.query:
        spec.path(f"/v1/pictures/{kind.name}", operations={"get": drawn})
        return
    for status in ("304", "404"):
        del drawn["responses"][status]
    del drawn["responses"]["200"]["headers"]
    drawn["responses"] |= dict.fromkeys(("408", "411", "413", "415"), PROBLEM)
    drawn["operationId"] = f"draw_{name}"
    drawn["parameters"] = [format_parameter(*forms)]
    schema = describer.record(kind.inputs)
    content = {"application/json": {"schema": schema, "examples": {"bench": {"value": kind.example}}}}
    drawn["requestBody"] = {"required": True, "content": content}
    spec.path(f"/v1/pictures/{kind.name}", operations={"post": drawn})


def _query_parameters(describer: Describer, calculation: Calculation | PictureKind) -> list[dict[str, Any]]:
    """The declared inputs as query parameters: a quantity as `4.82 g`, or as a number with its unit apart."""
    parameters = []
    for one in items(calculation.inputs).values():
        if isinstance(one.kind, Quantity):
            unit = refer(unit_schema(one.kind))
            doc = f"{one.doc} A number, with its unit in {one.name}_unit, or with the unit after a space."
            parameters.append(
                {
                    "name": one.name,
                    "in": "query",
                    "description": doc,
                    "required": not one.optional,
                    "schema": {"type": "string", "pattern": r"^[0-9]{1,6}(\.[0-9]{1,9})?( [^0-9 ].*)?$"},
                    **({"example": one.example} if one.example else {}),
                }
            )
            parameters.append(
                {
                    "name": f"{one.name}_{UNIT}",
                    "in": "query",
                    "description": f"Unit of {one.name}.",
                    "schema": unit,
                }
            )
            continue
        parameter = query_parameter(describer, one)
        # A query is flat: of the two ways to write these, only the string fits.
        for object_, flat in (("Metal", "MetalName"), ("Fineness", "FinenessText")):
            if parameter["schema"].get("$ref", "").endswith(f"/{object_}"):
                parameter["schema"] = refer(flat)
        parameters.append(parameter)
    if main_quantity(calculation.inputs) is not None:
        parameters.append(
            {
                "name": UNIT,
                "in": "query",
                "description": "Unit of the one required quantity.",
                "schema": refer("MassUnit"),
            }
        )
    return parameters


def _operations(spec: APISpec, describer: Describer) -> None:
    status = {"type": "object", "required": ["status"], "properties": {"status": {"type": "string"}}}
    for path, summary, doc, name in (
        ("/healthz", "Alive", "The process answers. For a supervisor.", "healthz"),
        (
            "/readyz",
            "Ready to answer",
            "The data are loaded, their databases answer, and the shop's own can be written. For a load balancer.",
            "readyz",
        ),
    ):
        responses = {
            "200": {"description": summary, "content": {"application/json": {"schema": status}}},
            "500": PROBLEM,
        }
        if name == "readyz":
            responses["503"] = PROBLEM
        spec.path(
            path,
            operations={
                "get": {
                    "summary": summary,
                    "description": doc,
                    "operationId": name,
                    "tags": ["operations"],
                    "responses": responses,
                }
            },
        )
    described = read("This description", "openapi", {"type": "object"}, ())
    described["get"]["tags"] = ["operations"]
    spec.path("/openapi.json", operations=described)
    spec.path("/openapi.yaml", operations=_in_yaml())
    kind = {
        "type": "object",
        "required": ["id", "status", "title", "meaning"],
        "properties": {
            "id": {"type": "string"},
            "status": {"type": "integer"},
            "title": {"type": "string"},
            "meaning": {"type": "string"},
        },
    }
    spec.components.schema("ProblemKind", kind)
    listing = {
        "type": "object",
        "required": ["problems", "total"],
        "properties": {
            "problems": {"type": "array", "items": refer("ProblemKind")},
            "total": {"type": "integer"},
        },
    }
    for path, summary, name, schema, parameters in (
        ("/v1/problems", "Kinds of problem", "list_problems", listing, []),
        (
            "/v1/problems/{name}",
            "One kind of problem",
            "get_problem",
            refer("ProblemKind"),
            [path_parameter("name", "Id of the problem type.", "invalid")],
        ),
    ):
        operations = read(summary, name, schema, ("json",), parameters)
        operations["get"]["tags"] = ["operations"]
        spec.path(path, operations=operations)


def _in_yaml() -> dict[str, Any]:
    """The description as YAML: no other form, and no parameters."""
    one = read("This description as YAML", "openapi_yaml", None, ())
    one["get"]["tags"] = ["operations"]
    one["get"]["responses"]["200"]["content"] = {"application/yaml": {"schema": {}}}
    return one
