"""The API description: valid, in step with the code and its checked-in copy, and kept by every answer."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import make_dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml
from flask import Flask
from flask.testing import FlaskClient
from openapi_spec_validator import validate

from alloyref.domain.reference import Reference
from alloyref.services.calculations import CALCULATIONS
from alloyref.settings import Settings
from alloyref.web.app import create_app
from alloyref.web.openapi import document
from alloyref.web.representation import FORMATS
from alloyref.web.routes import operations as routes
from alloyref.web.schemas.describe import Describer

ROOT = Path(__file__).resolve().parents[2]
COPY = ROOT / "openapi" / "openapi.yaml"
TRANSFER = {"mass": "1 g", "from_metal": "Ag", "to_metal": "Au"}
METHODS = ("get", "post", "put", "patch", "delete")
# A page for people, not part of the API.
FaultsBy = Callable[[str, Any], list[str]]


def operations(description: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every described operation: path, method and description."""
    for path, methods in description["paths"].items():
        for method in METHODS:
            if method in methods:
                yield path, method, methods[method]


def needs_key(operation: dict[str, Any]) -> bool:
    """Whether nobody without a key gets an answer; those operations have tests of their own."""
    return "security" in operation and {} not in operation["security"]


def escaped(name: str) -> str:
    """A name as a step of a JSON pointer within a reference."""
    return name.replace("~", "~0").replace("/", "~1").replace("{", "%7B").replace("}", "%7D")


def example_of(path: str, operation: dict[str, Any]) -> tuple[str, dict[str, str]]:
    """The address and query of the described examples."""
    query = {}
    for one in operation.get("parameters", []):
        if one["in"] == "path":
            path = path.replace(f"{{{one['name']}}}", one["example"])
        elif one.get("required") or "example" in one:
            query[one["name"]] = one["example"]
    return path, query


def test_it_is_valid_openapi_3_1(description: dict[str, Any]) -> None:
    validate(description)
    assert re.fullmatch(r"3\.1\.\d+", description["openapi"])


def test_the_checked_in_copy_is_in_step_with_the_code(description: dict[str, Any]) -> None:
    assert COPY.is_file(), (
        "openapi/openapi.yaml is missing: write it with `alloyref openapi --output openapi/openapi.yaml`"
    )
    with COPY.open(encoding="utf-8") as stream:
        assert yaml.safe_load(stream) == description


def test_it_is_served_as_generated(client: FlaskClient, description: dict[str, Any]) -> None:
    assert client.get("/openapi.json").json == description


def test_it_is_made_once_however_often_and_by_whatever_address_it_is_asked_for(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []

    def counted(reference: Reference, *, closed: bool) -> dict[str, Any]:
        made.append(closed)
        return document(reference, closed=closed)

    monkeypatch.setattr(routes, "document", counted)
    for closed in (True, False):
        client = create_app(Settings(data_dir=folder, require_key=closed)).test_client()
        described = client.get("/openapi.json").json
        assert "401" in described["paths"]["/v1/mass"]["get"]["responses"] or not closed
        for path in ("/openapi.json?one", "/openapi.json?two", "/openapi.json"):
            assert client.get(path).json == described
    assert made == [True, False]


def test_every_address_is_described_and_every_described_one_exists(app: Flask, description: dict[str, Any]) -> None:
    served = {
        (re.sub(r"<(?:[a-z]+:)?([a-z_]+)>", r"{\1}", rule.rule), method.lower())
        for rule in app.url_map.iter_rules()
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        if not rule.endpoint.startswith("pages.")  # for people, not for programs
    }
    described = {(path, method) for path, method, _ in operations(description)}
    assert served == described


def test_every_operation_is_named_explained_and_tagged(description: dict[str, Any]) -> None:
    ids = [operation["operationId"] for _, _, operation in operations(description)]
    assert len(ids) == len(set(ids))
    assert all(re.fullmatch(r"[a-z][a-z0-9_]*", one) for one in ids)
    tags = {tag["name"] for tag in description["tags"]}
    for path, method, operation in operations(description):
        assert operation["summary"], (path, method)
        assert operation["tags"], (path, method)
        assert set(operation["tags"]) <= tags
        for one in operation.get("parameters", []):
            assert one["description"], (path, one["name"])


def test_every_operation_tells_of_its_problems(description: dict[str, Any]) -> None:
    for path, method, operation in operations(description):
        codes = set(operation["responses"])
        wanted = {"431", "500"} if path in ("/healthz", "/readyz") else {"400", "422", "431", "500"}
        wanted |= {"408", "413", "415"} if method == "post" else set()
        wanted |= {"404"} if "{" in path else set()
        assert wanted <= codes, (path, method)
        for code in codes:
            if code >= "400":
                answer = operation["responses"][code]
                name = answer["$ref"].rsplit("/", 1)[1]
                assert set(description["components"]["responses"][name]["content"]) == {"application/problem+json"}


def test_no_schema_is_left_over(description: dict[str, Any]) -> None:
    text = yaml.safe_dump(description)
    unused = [
        name
        for name in description["components"]["schemas"]
        if f"#/components/schemas/{name}'" not in text and f"#/components/schemas/{name}\n" not in text
    ]
    assert unused == []


def test_every_answer_keeps_to_its_schema(
    client: FlaskClient, description: dict[str, Any], faults_by: FaultsBy
) -> None:
    checked, wrong = 0, []
    for path, method, operation in operations(description):
        content = operation["responses"].get("200", {}).get("content", {})
        if "application/json" not in content or needs_key(operation):
            continue
        address, query = example_of(path, operation)
        body = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
        sent = {"json": body["examples"]["bench"]["value"]} if body else {"query_string": query}
        answer = client.open(address, method=method.upper(), **sent)
        if answer.status_code == 404 and path.endswith("/karat"):
            answer = client.get("/v1/alloys/gold-750-yellow/karat")
        assert answer.status_code == 200, (path, method, answer.text)
        pointer = f"/paths/{escaped(path)}/{method}/responses/200/content/application~1json/schema"
        wrong += [(path, method, fault) for fault in faults_by(pointer, answer.json)]
        checked += 1
    assert wrong == []
    assert checked > 25


def test_every_described_example_address_has_an_answer(client: FlaskClient, description: dict[str, Any]) -> None:
    failed = []
    for path, method, operation in operations(description):
        if method == "get" and not needs_key(operation):
            address, query = example_of(path, operation)
            if client.get(address, query_string=query).status_code != 200:
                failed.append(address)
    assert failed == []


def test_every_described_form_is_given(client: FlaskClient, description: dict[str, Any]) -> None:
    for path, method, operation in operations(description):
        if method != "get" or needs_key(operation):
            continue
        address, query = example_of(path.replace("{name}/karat", "gold-750-yellow/karat"), operation)
        forms: list[str] = next(
            (one["schema"]["enum"] for one in operation.get("parameters", []) if one["name"] == "format"), []
        )
        for form in forms:
            media = client.get(address, query_string={**query, "format": form}).mimetype
            assert media == FORMATS[form]
            assert media in operation["responses"]["200"]["content"], (path, form)


def test_whole_tables_keep_to_their_schema(client: FlaskClient, faults_by: FaultsBy) -> None:
    pointer = "/paths/~1v1~1alloys/get/responses/200/content/application~1json/schema"
    listing = client.get("/v1/alloys?page_size=500").json
    assert listing is not None
    assert len(listing["alloys"]) > 100
    assert faults_by(pointer, listing) == []
    pointer = "/paths/~1v1~1alloys~1%7Bname%7D/get/responses/200/content/application~1json/schema"
    wrong = [
        (row["id"], faults)
        for row in listing["alloys"]
        if (faults := faults_by(pointer, client.get(f"/v1/alloys/{row['id']}").json))
    ]
    assert wrong == []


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("/v1/order", {}, 422),
        ("/v1/order", {"peices": 1}, 422),
        ("/v1/mass", {"value": 1, "from": "oz", "to": "g"}, 422),
        ("/v1/nothing", {}, 404),
    ],
)
def test_a_problem_keeps_to_its_schema(
    client: FlaskClient, faults_by: FaultsBy, path: str, body: Any, status: int
) -> None:
    answer = client.post(path, json=body)
    assert answer.status_code == status
    assert faults_by("/components/schemas/Problem", answer.json) == []


@pytest.mark.parametrize("name", CALCULATIONS)
def test_what_an_answer_shows_of_its_inputs_keeps_to_the_schema_of_the_request(
    client: FlaskClient, faults_by: FaultsBy, name: str
) -> None:
    shown = client.post(f"/v1/{name}", json=CALCULATIONS[name].example).json
    assert shown is not None
    assert faults_by(f"/components/schemas/{CALCULATIONS[name].inputs.__name__}", shown["inputs"]) == []


@pytest.mark.parametrize(
    ("type_", "good", "bad"),
    [
        ("MetalAsAnswered", {"id": "Au", "density": {"value": 19.3, "unit": "g/cm3"}}, {"id": "Au", "densty": None}),
        ("Metal", {"id": None, "composition": {"Au": 1000}, "density": None}, {"id": None, "status": "given"}),
        ("StoneAsAnswered", {"id": "diamond"}, {"id": None}),
        ("TransferInputs", {**TRANSFER, "readability": None}, {**TRANSFER, "mass": None}),
        (
            "OrderInputs",
            {"final_metal": "Au", "volume": "1 cm3", "trial": None},
            {"final_metal": "Au", "volume": None},
        ),
        ("MassQuantity", "4.82 dwt", "4.82"),
        ("MassQuantity", {"value": 4.82, "unit": "dwt"}, {"value": 4.82, "unit": "oz"}),
        # Bounds are in the base unit, so a number in another unit is held only to its sign.
        ("MassQuantity", {"value": 5_000_000, "unit": "mg"}, {"value": 0, "unit": "mg"}),
        ("DensityQuantity", {"value": 15400, "unit": "kg/m3"}, {"value": -1, "unit": "kg/m3"}),
        (
            "DensityTestInputs",
            {"weighings": [], "suspension": {"value": 0, "unit": "g"}, "air_density": {"value": 0, "unit": "kg/m3"}},
            {"weighings": [], "readability": {"value": 0, "unit": "g"}},
        ),
        ("MassQuantity", {"value": "4.82", "unit": "[pwt_tr]"}, {"value": 4.82}),
        ("Metal", "sterling-silver", "silver"),
        ("Metal", "14k yellow", "yellow"),
        ("Metal", {"composition": {"Au": 750, "Cu": "250"}}, {"composition": {"Xx": 1000}}),
        ("MassUnit", "ozt", "oz"),
        ("Fineness", "14 karat", "14 ct"),
        ("Fineness", {"value": 585, "unit": "permille"}, {"value": 585}),
        ("Spares", {"success_rate": 0.9}, {"success_rate": 0}),
        ("Allowances", {"melt_loss": "1 percent"}, {"melt_loss": 0.5}),
        (
            "OrderInputs",
            {"final_metal": "Au", "volume": "1 cm3"},
            {"final_metal": "Au", "volume": "1 cm3", "pieces": 0},
        ),
    ],
)
def test_the_schemas_tell_good_from_bad(faults_by: FaultsBy, type_: str, good: Any, bad: Any) -> None:
    assert faults_by(f"/components/schemas/{type_}", good) == []
    assert faults_by(f"/components/schemas/{type_}", bad) != []


def test_two_declarations_of_one_name_are_refused(reference: Reference) -> None:
    """Schemas go by the name of their dataclass: a second one would silently take the first one's place."""
    first, second = (make_dataclass("Twice", [], frozen=True) for _ in range(2))
    describer = Describer(reference)
    assert describer.record(first) == describer.record(first)
    with pytest.raises(TypeError, match="Twice"):
        describer.record(second)
