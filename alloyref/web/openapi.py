"""The OpenAPI 3.1 description, generated from the declarations; the copy in `openapi/` is compared with it in CI."""

from __future__ import annotations

from typing import Any

from apispec import APISpec

from alloyref import __version__
from alloyref.domain.calculation import Calculation, CompositionOf, Item, Quantity, items
from alloyref.domain.finder import AlloyQuery
from alloyref.domain.reference import Reference
from alloyref.pictures.drawing import PNG, SVG
from alloyref.pictures.kinds import PICTURES, PictureKind
from alloyref.services.calculations import CALCULATIONS
from alloyref.services.lookup import PROPERTIES
from alloyref.services.views import AlloyDetail, AlloyView, DatasetView, NumberView
from alloyref.web.bulk.describe import bulk_path
from alloyref.web.problems import TYPES
from alloyref.web.routes.tables import TABLES, TableRoute
from alloyref.web.schemas.describe import STATUSES, Describer, Schema
from alloyref.web.schemas.query import UNIT, main_quantity

ABOUT = """Alloy properties with source and uncertainty, and the metal math of a casting shop.

Quantities carry their unit. Every served value has a standing and a source. Errors are problem documents
(RFC 9457) with a JSON pointer to each fault. Casting, melting and pickling can hurt: answers carry the usual
cautions, and local codes and licensed practice come first.
"""
EXAMPLE_ALLOY = "sterling-silver"
EXAMPLE_GOLD = "gold-585-yellow"
PROBLEM = {"$ref": "#/components/responses/Problem"}


def document(reference: Reference) -> dict[str, Any]:
    """The whole description."""
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
    _operations(spec, describer)
    for name, schema in describer.components.items():
        spec.components.schema(name, schema)
    found: dict[str, Any] = spec.to_dict()
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
    spec.components.response("HeaderTooLarge", {"description": "The request's header fields are too large."})
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


def _refer(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}


def _format(*names: str) -> dict[str, Any]:
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


def _read(
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
    own = [_format(*forms), ON_ERROR, DECIMAL] if forms else []
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
                "500": PROBLEM,
            },
        }
    }


def _manner(forms: tuple[str, ...]) -> str:
    given = f"Given as {' or '.join(forms)}. " if len(forms) > 1 else ""
    return f"{given}The answer may be kept: it has a strong ETag, and If-None-Match is answered with 304."


def _with_dataset(schema: Schema) -> Schema:
    return {
        "allOf": [
            schema,
            {"type": "object", "required": ["dataset"], "properties": {"dataset": _refer("Dataset")}},
        ]
    }


def _open(describer: Describer, type_: type) -> Schema:
    """The schema of a view that the dataset line is added to, so it cannot be closed."""
    describer.record(type_, output=True)
    schema = describer.components[type_.__name__]
    schema.pop("additionalProperties", None)
    return _with_dataset(_refer(type_.__name__))


def _table(spec: APISpec, describer: Describer, table: TableRoute) -> None:
    row = describer.record(table.view, output=True)
    listing = _list_schema(table.field, row)
    name = table.field
    spec.path(f"/v1/{table.name}", operations=_read(table.summary, f"list_{name}", listing, ("json", "csv")))
    spec.path(f"/v1/{table.name}.csv", operations=_csv(table.summary, f"list_{name}_csv"))
    if table.key is not None:
        example = "Ag" if table.key == "symbol" else "ideal-mixing"
        where = _path_parameter("name", f"The {table.key} of the entry.", example)
        schema = _open(describer, table.detail or table.view)
        spec.path(
            f"/v1/{table.name}/{{name}}",
            operations=_read(f"One of: {table.summary}", f"get_{name}", schema, ("json",), [where]),
        )


def _list_schema(field: str, row: Schema, paged: bool = False) -> Schema:
    properties = {
        field: {"type": "array", "items": row},
        "total": {"type": "integer"},
        "dataset": _refer("Dataset"),
    }
    if paged:
        properties |= {"page": {"type": "integer"}, "page_size": {"type": "integer"}}
    return {"type": "object", "required": list(properties), "properties": properties}


def _csv(summary: str, operation: str, parameters: list[Any] | None = None) -> dict[str, Any]:
    read = _read(f"{summary}, as csv", operation, None, ("csv",), parameters)
    read["get"]["parameters"] = [*(parameters or []), ON_ERROR, DECIMAL]
    return read


def _path_parameter(name: str, doc: str, example: str) -> dict[str, Any]:
    return {
        "name": name,
        "in": "path",
        "required": True,
        "description": doc,
        "schema": {"type": "string", "minLength": 1},
        "example": example,
    }


def _alloys(spec: APISpec, describer: Describer) -> None:
    row = describer.record(AlloyView, output=True)
    # `fields` may leave any of them out.
    describer.components[AlloyView.__name__].pop("required")
    query = [_query(describer, one) for one in items(AlloyQuery).values()]
    listing = _list_schema("alloys", row, True)
    spec.path(
        "/v1/alloys",
        operations=_read("Alloys that answer a question", "list_alloys", listing, ("json", "csv"), query),
    )
    spec.path("/v1/alloys.csv", operations=_csv("Alloys that answer a question", "list_alloys_csv", query))
    where = _path_parameter("name", "Id of the alloy.", EXAMPLE_ALLOY)
    detail = _open(describer, AlloyDetail)
    spec.path(
        "/v1/alloys/{name}",
        operations=_read("Everything known of an alloy", "get_alloy", detail, ("json",), [where]),
    )
    for name, dimension in PROPERTIES.items():
        where = _path_parameter("name", "Id of the alloy.", EXAMPLE_GOLD if name == "karat" else EXAMPLE_ALLOY)
        unit = {
            "name": UNIT,
            "in": "query",
            "description": "The unit wanted.",
            "schema": _refer(f"{dimension.value.capitalize()}Unit"),
        }
        operations = _read(
            f"The {name} of an alloy, one number",
            f"get_alloy_{name}",
            _open(describer, NumberView),
            ("json", "text"),
            [where, unit],
        )
        spec.path(f"/v1/alloys/{{name}}/{name}", operations=operations)
    dataset = describer.record(DatasetView, output=True)
    spec.path(
        "/v1/dataset",
        operations=_read("Version, hash, counts and changelog of the data", "get_dataset", dataset),
    )


def _query(describer: Describer, one: Item) -> dict[str, Any]:
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
            "inputs": {"type": "object", "description": "The inputs as understood, in base units."},
            "assumptions": {"type": "array", "items": _refer("Assumption")},
            "cautions": {"type": "array", "items": caution},
            "dataset": _refer("Dataset"),
        },
    }
    describer.components[answer_name] = answer
    content: dict[str, Any] = {"application/json": {"schema": _refer(answer_name)}}
    forms = ("json", "text") if calculation.text else ("json",)
    if calculation.text:
        content["text/plain"] = {"schema": {"type": "string"}}
    problems = dict.fromkeys(("400", "408", "411", "413", "415", "422", "500", "503"), PROBLEM)
    operations: dict[str, Any] = {
        "post": {
            "summary": calculation.title,
            "description": calculation.doc,
            "operationId": operation,
            "tags": ["calculations"],
            "requestBody": {
                "required": True,
                "content": {
                    "application/json": {
                        "schema": inputs,
                        "examples": {"bench": {"value": calculation.example}},
                    }
                },
            },
            "responses": {"200": {"description": calculation.title, "content": content}, **problems},
        }
    }
    if calculation.query:
        get = _read(
            calculation.title,
            f"{operation}_by_query",
            _refer(answer_name),
            forms,
            _query_parameters(describer, calculation),
        )
        get["get"]["tags"] = ["calculations"]
        operations |= get
    spec.path(f"/v1/{name}", operations=operations)
    if calculation.bulk:
        spec.path(f"/v1/bulk/{name}", operations=bulk_path(calculation, PROBLEM))


def _picture(spec: APISpec, describer: Describer, kind: PictureKind) -> None:
    name = kind.name.replace("-", "_")
    forms = ("svg", "png", "text")
    read = _read(kind.title, f"get_{name}", None, forms, _query_parameters(describer, kind) if kind.query else [])[
        "get"
    ]
    text = {"schema": {"type": "string"}}
    read["responses"]["200"]["content"] = {SVG: text, PNG: {"schema": {}}, "text/plain": text}
    read |= {"tags": ["pictures"], "description": kind.doc}
    if kind.query:
        spec.path(f"/v1/pictures/{kind.name}", operations={"get": read})
        return
    for status in ("304", "404"):
        del read["responses"][status]
    del read["responses"]["200"]["headers"]
    read["responses"] |= dict.fromkeys(("408", "411", "413", "415"), PROBLEM)
    read["operationId"] = f"draw_{name}"
    read["parameters"] = [_format(*forms)]
    schema = describer.record(kind.inputs)
    content = {"application/json": {"schema": schema, "examples": {"bench": {"value": kind.example}}}}
    read["requestBody"] = {"required": True, "content": content}
    spec.path(f"/v1/pictures/{kind.name}", operations={"post": read})


def _query_parameters(describer: Describer, calculation: Calculation | PictureKind) -> list[dict[str, Any]]:
    """The declared inputs as query parameters: a quantity as `4.82 g`, or as a number with its unit apart."""
    parameters = []
    for one in items(calculation.inputs).values():
        if isinstance(one.kind, Quantity):
            unit = _refer(f"{one.kind.dimension.value.capitalize()}Unit")
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
        parameter = _query(describer, one)
        # A query is flat: of the two ways to write these, only the string fits.
        for object_, flat in (("Metal", "MetalId"), ("Fineness", "FinenessText")):
            if parameter["schema"].get("$ref", "").endswith(f"/{object_}"):
                parameter["schema"] = _refer(flat)
        parameters.append(parameter)
    if main_quantity(calculation.inputs) is not None:
        parameters.append(
            {
                "name": UNIT,
                "in": "query",
                "description": "Unit of the one required quantity.",
                "schema": _refer("MassUnit"),
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
            "The data are loaded and their databases answer. For a load balancer.",
            "readyz",
        ),
    ):
        responses = {
            "200": {"description": summary, "content": {"application/json": {"schema": status}}},
            "431": {"$ref": "#/components/responses/HeaderTooLarge"},
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
    described = _read("This description", "openapi", {"type": "object"}, ())
    described["get"]["tags"] = ["operations"]
    spec.path("/openapi.json", operations=described)
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
            "problems": {"type": "array", "items": _refer("ProblemKind")},
            "total": {"type": "integer"},
        },
    }
    for path, summary, name, schema, parameters in (
        ("/v1/problems", "Kinds of problem", "list_problems", listing, []),
        (
            "/v1/problems/{name}",
            "One kind of problem",
            "get_problem",
            _refer("ProblemKind"),
            [_path_parameter("name", "Id of the problem type.", "invalid")],
        ),
    ):
        operations = _read(summary, name, schema, ("json",), parameters)
        operations["get"]["tags"] = ["operations"]
        spec.path(path, operations=operations)
