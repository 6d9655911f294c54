"""The client's way with many rows: file to file, and a check that nothing was cut off."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import Any

import pytest

from alloyref.client import BrokenAnswer, Client, ServiceProblem
from alloyref.client.summary import SummaryCheck

ROWS = (
    b"sku,mass,from_metal,to_metal\r\n" + b"A,4.82 dwt,sterling-silver,gold-750-yellow\r\n" * 3000 + b"B,x,Ag,Au\r\n"
)


@pytest.fixture
def client(server: Any) -> Iterator[Client]:
    """A client of the running service."""
    with Client(server.address) as made:
        yield made


def test_a_file_of_rows_becomes_a_file_of_answers(client: Client) -> None:
    target = io.BytesIO()
    assert client.bulk("transfer", io.BytesIO(ROWS), target, keep="sku") == {"rows": 3001, "errors": 1}
    lines = target.getvalue().split(b"\r\n")
    assert len(lines) == 3003
    assert lines[1].startswith(b"A,4.82 dwt,sterling-silver,gold-750-yellow,11.1831,")
    assert lines[-2].startswith(b"B,x,Ag,Au,")


def test_a_file_with_decimal_commas(client: Client) -> None:
    source, target = (
        io.BytesIO(b"mass;from_metal;to_metal\r\n4,82 dwt;sterling-silver;gold-750-yellow\r\n"),
        io.BytesIO(),
    )
    assert client.bulk("transfer", source, target, decimal=",") == {"rows": 1, "errors": 0}
    assert b"gold-750-yellow;11,1831;" in target.getvalue()


def test_json_rows(client: Client) -> None:
    target = io.BytesIO()
    rows = io.BytesIO(b'{"value": 1, "from": "ozt", "to": "g"}\n{}\n')
    assert client.bulk("mass", rows, target, media="application/x-ndjson") == {"rows": 2, "errors": 1}
    assert target.getvalue().count(b"\n") == 2


def test_a_refusal_is_a_problem(client: Client) -> None:
    with pytest.raises(ServiceProblem) as refused:
        client.bulk("transfer", io.BytesIO(ROWS), io.BytesIO())
    assert refused.value.status == 422
    assert refused.value.issues[0].pointer == "/columns"


WHOLE = (
    b"mass,error\r\n1,\r\n"
    b",summary: rows=1 errors=0 sha256=c0b3b5e6d7b9d1ec0bdcbc4a3d1e7fba2e4b9ad7c6bd5c19f1a6d1b1a9d1f6a1\r\n"
)


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (b"", "cut off"),
        (b"mass,error\r\n1,\r\n", "cut off"),
        (WHOLE[:-9], "cut off"),
        (WHOLE, "not the one that was summed up"),
        (b'{"a":1,"error":null}\n{"summary":{"rows":1,"errors":0,"sha256":"' + b"0" * 64 + b'"}}\n', "summed up"),
    ],
)
def test_an_answer_that_is_not_whole_is_known(answer: bytes, words: str) -> None:
    check = SummaryCheck(io.BytesIO())
    for at in range(0, len(answer), 5):
        check.take(answer[at : at + 5])
    with pytest.raises(BrokenAnswer, match=words):
        check.end()
