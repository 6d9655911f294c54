"""The small client: answers as they are, refusals as one exception with its pointers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import requests

from alloyref.cli.demo import free_port
from alloyref.client import Client, ServiceProblem


@pytest.fixture
def client(server: Any) -> Iterator[Client]:
    """A client of the running service, its address written with a slash at the end."""
    with Client(f"{server.address}/") as made:
        yield made


def test_a_calculation_and_a_read(client: Client) -> None:
    assert client.calculate("mass", {"value": "1", "from": "ozt", "to": "g"})["result"]["mass"]["value"] == 31.1034768
    assert client.get("/v1/alloys", base="Pt", page_size="1")["alloys"][0]["base"] == "Pt"


@pytest.mark.parametrize(
    ("name", "inputs", "issue"),
    [
        ("mass", {"value": "1", "from": "oz", "to": "g"}, ("/from", "unit-ambiguous")),
        ("order", {"final_metal": "Au"}, ("", "one-of")),
    ],
)
def test_a_refusal_carries_its_pointers(
    client: Client, name: str, inputs: dict[str, str], issue: tuple[str, str]
) -> None:
    with pytest.raises(ServiceProblem, match="422") as refused:
        client.calculate(name, inputs)
    assert refused.value.status == 422
    assert [(one["pointer"], one["code"]) for one in refused.value.errors] == [issue]


def test_nothing_there_is_a_problem_too(client: Client) -> None:
    with pytest.raises(ServiceProblem) as refused:
        client.get("/v1/alloys/sterlng-silver")
    assert refused.value.status == 404
    assert "sterling-silver" in refused.value.errors[0]["suggestions"]


def test_an_answer_that_is_no_json_is_a_problem_with_its_status(client: Client) -> None:
    # A server's own refusals, before any application sees the request, have no body.
    with pytest.raises(ServiceProblem) as refused:
        client.get("/v1/alloys", q="a" * 100_000)
    assert refused.value.status in (414, 431)


def test_a_service_that_is_not_there_is_a_connection_error() -> None:
    with Client(f"http://127.0.0.1:{free_port()}", timeout=2) as absent, pytest.raises(requests.ConnectionError):
        absent.get("/v1/dataset")
