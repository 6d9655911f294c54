"""One declaration, every face: each calculation appears and answers alike by POST, GET, command line and text."""

from __future__ import annotations

import json
from typing import Any

import click
import pytest
from click.testing import CliRunner
from flask.testing import FlaskClient

from alloyref.cli import main
from alloyref.domain.calculation import Calculation, ListOf, Quantity, Record, items
from alloyref.services.calculations import CALCULATIONS
from alloyref.web.schemas.options import flat, option_name

ALL = pytest.mark.parametrize("calculation", CALCULATIONS.values(), ids=CALCULATIONS)
BY_QUERY = pytest.mark.parametrize(
    "calculation", [one for one in CALCULATIONS.values() if one.query], ids=lambda one: one.name
)
BY_TEXT = pytest.mark.parametrize(
    "calculation", [one for one in CALCULATIONS.values() if one.text], ids=lambda one: one.name
)


def declared(type_: type) -> list[str]:
    """The names that a declared dataclass takes, in order."""
    return [one.name for one in items(type_).values()]


def nested(type_: type) -> list[type]:
    """A declared dataclass and all within it."""
    found = [type_]
    for one in items(type_).values():
        record = one.kind.record if isinstance(one.kind, ListOf) else one.kind
        if isinstance(record, Record):
            found += nested(record.type)
    return list(dict.fromkeys(found))


def schema_of(description: dict[str, Any], type_: type) -> dict[str, Any]:
    """The named schema of a declared dataclass."""
    schema: dict[str, Any] = description["components"]["schemas"][type_.__name__]
    return schema


def cli_options(calculation: Calculation) -> list[str]:
    """The example of a calculation as command line options."""
    options: list[str] = []
    for path, one in flat(calculation.inputs):
        value: Any = calculation.example
        for step in path:
            value = value.get(step) if isinstance(value, dict) else None
        if value is None:
            continue
        for single in value if isinstance(one.kind, ListOf) else [value]:
            options += [option_name(path), single if isinstance(single, str) else json.dumps(single)]
    return options


def by_command(folder: Any, *arguments: str, stdin: str | None = None) -> Any:
    """The JSON that a command prints."""
    environment = {"ALLOYREF_DATA_DIR": str(folder)}
    ran = CliRunner().invoke(main, [*arguments, "--json"], input=stdin, env=environment, catch_exceptions=False)
    assert ran.exit_code == 0, ran.output
    return json.loads(ran.stdout)


@ALL
def test_the_declaration_is_whole(calculation: Calculation) -> None:
    assert CALCULATIONS[calculation.name] is calculation
    assert calculation.title
    assert calculation.doc.endswith(".")
    assert calculation.example
    assert set(calculation.example) <= set(declared(calculation.inputs))
    for type_ in (*nested(calculation.inputs), *nested(calculation.result)):
        assert type_.__doc__
        assert all(one.doc.endswith(".") for one in items(type_).values()), type_
    assert calculation.text is None or calculation.text in items(calculation.result)


@ALL
def test_the_declared_names_are_those_of_the_posted_schema(
    description: dict[str, Any], calculation: Calculation
) -> None:
    body = description["paths"][f"/v1/{calculation.name}"]["post"]["requestBody"]["content"]["application/json"]
    assert body["schema"]["$ref"].rsplit("/", 1)[1] == calculation.inputs.__name__
    for type_ in nested(calculation.inputs):
        schema = schema_of(description, type_)
        assert list(schema["properties"]) == declared(type_)
        assert schema["additionalProperties"] is False
        required = [one.name for one in items(type_).values() if not one.optional]
        assert schema.get("required", []) == required
        for one in items(type_).values():
            assert schema["properties"][one.name]["description"] == one.doc


@BY_QUERY
def test_the_declared_names_are_those_of_the_query(description: dict[str, Any], calculation: Calculation) -> None:
    parameters = description["paths"][f"/v1/{calculation.name}"]["get"]["parameters"]
    names = [one["name"] for one in parameters]
    own = items(calculation.inputs).values()
    expected = {one.name for one in own} | {f"{one.name}_unit" for one in own if isinstance(one.kind, Quantity)}
    assert len(names) == len(set(names))
    assert expected | {"format", "on_error", "decimal"} == set(names) - {"unit"}
    required = {one["name"] for one in parameters if one.get("required")}
    assert required == {one.name for one in own if not one.optional}


@ALL
def test_only_declared_calculations_take_a_query(description: dict[str, Any], calculation: Calculation) -> None:
    assert ("get" in description["paths"][f"/v1/{calculation.name}"]) == calculation.query


@ALL
def test_the_declared_names_are_those_of_the_options(calculation: Calculation) -> None:
    command = main.commands[calculation.name]
    options = {name for one in command.params if isinstance(one, click.Option) for name in one.opts}
    assert {option_name(path) for path, _ in flat(calculation.inputs)} == options - {"--input", "--json", "--decimal"}
    # Every scalar of every nested object can be reached.
    reached = {path[-1] for path, _ in flat(calculation.inputs)}
    assert {one.name for one in items(calculation.inputs).values() if not isinstance(one.kind, Record)} <= reached
    for one in command.params:
        assert isinstance(one, click.Option)
        assert one.help


@ALL
def test_the_example_gives_the_same_by_every_way(client: FlaskClient, folder: Any, calculation: Calculation) -> None:
    posted = client.post(f"/v1/{calculation.name}", json=calculation.example)
    assert posted.status_code == 200
    answer = posted.json
    assert answer is not None
    assert set(answer["result"]) == set(declared(calculation.result))
    assert set(answer["inputs"]) == set(declared(calculation.inputs))
    assert by_command(folder, calculation.name, *cli_options(calculation)) == answer
    stdin = json.dumps(calculation.example)
    assert by_command(folder, calculation.name, "--input", "-", stdin=stdin) == answer
    if calculation.query:
        assert client.get(f"/v1/{calculation.name}", query_string=calculation.example).json == answer


@BY_TEXT
def test_the_text_form_is_the_declared_field(client: FlaskClient, calculation: Calculation) -> None:
    path = f"/v1/{calculation.name}"
    text = client.post(path, json=calculation.example, headers={"Accept": "text/plain"}).text
    result = client.post(path, json=calculation.example).json["result"]  # type: ignore[index]
    name = items(calculation.result)[calculation.text or ""].name
    assert float(text) == result[name]["value"]
    if calculation.query:
        assert client.get(path, query_string={**calculation.example, "format": "text"}).text == text


@ALL
def test_what_was_understood_can_be_asked_again(client: FlaskClient, calculation: Calculation) -> None:
    path = f"/v1/{calculation.name}"
    first = client.post(path, json=calculation.example).json
    assert first is not None

    def bare(value: Any) -> Any:
        """As sent: without what was left out, a metal by its id, a quantity without its shown forms."""
        if isinstance(value, dict):
            if "composition" in value and "id" in value:
                return value["id"] or {"composition": value["composition"]}
            return {name: bare(inner) for name, inner in value.items() if inner not in (None, [], {})}
        return [bare(inner) for inner in value] if isinstance(value, list) else value

    again = client.post(path, json=bare(first["inputs"]))
    assert again.status_code == 200, again.text
    assert again.json is not None
    assert again.json["result"] == first["result"]


@ALL
def test_an_answer_says_what_it_rests_on(client: FlaskClient, calculation: Calculation) -> None:
    answer = client.post(f"/v1/{calculation.name}", json=calculation.example).json
    assert answer is not None
    assert set(answer) == {"result", "inputs", "assumptions", "cautions", "dataset"}
    for one in answer["assumptions"]:
        assert one["low"] <= one["value"] <= one["high"]
        if one["source"] != "caller":
            assert client.get(f"/v1/sources/{one['source']}").status_code == 200
    served = client.get("/v1/dataset").json
    assert served is not None
    assert answer["dataset"] == {"version": served["version"], "hash": served["hash"]}
