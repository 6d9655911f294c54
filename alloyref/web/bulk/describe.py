"""The bulk paths in the API description."""

from __future__ import annotations

import json
from typing import Any

from alloyref.domain.calculation import Calculation
from alloyref.domain.numbers import COMMA, POINT
from alloyref.domain.searches import MOST_SEARCHES
from alloyref.web.bulk.columns import result_columns
from alloyref.web.bulk.lines import MOST_LINE
from alloyref.web.bulk.run import CSV, NDJSON

FAILURES = ("400", "408", "411", "413", "415", "422", "500", "503")
HOW = """One question a row; the rows come back in order, as they came, each with its result or its error, and a
row without an answer never stops the rest. In csv the head names fields of the calculation as its query does (a
quantity with its unit in the cell, or in a column of its own), an empty cell is a field not given, and the columns
{columns} and `error` are added; numbers are rounded as in a single answer and show all their decimals. A cell that
begins with `=`, `+`, `-` or `@`, full-width or after spaces too, or with tab, CR or LF, and is no plain number gets a
`'` before it. With `decimal=,` semicolons
part the cells of the csv sent and of the answer, and their numbers have a decimal comma. A quote that is not closed
costs its row, whose error names the line; what follows within the {row} bytes that a row may have is then read a line
a row. Near matches are looked for of the first {searches} misspelt names of a body; of more, the error only says that
they are unknown. An alloy of the shop counts as it was when a row first named it, to the end of the body, whatever is
done to it meanwhile. An answer larger than the service keeps is refused as a whole (413). In NDJSON each object comes
back with `result`, as a single answer has it, and `error`, which is null or a list of issues."""


def bulk_path(calculation: Calculation, problem: dict[str, str]) -> dict[str, Any]:
    """The operations of one bulk path."""
    columns = ", ".join(f"`{column.name}`" for column in result_columns(calculation.result))
    forms = {CSV: csv_example(calculation), NDJSON: ndjson_example(calculation)}
    text = {"type": "string"}
    answer = {
        "description": "The rows with their answers, in order.",
        "headers": {
            "Content-Digest": {"description": "SHA-256 of the answer (RFC 9530).", "schema": {"type": "string"}}
        },
        "content": {media: {"schema": text} for media in forms},
    }
    post = {
        "summary": f"{calculation.title}, many at once",
        "description": HOW.format(columns=columns, row=MOST_LINE, searches=MOST_SEARCHES),
        "operationId": f"bulk_{calculation.name}",
        "tags": ["calculations"],
        "parameters": PARAMETERS,
        "requestBody": {
            "required": True,
            "content": {
                media: {"schema": {**text, "minLength": 1}, "examples": {"bench": {"value": example}}}
                for media, example in forms.items()
            },
        },
        "responses": {"200": answer, **dict.fromkeys(FAILURES, problem)},
    }
    return {"post": post}


def csv_example(calculation: Calculation) -> str:
    """The example of the calculation as a head and a row."""
    cells = [f'"{value}"' if "," in value else value for value in map(str, calculation.example.values())]
    return f"{','.join(calculation.example)}\r\n{','.join(cells)}\r\n"


def ndjson_example(calculation: Calculation) -> str:
    """The example of the calculation as a line."""
    return json.dumps(calculation.example) + "\n"


PARAMETERS: list[dict[str, Any]] = [
    {
        "name": "summary",
        "in": "query",
        "description": "`true` ends the answer with a row that counts rows and errors and has the SHA-256 of all "
        "bytes before it, so that an answer cut off is known: in csv in the error column, in NDJSON as `summary`.",
        "schema": {"type": "boolean", "default": False},
    },
    {
        "name": "keep",
        "in": "query",
        "description": "Columns of your own to carry along unread, by commas, such as `sku,note`.",
        "schema": {"type": "string", "maxLength": 1000},
    },
    {
        "name": "decimal",
        "in": "query",
        "description": "Decimal mark of csv, sent and answered; with a comma, semicolons part the cells. "
        "A comma is refused for NDJSON, which keeps the point.",
        "schema": {"type": "string", "enum": [POINT, COMMA], "default": POINT},
    },
]
