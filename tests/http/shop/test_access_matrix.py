"""Every described operation with every kind of key: who is let in, who is not, and that nothing else decides.

The rows come from the description that the service itself gives, the columns from `WAYS`: a new operation or another
`security` is in it by itself.
"""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from typing import Any

import pytest
import requests
from sqlalchemy import update

from alloyref.shop import keys
from alloyref.shop.clock import ago
from alloyref.web.access import OPEN

SECONDS = 20
CONNECTIONS = 24
"""Kept open together; that one of two workers has none of them happens once in eight million runs."""
SHOP = "/v1/shop/"
EXAMPLES = {"/v1/alloys/{name}/karat": "gold-750-yellow"}
"""Where the described example is an alloy without that number."""
READ, WRITE = frozenset({"read"}), frozenset({"write"})


@dataclass(frozen=True, slots=True)
class Way:
    """How a key is shown, by name, and what it is good for: the scopes it has, or None for one that is no good."""

    key: str | None
    scopes: frozenset[str] | None
    header: str = "Bearer {}"
    in_query: bool = False


WAYS = {
    "no key": Way(None, None),
    "of an unknown id": Way("none", None),
    "of a wrong secret": Way("wrong", None),
    "malformed": Way("noise", None),
    "empty": Way("nothing", None),
    "another scheme": Way("both", None, "Basic {}"),
    "no scheme": Way("both", None, "{}"),
    "two at once": Way("both", None, "Bearer {0}, Bearer {0}"),
    "expired": Way("expired", None),
    "revoked": Way("revoked", None),
    "reads": Way("read", READ),
    "writes": Way("write", WRITE),
    "reads and writes": Way("both", READ | WRITE),
    "another scope": Way("other", frozenset({"admin"})),
    "a scope that is like one": Way("like", frozenset({"reader", "writer"})),
    "in the query": Way("cell", READ, in_query=True),
    "in the query, not made for it": Way("read", None, in_query=True),
    "in the query, unknown": Way("none", None, in_query=True),
    "in the query, malformed": Way("noise", None, in_query=True),
    "in the query, expired": Way("expired cell", None, in_query=True),
    "in the query, revoked": Way("revoked cell", None, in_query=True),
    "in the query, another scope": Way("other cell", frozenset({"admin"}), in_query=True),
}


@dataclass(frozen=True, slots=True)
class Row:
    """One described operation, and what to send so that whoever is let in gets an answer."""

    method: str
    path: str
    operation: dict[str, Any]

    @property
    def security(self) -> list[dict[str, list[str]]]:
        """The ways in, as described; one that is empty lets everybody in."""
        found: list[dict[str, list[str]]] = self.operation.get("security", [{}])
        return found

    @property
    def success(self) -> int:
        """The one status of an answer."""
        (found,) = (int(code) for code in self.operation["responses"] if code < "300")
        return found

    def sent(self) -> dict[str, Any]:
        """Query, body and headers, from the examples."""
        query = {
            one["name"]: one["example"]
            for one in self.operation.get("parameters", [])
            if one["in"] == "query" and (one.get("required") or "example" in one)
        }
        headers = {"If-Match": "*"} if self.method in ("PUT", "DELETE") else {}
        sent: dict[str, Any] = {"params": query, "headers": headers}
        for media, body in self.operation.get("requestBody", {}).get("content", {}).items():
            value = copy.deepcopy(next(iter(body["examples"].values()))["value"])
            if media == "application/json":
                value.pop("id", None)  # an id is used once, and this is sent again and again
                return {**sent, "json": value}
            return {**sent, "data": value, "headers": {**headers, "Content-Type": media}}
        return sent

    def expected(self, way: Way) -> int:
        """The status that the description and the key ask for."""
        in_vain = way.in_query and self.method != "GET"
        if {} in self.security:
            return 422 if in_vain else self.success
        scheme = "KeyInQuery" if way.in_query else "Key"
        ways_in = [frozenset(one[scheme]) for one in self.security if scheme in one]
        if way.scopes is None or not ways_in:
            return 401
        return self.success if any(one <= way.scopes for one in ways_in) else 403

    def challenge(self, way: Way) -> str | None:
        """What a refusal asks for: no error is named where no key was looked at (RFC 6750, section 3)."""
        status, challenge = self.expected(way), 'Bearer realm="alloyref"'
        if status == 403:
            (needed,) = {scope for one in self.security for scopes in one.values() for scope in scopes}
            return f'{challenge}, error="insufficient_scope", scope="{needed}"'
        if status != 401:
            return None
        unseen = way.key is None or (way.in_query and self.method != "GET")
        return challenge if unseen else f'{challenge}, error="invalid_token"'


def made_keys(shop: Any) -> dict[str, str]:
    """Further keys, some with scopes that the program itself would not give."""

    def key(name: str, **options: Any) -> str:
        return keys.create(shop.database, name, ("read",), **options)[1]

    def changed(whole: str, **values: Any) -> str:
        with shop.database.write() as connection:
            connection.execute(update(keys.table).where(keys.table.c.id == whole.split("_")[1]).values(**values))
        return whole

    return {
        "nothing": "",
        "expired cell": key("expired cell", in_query=True, expires=ago(seconds=1)),
        "revoked cell": changed(key("revoked cell", in_query=True), revoked=ago(seconds=1)),
        "other cell": changed(key("other cell", in_query=True), scopes="admin"),
        "other": changed(key("other"), scopes="admin"),
        "like": changed(key("like"), scopes="reader,writer"),
    }


@dataclass(frozen=True, slots=True)
class House:
    """A service, what it says of itself, every key, and an entry of each kind to ask for."""

    address: str
    rows: list[Row]
    keys: dict[str, str]
    entries: dict[str, str]
    as_owner: Callable[..., requests.Response]

    def ask(self, session: requests.Session, row: Row, way: Way, method: str) -> requests.Response:
        """Ask the operation with a key shown in that way."""
        sent = row.sent()
        whole = None if way.key is None else self.keys[way.key]
        if way.in_query:
            sent["params"]["key"] = whole
        elif whole is not None:
            sent["headers"]["Authorization"] = way.header.format(whole)
        return session.request(method, self.address + self.path_of(row), timeout=SECONDS, **sent)

    def path_of(self, row: Row) -> str:
        """The address of something that there is."""
        if "{name}" not in row.path:
            return row.path
        if row.path.startswith(SHOP):
            return row.path.replace("{name}", self.entries[row.path.removeprefix(SHOP).split("/")[0]])
        example = next(one["example"] for one in row.operation["parameters"] if one["in"] == "path")
        return row.path.replace("{name}", EXAMPLES.get(row.path, example))

    def prepare(self) -> None:
        """Have an entry of each kind, in the place of one that was deleted."""
        for kind in ("alloys", "prices", "records"):
            there = kind in self.entries and self.as_owner("GET", f"{SHOP}{kind}/{self.entries[kind]}").ok
            if not there:
                self.entries[kind] = self.made(kind)

    def made(self, kind: str) -> str:
        """The id of a new entry or record."""
        if kind == "records":
            answer = self.as_owner("POST", "/v1/mass?record=true", json={"value": 1, "from": "dwt", "to": "g"})
            return str(answer.json()["record"])
        post = next(one for one in self.rows if (one.method, one.path) == ("POST", SHOP + kind))
        return str(self.as_owner("POST", post.path, json=post.sent()["json"]).json()["id"])

    def written(self) -> list[int]:
        """How much was ever written: changes and records."""
        return [self.as_owner("GET", f"{SHOP}{one}?page_size=1").json()["total"] for one in ("history", "records")]


def house_of(shop: Any) -> House:
    """What a running service says of itself, and the keys to it."""
    described = requests.get(f"{shop.service.address}/openapi.json", timeout=SECONDS).json()
    rows = [
        Row(method.upper(), path, operation)
        for path, methods in described["paths"].items()
        for method, operation in methods.items()
    ]
    assert len(rows) > 80
    return House(shop.service.address, rows, {**shop.keys, **made_keys(shop)}, {}, shop.ask)


@pytest.fixture(scope="module", params=["open", "closed"])
def house(request: pytest.FixtureRequest, shop: Any, start: Callable[..., Any]) -> Iterator[House]:
    """The usual service, and one that asks for a key everywhere."""
    if request.param == "open":
        yield house_of(shop)
        return
    with start(ALLOYREF_DATABASE_URL=shop.url, ALLOYREF_REQUIRE_KEY="true", ALLOYREF_WORKERS="2") as service:
        yield house_of(type(shop)(service, shop.url, shop.database, shop.keys))
        assert service.faults() == []


@pytest.mark.parametrize("name", WAYS)
def test_the_matrix(house: House, name: str) -> None:
    way, wrong = WAYS[name], []
    house.prepare()

    def walk(session: requests.Session, *, let_in: bool) -> None:
        for row in house.rows:
            for method in ("GET", "HEAD") if row.method == "GET" and {} not in row.security else (row.method,):
                expected = row.expected(way)
                if (expected < 300) is let_in:
                    answer = house.ask(session, row, way, method)
                    told = (answer.status_code, answer.headers.get("WWW-Authenticate"))
                    if told != (expected, row.challenge(way)):
                        wrong.append((method, row.path, told, expected, row.challenge(way)))

    with requests.Session() as session:
        before = house.written()
        walk(session, let_in=False)
        assert house.written() == before
        walk(session, let_in=True)
    assert wrong == []


def test_nothing_but_the_described_addresses_lets_everybody_in(house: House) -> None:
    closed = all({} not in row.security for row in house.rows if row.path == "/v1/alloys")
    for row in house.rows:
        assert ({} in row.security) is bool(OPEN.fullmatch(row.path)) or not closed, row.path


def test_an_alloy_of_the_shop_needs_a_key_wherever_the_description_says_that_one_may(house: House) -> None:
    house.prepare()
    name = house.path_of(next(one for one in house.rows if one.path == f"{SHOP}alloys/{{name}}")).rpartition("/")[2]
    asked = 0
    for row in house.rows:
        sent = row.sent()
        texts = re.sub(r'"(sterling-silver|gold-585-yellow|fine-silver)"', f'"{name}"', json.dumps(sent))
        if texts == json.dumps(sent) or row.path.startswith(SHOP) or row.path.startswith("/v1/bulk/"):
            continue
        asked += 1
        answers = {
            key: requests.request(
                row.method,
                house.address + row.path,
                timeout=SECONDS,
                **{**json.loads(texts), "headers": {"Authorization": f"Bearer {house.keys[key]}"} if key else {}},
            ).status_code
            for key in ("", "wrong", "write", "read")
        }
        assert answers == {"": 401, "wrong": 401, "write": 403, "read": 200}, row.path
        assert {"Key": ["read"]} in row.security, row.path
    assert asked >= 8


@pytest.mark.parametrize("change", [{"revoked": "now"}, {"expires": "now"}, {"scopes": "write"}], ids=str)
def test_what_becomes_of_a_key_holds_at_once_in_every_worker(shop: Any, change: dict[str, str]) -> None:
    made, whole = keys.create(shop.database, "soon gone", ("read",))
    values = {name: ago(seconds=0) if value == "now" else value for name, value in change.items()}

    def statuses(sessions: list[requests.Session]) -> set[int]:
        headers = {"Authorization": f"Bearer {whole}"}
        address = f"{shop.service.address}/v1/shop/alloys"
        return {one.get(address, headers=headers, timeout=SECONDS).status_code for one in sessions}

    with ExitStack() as stack:
        sessions = [stack.enter_context(requests.Session()) for _ in range(CONNECTIONS)]
        assert statuses(sessions) == {200}
        with shop.database.write() as connection:
            connection.execute(update(keys.table).where(keys.table.c.id == made.id).values(**values))
        assert statuses(sessions) == {403 if "scopes" in change else 401}
