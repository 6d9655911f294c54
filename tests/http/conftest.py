"""A running service for the tests over a real socket, and how they speak to it."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import requests

from alloyref.catalogue.files import data_folder
from tests.running import Running

Start = Callable[..., Any]


@pytest.fixture(scope="session")
def server(start: Start) -> Iterator[Running]:
    """The service that most tests ask; at the end it must stop by itself, with nothing running left."""
    with start() as running:
        yield running
    assert running.process.returncode == 0
    assert "shutdown completed" in running.log.read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def strict_server(start: Start) -> Iterator[Running]:
    """A service with little patience and small bodies."""
    with start(ALLOYREF_BODY_SECONDS="2", ALLOYREF_MAX_BODY="20000") as running:
        yield running
    assert running.process.returncode == 0


@pytest.fixture(scope="session")
def web(server: Running) -> Iterator[Callable[..., requests.Response]]:
    """Ask the service: `web("GET", "/v1/alloys", params={...})`."""
    with requests.Session() as session:

        def ask(method: str, path: str, **options: Any) -> requests.Response:
            return session.request(method, server.address + path, timeout=20, **options)

        yield ask


@pytest.fixture
def no_new_fault(server: Running) -> Iterator[None]:
    """The service logs no fault while the test runs."""
    before = server.faults()
    yield
    assert server.faults() == before


@pytest.fixture(scope="session")
def problem_of() -> Callable[[requests.Response, int], dict[str, Any]]:
    """Read a problem document, holding it to its form and to the status line."""

    def read(response: requests.Response, status: int) -> dict[str, Any]:
        assert response.status_code == status, response.text[:400]
        assert response.headers["Content-Type"] == "application/problem+json"
        document: dict[str, Any] = response.json()
        assert set(document) == {"type", "title", "status", "detail", "errors"}
        assert document["status"] == status
        assert re.fullmatch(r"/v1/problems/[a-z-]+", document["type"])
        assert document["title"]
        assert document["detail"]
        for issue in document["errors"]:
            assert set(issue) - {"choices"} == {"pointer", "code", "detail", "suggestions"}
            for choice in issue.get("choices", []):
                assert set(choice) == {"id", "name", "what"}
                assert choice["id"] in issue["suggestions"]
            assert issue["pointer"] == "" or issue["pointer"].startswith("/")
            assert re.fullmatch(r"[a-z-]+", issue["code"])
            assert issue["detail"]
            assert all(isinstance(word, str) for word in issue["suggestions"])
        return document

    return read


@pytest.fixture
def demo_order() -> dict[str, Any]:
    """The order of the demo workshop, its numbers as they are written."""
    text = (data_folder() / "demo" / "order.json").read_text(encoding="utf-8")
    document: dict[str, Any] = json.loads(text, parse_float=str)
    return document


@pytest.fixture(scope="session")
def description(web: Callable[..., requests.Response]) -> dict[str, Any]:
    """The API description as served."""
    document: dict[str, Any] = web("GET", "/openapi.json").json()
    return document


@pytest.fixture(scope="session")
def read_paths(description: dict[str, Any]) -> list[str]:
    """Every address that a GET with a validator is described for, filled in with examples that have an answer."""
    paths = []
    for template, methods in description["paths"].items():
        get = methods.get("get", {})
        if "security" in get and {} not in get["security"]:
            continue
        if "ETag" not in get.get("responses", {}).get("200", {}).get("headers", {}):
            continue
        path, query = template.replace("{name}/karat", "gold-750-yellow/karat"), []
        for one in get["parameters"]:
            if one["in"] == "path":
                path = path.replace(f"{{{one['name']}}}", one["example"])
            elif one.get("required") or "example" in one:
                query.append(f"{one['name']}={one['example']}")
        paths.append(path + ("?" + "&".join(query) if query else ""))
    return paths


@pytest.fixture
def sound_order() -> dict[str, Any]:
    """A small order with nothing wrong."""
    return {
        "name": "reed-pattern band",
        "trial": {"metal": "sterling-silver", "mass": "6.31 g"},
        "final_metal": "gold-585-yellow",
        "pieces": 2,
    }


@pytest.fixture
def refused_order(
    web: Callable[..., requests.Response],
    problem_of: Callable[[requests.Response, int], dict[str, Any]],
    sound_order: dict[str, Any],
) -> Callable[[dict[str, Any], str, str, str | None], None]:
    """Change a sound order at the places that pointers name, and hold the refusal to pointer, code and suggestion."""

    def refused(changes: dict[str, Any], pointer: str, code: str, suggestion: str | None) -> None:
        order = copy.deepcopy(sound_order)
        assert web("POST", "/v1/order", json=order).status_code == 200
        for place_of, value in changes.items():
            *way, last = (step.replace("~1", "/").replace("~0", "~") for step in place_of.split("/")[1:])
            place = order
            for step in way:
                place = place[step]
            if value is ...:
                del place[last]
            else:
                place[last] = value
        issues = problem_of(web("POST", "/v1/order", json=order), 422)["errors"]
        found = {(issue["pointer"], issue["code"]): issue for issue in issues}
        assert (pointer, code) in found, issues
        assert suggestion is None or suggestion in found[pointer, code]["suggestions"]

    return refused
