"""Every answer about the shop's own data keeps to its description."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from alloyref.shop.keys import create
from alloyref.web.service import KEY

FaultsBy = Callable[[str, Any], list[str]]
PLACE = "/paths/~1v1~1shop~1{}/{}/responses/{}/content/application~1json/schema"


@pytest.fixture
def headers(app: Flask) -> dict[str, str]:
    """A key that reads and writes."""
    whole = create(app.extensions[KEY].database, "description", ("read", "write"))[1]
    return {"Authorization": f"Bearer {whole}"}


def test_the_examples_are_written_and_read_as_described(
    client: FlaskClient, description: dict[str, Any], faults_by: FaultsBy, headers: dict[str, str]
) -> None:
    wrong: list[Any] = []

    def asked(method: str, path: str, described: str, status: int, **sent: Any) -> Any:
        answer = client.open(f"/v1/shop/{path}", method=method, headers=headers, **sent)
        assert answer.status_code == status, answer.text
        wrong.extend(faults_by(PLACE.format(described, method.lower(), status), answer.json))
        return answer

    for kind in ("alloys", "prices"):
        post = description["paths"][f"/v1/shop/{kind}"]["post"]["requestBody"]["content"]["application/json"]
        body = post["examples"]["bench"]["value"]
        made = asked("POST", kind, kind, 201, json=body)
        entry = f"{kind}/{made.json['id']}"
        asked("GET", entry, f"{kind}~1%7Bname%7D", 200)
        body.pop("id", None)
        replace = {"json": body, "headers": {**headers, "If-Match": made.headers["ETag"]}}
        put = client.put(f"/v1/shop/{entry}", **replace)
        assert put.status_code == 200
        wrong.extend(faults_by(PLACE.format(f"{kind}~1%7Bname%7D", "put", 200), put.json))
        asked("GET", kind, kind, 200)
        asked("GET", f"{entry}/history", f"{kind}~1%7Bname%7D~1history", 200)
    example = description["paths"]["/v1/transfer"]["post"]["requestBody"]["content"]["application/json"]["examples"]
    answer = client.post("/v1/transfer?record=true", json=example["bench"]["value"], headers=headers)
    wrong.extend(faults_by("/paths/~1v1~1transfer/post/responses/200/content/application~1json/schema", answer.json))
    record = f"records/{answer.json['record']}"  # type: ignore[index]
    asked("GET", "records", "records", 200)
    asked("GET", record, "records~1%7Bname%7D", 200)
    asked("POST", f"{record}/recompute", "records~1%7Bname%7D~1recompute", 200, json={"dataset": "own"})
    asked("GET", "history", "history", 200)
    assert wrong == []


def test_the_schemas_tell_names_from_noise(faults_by: FaultsBy) -> None:
    for name, good in (("shop:house-yellow-14", True), ("shop:", False), ("shop:Ab", False), ("shopx", False)):
        assert (faults_by("/components/schemas/MetalName", name) == []) is good
        assert (faults_by("/components/schemas/Metal", name) == []) is good
