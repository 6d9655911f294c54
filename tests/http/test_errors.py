"""Every way to go wrong over HTTP ends in a problem document with the right status, never in a 500."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from http.client import HTTPResponse
from typing import Any

import pytest
import requests

from alloyref.web.schemas.document import MOST_NESTED

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
JSON_HEADERS = {"Content-Type": "application/json"}
DEEP = 10_000


@pytest.mark.parametrize("method", ["GET", "POST", "PUT", "DELETE", "PATCH"])
@pytest.mark.parametrize(
    "path", ["/nothing", "/v1", "/v1/", "/v2/alloys", "/v1/alloys/", "/v1//alloys", "/v1/order/", "/V1/alloys"]
)
def test_an_unknown_path(web: Web, problem_of: Problem, method: str, path: str) -> None:
    assert problem_of(web(method, path), 404)["type"] == "/v1/problems/not-found"


def test_an_unknown_alloy_names_near_ones(web: Web, problem_of: Problem) -> None:
    document = problem_of(web("GET", "/v1/alloys/gold-585-yelow"), 404)
    assert "gold-585-yellow" in document["errors"][0]["suggestions"]
    assert document["errors"][0]["code"] == "unknown-alloy"
    assert "gold-585-yellow" in document["detail"]


def test_an_entry_that_has_no_such_value(web: Web, problem_of: Problem) -> None:
    document = problem_of(web("GET", "/v1/alloys/sterling-silver/karat"), 404)
    assert document["type"] == "/v1/problems/not-available"
    assert document["errors"][0]["code"] == "not-available"


PURPLE = {"composition": {"Au": 785, "Al": 215}}


@pytest.mark.parametrize(
    ("path", "pointer", "body"),
    [
        ("/v1/transfer", "/to_metal", {"mass": "4 g", "from_metal": "fine-gold", "to_metal": PURPLE}),
        ("/v1/transfer", "/from_metal", {"mass": "4 g", "from_metal": PURPLE, "to_metal": "fine-gold"}),
        ("/v1/order", "/final_metal", {"trial": {"metal": "fine-gold", "mass": "4 g"}, "final_metal": PURPLE}),
    ],
)
def test_a_density_that_nothing_backs(
    web: Web, problem_of: Problem, path: str, pointer: str, body: dict[str, Any]
) -> None:
    """Gold and aluminium form a compound far from any mixing rule: no answer, until the density is given."""
    document = problem_of(web("POST", path, json=body), 422)
    assert document["type"] == "/v1/problems/no-answer"
    assert [(one["pointer"], one["code"]) for one in document["errors"]] == [(pointer, "density-not-available")]
    assert "Give the measured density" in document["detail"]
    body[pointer.removeprefix("/")] = {**PURPLE, "density": "7.7 g/cm3"}
    assert web("POST", path, json=body).status_code == 200


@pytest.mark.parametrize(
    ("method", "path", "allowed"),
    [
        ("GET", "/v1/order", {"POST", "OPTIONS"}),
        ("DELETE", "/v1/order", {"POST", "OPTIONS"}),
        ("POST", "/v1/alloys", {"GET", "HEAD", "OPTIONS"}),
        ("PUT", "/v1/alloys/fine-gold", {"GET", "HEAD", "OPTIONS"}),
        ("PATCH", "/v1/mass", {"GET", "HEAD", "POST", "OPTIONS"}),
        ("DELETE", "/", {"GET", "HEAD", "OPTIONS"}),
        ("POST", "/healthz", {"GET", "HEAD", "OPTIONS"}),
        ("BREW", "/v1/mass", {"GET", "HEAD", "POST", "OPTIONS"}),
    ],
)
def test_a_method_that_does_not_work_here(
    web: Web, problem_of: Problem, method: str, path: str, allowed: set[str]
) -> None:
    answer = web(method, path)
    problem_of(answer, 405)
    assert {word.strip() for word in answer.headers["Allow"].split(",")} == allowed


@pytest.mark.parametrize("path", ["/v1/order", "/v1/mass"])
@pytest.mark.parametrize(
    "media", [None, "", "text/plain", "text/json", "application/xml", "application/x-www-form-urlencoded"]
)
def test_a_body_of_another_media_type(web: Web, problem_of: Problem, path: str, media: str | None) -> None:
    problem_of(web("POST", path, data=b'{"value": 1}', headers={"Content-Type": media}), 415)


@pytest.mark.parametrize("media", ["application/json", "application/json; charset=utf-8", "Application/JSON"])
def test_json_is_taken_with_and_without_parameters(web: Web, media: str) -> None:
    body = b'{"value": 1, "from": "ozt", "to": "g"}'
    assert web("POST", "/v1/mass", data=body, headers={"Content-Type": media}).status_code == 200


UNREADABLE = {
    "empty": b"",
    "blank": b" \r\n\t",
    "cut short": b'{"trial": {"mass": ',
    "single quotes": b"{'trial': 1}",
    "trailing comma": b'{"pieces": 1,}',
    "comment": b'{"pieces": 1} // two',
    "two documents": b'{"pieces": 1}{"pieces": 2}',
    "NaN": b'{"pieces": NaN}',
    "Infinity": b'{"pieces": Infinity}',
    "minus Infinity": b'{"pieces": -Infinity}',
    "leading zero": b'{"pieces": 01}',
    "hexadecimal": b'{"pieces": 0x10}',
    "invalid UTF-8": b'{"name": "\xff\xfe"}',
    "overlong UTF-8": b'{"name": "\xc0\x80"}',
    "UTF-16": '{"name": "x"}'.encode("utf-16"),
    "control character": b'{"name": "a\x00b"}',
    "deep lists": b"[" * DEEP + b"]" * DEEP,
    "lists just too deep": b"[" * (MOST_NESTED + 1) + b"]" * (MOST_NESTED + 1),
    "deep lists that never close": b"[" * DEEP,
    "a name twice": b'{"trial": {"mass": "6.31 g", "mass": "63.1 g"}}',
    "deep objects": b'{"a":' * DEEP + b"1" + b"}" * DEEP,
}


@pytest.mark.parametrize("body", UNREADABLE.values(), ids=UNREADABLE)
def test_a_body_that_is_not_json(web: Web, problem_of: Problem, body: bytes) -> None:
    document = problem_of(web("POST", "/v1/order", data=body, headers=JSON_HEADERS), 400)
    assert document["type"] == "/v1/problems/malformed"
    assert len(document["detail"]) < 300


def test_what_is_not_too_deep_is_read(web: Web, problem_of: Problem) -> None:
    body = b'{"a":' * MOST_NESTED + b"1" + b"}" * MOST_NESTED
    assert problem_of(web("POST", "/v1/order", data=body, headers=JSON_HEADERS), 422)["errors"]


@pytest.mark.parametrize("body", [b"[]", b"[{}]", b"null", b"true", b"1", b'"order"', b"{}"])
def test_a_body_that_is_json_but_no_order(web: Web, problem_of: Problem, body: bytes) -> None:
    assert problem_of(web("POST", "/v1/order", data=body, headers=JSON_HEADERS), 422)["errors"]


def test_a_body_too_large_is_refused_by_its_declared_length(web: Web, problem_of: Problem) -> None:
    body = b'{"name": "' + b"a" * 10_000_000 + b'"}'
    problem_of(web("POST", "/v1/order", data=body, headers=JSON_HEADERS), 413)


def test_a_body_in_chunks_is_refused_since_a_cut_off_one_looks_whole(strict_server: Any, problem_of: Problem) -> None:
    def pieces() -> Iterator[bytes]:
        yield b'{"value": 1, "from": "ozt",'
        yield b' "to": "g"}'

    answer = requests.post(f"{strict_server.address}/v1/mass", data=pieces(), headers=JSON_HEADERS, timeout=10)
    assert problem_of(answer, 411)["type"] == "/v1/problems/length-required"


@pytest.mark.parametrize("name", [b"\\ud800", b"\\udc00\\ud800", b"\\u202e"])
def test_half_a_character_or_turned_writing_is_no_name(web: Web, problem_of: Problem, name: bytes) -> None:
    body = b'{"final_metal": "Au", "volume": "1 cm3", "name": "' + name + b'"}'
    document = problem_of(web("POST", "/v1/order", data=body, headers=JSON_HEADERS), 422)
    assert [one["pointer"] for one in document["errors"]] == ["/name"]


@pytest.mark.parametrize("number", [b"1e400", b"-1e400", b"1e99999999999999999999", b"1.5E-99999999999999999999"])
def test_a_magnitude_beyond_numbers_is_told_by_its_place(web: Web, problem_of: Problem, number: bytes) -> None:
    body = b'{"final_metal": "Au", "volume": "1 cm3", "pieces": ' + number + b"}"
    document = problem_of(web("POST", "/v1/order", data=body, headers=JSON_HEADERS), 422)
    assert [one["pointer"] for one in document["errors"]] == ["/pieces"]
    assert [one["code"] for one in document["errors"]] == ["number-out-of-range"]


def test_two_accept_headers_answer_nobody_else(server: Any) -> None:
    """A ready answer is kept under all of Accept: under its first part, one client would get another's form."""

    def media(*accept: str) -> str:
        lines = "".join(f"Accept: {one}\r\n" for one in accept)
        with socket.create_connection(("127.0.0.1", server.port), timeout=10) as connection:
            connection.sendall(f"GET /v1/cautions HTTP/1.1\r\nHost: x\r\n{lines}Connection: close\r\n\r\n".encode())
            head = b""
            while b"\r\n\r\n" not in head:
                head += connection.recv(4096)
        return head.lower().partition(b"content-type: ")[2].partition(b"\r\n")[0].partition(b";")[0].decode()

    media("application/json;q=0.5", "text/csv")
    assert media("application/json;q=0.5") == "application/json"
    media("*/*;q=0.1", "text/csv")
    assert media() == "application/json"


def test_if_match_says_nothing_to_a_read(web: Web) -> None:
    for _ in range(2):
        assert web("GET", "/v1/patterns", headers={"If-Match": '"other"'}).status_code == 200


def test_a_raw_utf_8_query_is_read(server: Any) -> None:
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as connection:
        connection.sendall("GET /v1/alloys?q=é HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n".encode())
        assert connection.recv(100).startswith(b"HTTP/1.1 200 ")


def test_a_flood_of_misspelt_fields_is_refused_at_once(web: Web, problem_of: Problem) -> None:
    body = {f"tril{number}": 1 for number in range(5000)}
    document = problem_of(web("POST", "/v1/order", json=body), 422)
    assert [one["code"] for one in document["errors"]] == ["too-many"]


def test_an_unknown_path_is_answered_with_one_near_it(web: Web, problem_of: Problem) -> None:
    document = problem_of(web("GET", "/v1/transfr"), 404)
    assert "/v1/transfer" in document["errors"][0]["suggestions"]


def test_a_body_of_just_the_most_is_read(strict_server: Any, problem_of: Problem) -> None:
    text = b'{"value": 1, "from": "ozt", "to": "g"}'
    full = text + b" " * (20_000 - len(text))
    address = f"{strict_server.address}/v1/mass"
    assert requests.post(address, data=full, headers=JSON_HEADERS, timeout=10).status_code == 200
    problem_of(requests.post(address, data=full + b" ", headers=JSON_HEADERS, timeout=10), 413)


@pytest.mark.parametrize(
    "path",
    [
        "/v1/alloys/%E2%82%AC",
        "/v1/alloys/%F0%9F%92%8D/density",
        "/%E2%82%AC",
        "/v1/alloys/%C3%A9",
        "/v1/alloys/%00",
        "/v1/alloys/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
        "/v1/alloys/" + "a" * 5000,
        "/v1/alloys/%25s%n%0d%0aX-Injected:%201",
    ],
)
def test_a_strange_path(web: Web, problem_of: Problem, path: str) -> None:
    answer = web("GET", path)
    problem_of(answer, 404)
    assert "X-Injected" not in answer.headers


@pytest.mark.parametrize("path", ["//v1/alloys", "//v1/charge", "///v1/bulk/mass", "//"])
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_path_with_slashes_before_it_is_no_other_name_of_it(server: Any, method: str, path: str) -> None:
    assert status_of(server, method, path) == 404


@pytest.mark.parametrize("method", ["get", "post", "Post", "pOST"])
@pytest.mark.parametrize("path", ["/v1/alloys", "/v1/charge", "/v1/bulk/mass"])
def test_a_method_in_small_letters_is_none(server: Any, method: str, path: str) -> None:
    # Else a charge would be worked out where everybody waits for it, and a bulk body be read whole.
    assert status_of(server, method, path) == 400


def status_of(server: Any, method: str, path: str) -> int:
    """What a request is answered that is sent as it is written here."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as connection:
        connection.sendall(f"{method} {path} HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n\r\n".encode())
        answer = HTTPResponse(connection, method=method)
        answer.begin()
        return answer.status


@pytest.mark.parametrize("path", ["/v1/alloys/%FF%FE", "/v1/alloys/%C3/density", "/%ED%A0%80"])
def test_a_path_that_is_not_utf_8(web: Web, problem_of: Problem, path: str) -> None:
    answer = web("GET", path)
    problem_of(answer, 400 if answer.status_code == 400 else 404)


def test_what_was_asked_for_is_named_as_it_was_written(web: Web, problem_of: Problem) -> None:
    assert "'gold-é'" in problem_of(web("GET", "/v1/alloys/gold-%C3%A9"), 404)["detail"]


@pytest.mark.parametrize(
    "query", ["q=%FF", "q=%E2%82%AC", "=", "&&&", "?", "%00=1", "q=" + "a" * 20_000, "page=1&" * 500]
)
def test_a_strange_query(web: Web, problem_of: Problem, query: str) -> None:
    answer = web("GET", f"/v1/alloys?{query}")
    if answer.status_code != 200:
        problem_of(answer, 422)


def test_every_problem_type_can_be_looked_up(web: Web, problem_of: Problem) -> None:
    listed = {one["id"]: one for one in web("GET", "/v1/problems").json()["problems"]}
    met = {
        problem_of(web("GET", "/nothing"), 404)["type"],
        problem_of(web("POST", "/v1/order", json={}), 422)["type"],
        problem_of(web("DELETE", "/v1/order"), 405)["type"],
    }
    for address in met:
        entry = web("GET", address).json()
        assert entry == listed[address.rsplit("/", 1)[1]]
    problem_of(web("GET", "/v1/problems/invaild"), 404)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"prices": [{"metal": "Au", "price": 1, "currency": "EURO"}]}, "Write a currency as three letters"),
        ({"prices": [{"metal": "Au", "price": 1, "currency": "$"}]}, "could be USD, CAD, AUD, NZD"),
        (
            {"prices": [{"metal": "Au", "price": 1, "currency": "EUR", "date": "25.11.2026"}]},
            "Write a date as year-month-day, such as 2026-11-20.",
        ),
        ({"allowances": {"finishing_loss": "10"}}, "write 0.1 or '10 percent'."),
        ({"allowances": {"finishing_loss": "250"}}, "write 0.05 or '5 percent'."),
        ({"pattern": {"mass": "1 g", "density": "8 lbs"}}, "Known are g/cm3, kg/m3"),
    ],
)
def test_a_refusal_says_what_to_write_in_words_of_the_trade(web: Web, change: dict[str, Any], says: str) -> None:
    asked = {"final_metal": "fine-gold", "trial": {"metal": "sterling-silver", "mass": "6 g"}, **change}
    answer = web("POST", "/v1/order", json=asked)
    assert answer.status_code == 422
    assert says in " ".join(one["detail"] for one in answer.json()["errors"])
