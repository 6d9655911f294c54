"""What those who get in and those who do not are told; `test_access_matrix.py` has who gets in where."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests
import yaml

from alloyref.shop import keys

Problem = Callable[[requests.Response, int], dict[str, Any]]
NO_GOOD = (None, "expired", "revoked", "wrong", "none", "noise")


@pytest.fixture(scope="session")
def operations(description: dict[str, Any]) -> list[tuple[str, str, dict[str, Any]]]:
    """Every operation that needs a key: method, address and what to send."""
    found = []
    for path, methods in description["paths"].items():
        for method, one in methods.items():
            if "security" not in one or {} in one["security"]:
                continue
            where = next((each["example"] for each in one["parameters"] if each["in"] == "path"), "")
            sent: dict[str, Any] = {}
            if "requestBody" in one:
                sent["json"] = one["requestBody"]["content"]["application/json"]["examples"]["bench"]["value"]
            if method in ("put", "delete"):
                sent["headers"] = {"If-Match": "*"}
            found.append((method.upper(), path.replace("{name}", where), sent))
    return found


def test_there_are_as_many_as_there_should_be(operations: list[Any]) -> None:
    assert len(operations) == 16
    assert all(path.startswith("/v1/shop/") for _, path, _ in operations)


def test_nobody_gets_in_without_a_good_key(shop: Any, operations: list[Any], problem_of: Problem) -> None:
    for method, path, sent in operations:
        for key in NO_GOOD:
            answer = shop.ask(method, path, key, **sent)
            document = problem_of(answer, 401)
            challenge = answer.headers["WWW-Authenticate"]
            assert challenge == 'Bearer realm="alloyref"' + ("" if key is None else ', error="invalid_token"')
            assert answer.headers["Cache-Control"] == "no-store"
            assert document["errors"][0]["code"].startswith("key-")


def test_only_a_holder_learns_what_became_of_a_key(shop: Any, problem_of: Problem) -> None:
    codes = {
        key: problem_of(shop.ask("GET", "/v1/shop/alloys", key), 401)["errors"][0]["code"]
        for key in ("expired", "revoked", "wrong", "none", "noise")
    }
    assert codes == {
        "expired": "key-expired",
        "revoked": "key-revoked",
        "wrong": "key-unknown",
        "none": "key-unknown",
        "noise": "key-unknown",
    }


@pytest.mark.parametrize("header", ["Basic YTpi", "Bearer", "Bearer ", "bearer  x y", "", "Bearer \xff"])
def test_another_way_of_showing_a_key_is_refused(shop: Any, problem_of: Problem, header: str) -> None:
    answer = requests.get(
        f"{shop.service.address}/v1/shop/alloys", headers={"Authorization": header.encode("latin-1")}, timeout=20
    )
    problem_of(answer, 401)


def test_a_key_in_the_address_reads_if_it_was_made_for_that(shop: Any, problem_of: Problem) -> None:
    def by_address(method: str, name: str, path: str = "/v1/shop/alloys", **sent: Any) -> requests.Response:
        return shop.ask(method, path, None, params={"key": shop.keys[name]}, **sent)

    read = by_address("GET", "cell")
    assert read.status_code == 200
    assert read.headers["Cache-Control"] == "private, no-cache"
    assert by_address("HEAD", "cell").status_code == 200
    assert problem_of(by_address("GET", "read"), 401)["errors"][0]["code"] == "key-in-query"
    problem_of(by_address("GET", "both"), 401)
    body = {"name": "x", "composition": {"Au": 1000}}
    problem_of(by_address("POST", "both", json=body), 401)
    problem_of(by_address("POST", "cell", json=body), 401)
    assert by_address("OPTIONS", "wrong").status_code == 200
    told = by_address("GET", "wrong", "/v1/shop/alloys?on_error=text")
    assert (told.status_code, told.text[:7]) == (200, "#ERROR ")


def test_no_secret_stands_in_the_log_or_the_database(shop: Any) -> None:
    shop.ask("GET", f"/v1/shop/alloys?key={shop.keys['cell']}", None)
    log = shop.service.log.read_text(encoding="utf-8")
    with shop.database.read() as connection:
        rows = str(connection.execute(keys.table.select()).all())
    for name in ("both", "read", "write", "cell", "expired", "revoked"):
        secret = shop.keys[name].rpartition("_")[2]
        assert secret not in log
        assert secret not in rows


def test_an_answer_to_one_holder_is_no_answer_to_others(shop: Any) -> None:
    shop.made(id="only-for-holders")
    read = "/v1/shop/alloys/only-for-holders"
    cell = "/v1/transfer?mass=4.82&unit=g&from_metal=sterling-silver&to_metal=shop:only-for-holders&format=text"
    for path in (read, cell):
        for _ in range(6):
            answer = shop.ask("GET", path, "read")
            assert answer.status_code == 200
            assert answer.headers["Cache-Control"] == "private, no-cache"
            assert "authorization" in answer.headers["Vary"].lower()
            tag = {"If-None-Match": answer.headers["ETag"]}
            assert shop.ask("GET", path, "read", headers=tag).status_code == 304
            assert shop.ask("GET", path, None).status_code == 401
            assert shop.ask("GET", path, None, headers=tag).status_code == 401
            assert shop.ask("GET", path, "write").status_code == 403


def test_rows_may_name_an_alloy_of_the_shop_with_a_key(shop: Any) -> None:
    shop.made(id="in-rows")
    head = "mass,from_metal,to_metal\n"
    rows = "4.82 g,sterling-silver,shop:in-rows\n1 g,sterling-silver,fine-gold\n2 g,sterling-silver,shop:in-rows\n"
    sent = {"data": head + rows, "headers": {"Content-Type": "text/csv"}}
    single = shop.ask(
        "GET", "/v1/transfer?mass=4.82&unit=g&from_metal=sterling-silver&to_metal=shop:in-rows&format=text", "read"
    ).text
    good = shop.ask("POST", "/v1/bulk/transfer", "read", **sent).text.splitlines()
    assert single in good[1]
    assert [line.endswith(",") for line in good[1:]] == [True] * 3
    bad = shop.ask("POST", "/v1/bulk/transfer", None, **sent).text.splitlines()
    assert [line.endswith(",") for line in bad[1:]] == [False, True, False]
    assert "A key is needed" in bad[1]


def test_the_catalogue_asks_for_no_key_and_looks_at_none(shop: Any) -> None:
    for key in (None, "wrong", "both"):
        answer = shop.ask("GET", "/v1/alloys/sterling-silver", key)
        assert answer.status_code == 200
        assert answer.headers["Cache-Control"].startswith("public")


@pytest.fixture(scope="session")
def closed(shop: Any, start: Callable[..., Any]) -> Any:
    """Another service over the same database, with `ALLOYREF_REQUIRE_KEY=true`."""
    with start(ALLOYREF_DATABASE_URL=shop.url, ALLOYREF_REQUIRE_KEY="true") as service:
        yield type(shop)(service, shop.url, shop.database, shop.keys)


class TestWhereEverythingNeedsAKey:
    """Reading the catalogue and calculating, too."""

    @pytest.mark.parametrize("path", ["/v1/alloys", "/v1/alloys.csv", "/v1/alloys/fine-gold/density", "/v1/dataset"])
    def test_reading_does(self, closed: Any, path: str, problem_of: Problem) -> None:
        for _ in range(2):
            assert closed.ask("GET", path, "read").status_code == 200
            problem_of(closed.ask("GET", path, None), 401)
            problem_of(closed.ask("GET", path, "wrong"), 401)
            problem_of(closed.ask("GET", path, "write"), 403)
            assert closed.ask("GET", f"{path}?key={closed.keys['cell']}", None).status_code == 200
        assert closed.ask("GET", path, "read").headers["Cache-Control"].startswith("private")

    def test_calculating_does(self, closed: Any, problem_of: Problem) -> None:
        body = {"value": 1, "from": "dwt", "to": "g"}
        problem_of(closed.ask("POST", "/v1/mass", None, json=body), 401)
        problem_of(closed.ask("GET", "/v1/mass?value=1&from=dwt&to=g", None), 401)
        assert closed.ask("POST", "/v1/mass", "read", json=body).status_code == 200

    def test_the_pages_do(self, closed: Any, problem_of: Problem) -> None:
        for path in ("/alloys", "/alloys/sterling-silver"):
            problem_of(closed.ask("GET", path, None), 401)
            assert closed.ask("GET", path, "read").status_code == 200

    def test_what_tells_how_to_get_in_does_not(self, closed: Any) -> None:
        paths = ("/", "/docs", "/healthz", "/readyz", "/openapi.json", "/openapi.yaml", "/v1/problems")
        for path in (*paths, "/v1/problems/key-needed"):
            assert closed.ask("GET", path, None).status_code == 200
        assert closed.ask("OPTIONS", "/v1/alloys", None).status_code == 200

    def test_both_descriptions_say_so(self, shop: Any, closed: Any) -> None:
        for one, is_open in ((shop, True), (closed, False)):
            described = one.ask("GET", "/openapi.json", None).json()
            assert yaml.safe_load(one.ask("GET", "/openapi.yaml", None).text) == described
            assert ({} in described["paths"]["/v1/order"]["post"]["security"]) is is_open
            assert (described["paths"]["/v1/alloys"]["get"].get("security", []) == []) is is_open

    def test_so_do_many_rows(self, closed: Any, problem_of: Problem) -> None:
        rows = {"data": "value,from,to\n1,dwt,g\n", "headers": {"Content-Type": "text/csv"}}
        problem_of(closed.ask("POST", "/v1/bulk/mass", None, **rows), 401)
        problem_of(closed.ask("POST", "/v1/bulk/mass", "wrong", **rows), 401)
        problem_of(closed.ask("POST", "/v1/bulk/mass", "write", **rows), 403)
        assert closed.ask("POST", "/v1/bulk/mass", "read", **rows).status_code == 200
