"""The shipped nginx configuration before two workers: what is kept, for whom, how long, and what never is."""

from __future__ import annotations

import csv
import json
import re
import shutil
import socket
import ssl
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from http.client import HTTPResponse
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Barrier, Thread
from typing import Any

import pytest
import requests

from alloyref.catalogue.files import CODE, data_folder
from alloyref.cli.demo import free_port
from alloyref.settings import Settings
from alloyref.shop import keys
from alloyref.shop.database import address, open_database
from alloyref.shop.migrate import upgrade
from tests.front import HOST, Front, nginx, serving

SECONDS = 20
STATUS = "X-Cache-Status"
PATH = "/v1/alloys/sterling-silver/density"
WAYS_ROUND = ("/v1/x/../shop/alloys", "/v1//shop/alloys", "/v1/%73hop/alloys", "/v1/shop/%2e%2e/shop/alloys")
ALLOY = {"id": "house", "name": "house", "composition": {"Au": 585, "Ag": 205, "Cu": 210}, "density": "13.1 g/cm3"}
MASS = {"value": "2", "from": "ozt", "to": "g"}
# Tests ask as many in a second as a hundred callers would.
UNLIMITED = {"rate=100r/s": "rate=100000r/s"}


class Asker:
    """Asks one nginx over TLS, under the service's name unless told otherwise."""

    def __init__(self, front: Front) -> None:
        self.front = front
        self.session = requests.Session()

    def __call__(self, path: str, method: str = "GET", **options: Any) -> requests.Response:
        headers = {"Host": HOST, **options.pop("headers", {})}
        address_ = f"https://127.0.0.1:{self.front.tls}{path}"
        verify = str(self.front.certificate)
        return self.session.request(method, address_, headers=headers, verify=verify, timeout=SECONDS, **options)

    def raw(self, sent: bytes, *, half_close: bool = False) -> tuple[int, dict[str, str], bytes]:
        """Send bytes as they are, with `half_close` the last ones, and read one answer."""
        context = ssl.create_default_context(cafile=str(self.front.certificate))
        plain = socket.create_connection(("127.0.0.1", self.front.tls), timeout=SECONDS)
        with plain, context.wrap_socket(plain, server_hostname=HOST) as connection:
            connection.sendall(sent)
            if half_close:
                socket.socket.shutdown(connection, socket.SHUT_WR)
            response = HTTPResponse(connection)
            response.begin()
            return response.status, {name.lower(): text for name, text in response.getheaders()}, response.read()

    def until(self, path: str, status: str, **options: Any) -> requests.Response:
        """Ask again until the cache says so; an answer is out of date after a second here."""
        for _ in range(20_000):
            answer = self(path, **options)
            if answer.headers.get(STATUS) == status:
                return answer
        raise AssertionError(f"{path} was never {status}, but {answer.headers.get(STATUS)}: {answer.text[:200]}")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """The address of a database, a key to it, and a key for cells, that may stand in an address."""
    where = address("", Path(tmp_path_factory.mktemp("shop")))
    database = open_database(where)
    upgrade(database)
    yield {
        "url": where.render_as_string(hide_password=False),
        "till": keys.create(database, "till", ("read", "write"))[1],
        "cell": keys.create(database, "cell", ("read",), in_query=True)[1],
    }
    database.close()


@pytest.fixture(scope="module")
def ask(shop: dict[str, str], start: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Asker]:
    """nginx before two workers; neither may meet a fault in all these tests."""
    nginx()
    with start(ALLOYREF_WORKERS="2", ALLOYREF_DATABASE_URL=shop["url"]) as service:
        with serving(Path(tmp_path_factory.mktemp("front")), service.port, **UNLIMITED) as front:
            yield Asker(front)
        assert service.faults() == []


class Echo(BaseHTTPRequestHandler):
    """An upstream that answers with the headers it was sent, and with the status that the test asks for."""

    protocol_version = "HTTP/1.1"
    status = 200
    meeting: Barrier | None = None
    """Where so many requests must be at the same time before any of them is answered."""

    def do_GET(self) -> None:
        """Answer."""
        if self.meeting is not None:
            self.meeting.wait(SECONDS)
        pairs = [[name.lower(), value] for name, value in self.headers.items()]
        body = json.dumps(pairs).encode()
        self.send_response(type(self).status)
        for name, value in (
            ("Content-Type", "application/json"),
            ("Content-Length", str(len(body))),
            ("ETag", '"1"'),
            ("Cache-Control", "public, max-age=1" if type(self).status == 200 else "no-store"),
        ):
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: Any) -> None:
        """Say nothing."""


@pytest.fixture
def echo(tmp_path: Path) -> Iterator[Asker]:
    """nginx before the echo."""
    Echo.status, Echo.meeting = 200, None
    server = ThreadingHTTPServer(("127.0.0.1", 0), Echo)
    server.daemon_threads = True
    thread = Thread(target=server.serve_forever)
    thread.start()
    try:
        with serving(tmp_path, server.server_port, **UNLIMITED) as front:
            yield Asker(front)
    finally:
        server.shutdown()
        server.server_close()
        thread.join(SECONDS)


def test_a_read_is_answered_from_the_cache_from_the_second_time_on(ask: Asker) -> None:
    path = "/v1/alloys?base=Au&page_size=3"
    first = ask(path)
    assert (first.status_code, first.headers[STATUS]) == (200, "MISS")
    for _ in range(3):
        again = ask(path)
        assert again.headers[STATUS] == "HIT"
        for name in ("ETag", "Cache-Control", "Vary", "Content-Type"):
            assert again.headers[name] == first.headers[name]
        assert again.content == first.content
    unchanged = ask(path, headers={"If-None-Match": first.headers["ETag"]})
    assert (unchanged.status_code, unchanged.headers[STATUS], unchanged.content) == (304, "HIT", b"")
    head = ask(path, "HEAD")
    assert (head.headers[STATUS], head.headers["ETag"]) == ("HIT", first.headers["ETag"])
    question = "/v1/mass?value=2&from=ozt&to=g"
    assert [ask(question).headers[STATUS] for _ in range(2)] == ["MISS", "HIT"]


def test_each_form_and_each_query_has_its_own_answer(ask: Asker) -> None:
    forms = {"application/json": "application/json", "text/plain": "text/plain", "*/*": "application/json"}
    tables = {"application/json": "application/json", "text/csv": "text/csv"}
    for path, wanted in ((PATH, forms), ("/v1/alloys?karat=14", tables)):
        for expected in ("MISS", "HIT"):
            for accept, media in wanted.items():
                answer = ask(path, headers={"Accept": accept})
                assert answer.headers["Content-Type"].startswith(media)
                assert (accept, answer.headers[STATUS]) == (accept, expected)
    values = {ask(f"{PATH}?format=text&unit={unit}").text for _ in range(2) for unit in ("g/cm3", "kg/m3")}
    assert len(values) == 2
    # An address is kept as it was sent: one that the service reads otherwise is another.
    assert ask(f"{PATH}?format=text").content != ask(f"{PATH}?%66ormat=json").content


def test_no_header_makes_another_get_a_wrong_answer(ask: Asker) -> None:
    path = "/v1/elements/Au"
    wrong = {
        "X-Forwarded-Host": "evil.example",
        "X-Forwarded-Proto": "gopher",
        "X-Forwarded-Prefix": "/evil",
        "X-Forwarded-For": "10.9.8.7",
        "Forwarded": "host=evil.example",
        "X-Original-URL": "/v1/elements/Ag",
        "X-Rewrite-URL": "/v1/elements/Ag",
        "X-HTTP-Method-Override": "DELETE",
        "Accept-Language": "xx",
        "Accept-Encoding": "gzip, br",
        "Cookie": "a=b",
        "Origin": "https://evil.example",
        "Range": "bytes=0-3",
        "X-Request-Id": "first-caller",
    }
    poisoned = ask(path, headers=wrong)
    clean = ask(path)
    assert clean.status_code == 200
    assert clean.headers[STATUS] == "HIT"
    assert clean.json()["symbol"] == "Au"
    assert "evil" not in str(poisoned.headers) + poisoned.text + str(clean.headers) + clean.text
    assert clean.headers["X-Request-Id"] != "first-caller"


def test_another_name_gets_nothing(ask: Asker) -> None:
    for _ in range(2):
        refused = ask("/v1/elements/Pt", headers={"Host": "evil.example"})
        assert refused.status_code == 421
        assert STATUS not in refused.headers
    status, headers, _ = ask.raw(f"GET https://evil.example/v1/elements/Pt HTTP/1.1\r\nHost: {HOST}\r\n\r\n".encode())
    assert (status, "x-cache-status" in headers) == (421, False)
    status, headers, _ = ask.raw(f"GET https://{HOST}/v1/elements/Pt HTTP/1.1\r\nHost: evil.example\r\n\r\n".encode())
    assert status in (200, 400, 421)
    clean = ask("/v1/elements/Pt")
    assert (clean.status_code, clean.json()["symbol"]) == (200, "Pt")
    assert "evil" not in str(clean.headers) + clean.text


def test_plain_http_is_sent_to_tls_with_method_and_body(ask: Asker) -> None:
    answer = requests.post(
        f"http://127.0.0.1:{ask.front.plain}/v1/mass?a=b",
        headers={"Host": HOST},
        json=MASS,
        allow_redirects=False,
        timeout=SECONDS,
    )
    assert (answer.status_code, answer.headers["Location"]) == (308, f"https://{HOST}/v1/mass?a=b")


def test_what_is_posted_refused_or_about_the_moment_is_never_kept(ask: Asker) -> None:
    for _ in range(3):
        posted = ask("/v1/mass", "POST", json=MASS)
        assert posted.json()["result"]["mass"]["value"] == 62.2069536
        assert posted.headers.get(STATUS) in (None, "MISS")
        assert ask("/v1/alloys/nothing").headers[STATUS] == "MISS"
        assert ask("/v1/alloys?colr=x").headers[STATUS] == "MISS"
        for path in ("/healthz", "/readyz"):
            answer = ask(path)
            assert (answer.status_code, STATUS in answer.headers) == (200, False)
        rows = ask("/v1/bulk/mass", "POST", data="value,from,to\n2,ozt,g\n", headers={"Content-Type": "text/csv"})
        assert (rows.status_code, STATUS in rows.headers) == (200, False)
        assert "62.2069536" in rows.text
    for path in ("/metrics", "/_refused/away"):
        assert ask(path).status_code == 404


def test_the_shops_own_data_are_never_kept(ask: Asker, shop: dict[str, str]) -> None:
    key = {"Authorization": f"Bearer {shop['till']}"}
    made = ask("/v1/shop/alloys", "POST", json=ALLOY, headers=key)
    assert made.status_code == 201, made.text
    own = "/v1/contents?mass=10&unit=g&metal=shop:house"
    in_address = f"key={shop['cell']}"
    paths = ["/v1/shop/alloys", "/v1/shop/alloys/house", "/v1/shop/history", own]
    for _ in range(2):
        for path in paths:
            assert ask(path, headers=key).status_code == 200, path
            joined = f"{path}{'&' if '?' in path else '?'}"
            for named in (in_address, in_address.replace("key", "k%65y")):
                answer = ask(joined + named)
                assert (answer.status_code, STATUS in answer.headers) == (200, False)
            stranger = ask(path)
            assert (stranger.status_code, stranger.headers["Cache-Control"]) == (401, "no-store")
            for way in (
                "/v1/x/../shop/alloys",
                "/v1//shop/alloys",
                "/v1/%73hop/alloys",
                "/v1/shop/%2e%2e/shop/alloys",
            ):
                status, headers, _ = ask.raw(
                    f"GET {way} HTTP/1.1\r\nHost: {HOST}\r\nAuthorization: {key['Authorization']}\r\n\r\n".encode()
                )
                assert "x-cache-status" not in headers, (way, status)
                status, _, body = ask.raw(f"GET {way} HTTP/1.1\r\nHost: {HOST}\r\n\r\n".encode())
                assert (status, b"house" in body) in ((401, False), (404, False))
    # A public read that shows a key is asked of the service, and leaves nothing behind.
    path = "/v1/elements/Rh"
    assert not [one for one in (ask(path, headers=key), ask(path, headers=key)) if STATUS in one.headers]
    assert ask(path).headers[STATUS] == "MISS"
    kept = b"".join(file.read_bytes() for file in (ask.front.folder / "cache").rglob("*") if file.is_file())
    assert b"/v1/elements/Rh" in kept
    for secret in (b"house", b"shop/", shop["till"].encode(), shop["cell"].encode()):
        assert secret not in kept


def test_the_id_of_a_request_goes_through_and_is_each_ones_own(ask: Asker) -> None:
    path = "/v1/elements/Ir"
    for given in ("order-17", "order-18"):
        assert ask(path, headers={"X-Request-Id": given}).headers["X-Request-Id"] == given
        assert ask("/healthz", headers={"X-Request-Id": given}).headers["X-Request-Id"] == given
    made = [ask(path).headers["X-Request-Id"] for _ in range(2)]
    assert len(set(made)) == 2
    assert all(re.fullmatch("[0-9a-f]{32}", one) for one in made)
    assert re.fullmatch("[0-9a-f]{32}", ask(path, headers={"X-Request-Id": 'a b"c'}).headers["X-Request-Id"])


def test_what_a_caller_claims_about_the_way_is_overwritten(echo: Asker) -> None:
    claimed = {
        "X-Forwarded-For": "10.9.8.7",
        "X-Forwarded-Host": "evil.example",
        "X-Forwarded-Proto": "http",
        "X-Real-IP": "10.9.8.7",
        "Forwarded": "for=10.9.8.7",
        "Proxy": "http://evil.example",
        "X-Request-Id": "till-1",
        "Authorization": "Bearer x",
        "Connection": "close, X-Request-Id",
    }
    sent = echo("/v1/anything", headers=claimed).json()
    found = dict(sent)
    assert len(found) == len(sent)
    assert found["host"] == HOST
    assert (found["x-forwarded-for"], found["x-real-ip"]) == ("127.0.0.1", "127.0.0.1")
    assert (found["x-forwarded-host"], found["x-forwarded-proto"]) == (HOST, "https")
    assert (found["x-request-id"], found["authorization"]) == ("till-1", "Bearer x")
    assert not {"forwarded", "proxy", "connection"} & set(found)


def test_old_data_rather_than_none_and_never_otherwise(echo: Asker) -> None:
    path = "/v1/anything"
    assert echo.until(path, "HIT").status_code == 200
    Echo.status = 503
    assert echo("/v1/never-asked").status_code == 503
    stale = echo.until(path, "STALE")
    assert (stale.status_code, stale.headers["ETag"]) == (200, '"1"')
    assert echo("/v1/shop/alloys").status_code == 503
    Echo.status = 404
    assert echo(path).status_code == 404
    Echo.status = 200
    assert echo("/v1/never-asked").headers[STATUS] == "MISS"


@pytest.mark.parametrize("status", [404, 422, 503])
def test_equal_answers_that_may_not_be_kept_are_not_queued(echo: Asker, status: int) -> None:
    cells = 10
    Echo.status, Echo.meeting = status, Barrier(cells)
    with ThreadPoolExecutor(cells) as pool:
        answers = [pool.submit(Asker(echo.front), "/v1/alloys/sterlng/density") for _ in range(cells)]
        assert [one.result().status_code for one in answers] == [status] * cells


@pytest.mark.parametrize("query", ["key=x", "k%65y=x", "%6Bey=x", "%6be%79=x", "unit=g&%6b%65%79=x", "key"])
def test_a_key_in_the_address_goes_past_the_cache_however_it_is_written(echo: Asker, query: str) -> None:
    path = f"/v1/anything?{query}"
    assert not [one for one in (echo(path), echo(path)) if STATUS in one.headers]


@pytest.mark.parametrize("query", ["monkey=x", "keys=x", "unit=key=x", "k=e&y=x"])
def test_what_only_looks_like_a_key_is_kept(echo: Asker, query: str) -> None:
    assert echo.until(f"/v1/anything?{query}", "HIT").status_code == 200


@pytest.mark.parametrize("condition", ["If-Match", "If-Unmodified-Since"])
def test_conditions_on_a_read_are_the_services_business(ask: Asker, echo: Asker, condition: str) -> None:
    given = {condition: '"another"' if condition == "If-Match" else "Mon, 01 Jan 2024 00:00:00 GMT"}
    path = "/v1/elements/Ru"
    plain = ask.until(path, "HIT")
    answer = ask(path, headers=given)
    assert (answer.status_code, answer.content) == (200, plain.content)
    assert echo.until("/v1/anything", "HIT").status_code == 200
    assert dict(echo("/v1/anything", headers=given).json())[condition.lower()] == given[condition]


def test_the_log_has_no_query(echo: Asker) -> None:
    secret = "cell-a-secret"
    asked = ("/v1/anything", "/v1/shop/alloys", "/healthz", "/v1/alloys/a%20b", "/metrics")
    for path in asked:
        echo(f"{path}?key={secret}")
    requests.get(
        f"http://127.0.0.1:{echo.front.plain}/v1/mass?key={secret}",
        headers={"Host": HOST},
        allow_redirects=False,
        timeout=SECONDS,
    )
    echo(f"/v1/elements?key={secret}", headers={"Host": "other.example"})
    logged = (echo.front.folder / "access.log").read_text(encoding="utf-8")
    assert [line.split('"')[1].split()[1] for line in logged.splitlines()] == [*asked, "/v1/mass", "/v1/elements"]
    assert secret not in logged
    assert secret not in (echo.front.folder / "error.log").read_text(encoding="utf-8")


@pytest.mark.parametrize("path", ["/v1/anything", "/v1/shop/alloys", "/healthz"])
def test_who_sends_no_more_after_a_whole_request_is_answered(echo: Asker, path: str) -> None:
    sent = f"GET {path} HTTP/1.1\r\nHost: {HOST}\r\n\r\n".encode()
    for _ in range(5):
        status, _, body = echo.raw(sent, half_close=True)
        assert (status, dict(json.loads(body))["host"]) == (200, HOST)


def changed_copy(folder: Path) -> dict[str, str]:
    """The program over data in which the density of one pattern is another; the environment that starts it."""
    shutil.copytree(CODE, folder / "alloyref", ignore=shutil.ignore_patterns("__pycache__", "_data"))
    shutil.copytree(data_folder(), folder / "data", ignore=shutil.ignore_patterns("__pycache__"))
    file = folder / "data" / "patterns.csv"
    with file.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    rows[0]["density"] = "0.971"
    with file.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, rows[0], lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    # The checkout that the tests run in must not come before it.
    return {"PYTHONPATH": str(folder), "PYTHONSAFEPATH": "1"}


def test_changed_data_are_seen_as_soon_as_a_kept_answer_is_out_of_date(
    start: Callable[..., Any], tmp_path: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    nginx()
    port, path = free_port(), "/v1/patterns"
    with serving(Path(tmp_path_factory.mktemp("front")), port, **UNLIMITED) as front:
        ask = Asker(front)
        with start(port=port, ALLOYREF_WORKERS="2", ALLOYREF_CACHE_SECONDS="1"):
            old = ask(path)
            elements = ask("/v1/elements")
            # Nothing has changed: the service is asked with the ETag, says 304, and the kept body goes out again.
            again = ask.until(path, "REVALIDATED")
            assert (again.status_code, again.content, again.headers["ETag"]) == (
                200,
                old.content,
                old.headers["ETag"],
            )
        # The service is away: what was kept is given, what was not is a problem that says when to ask again.
        stale = ask.until(path, "STALE")
        assert stale.content == old.content
        away = ask("/v1/stones")
        assert (away.status_code, away.headers["Content-Type"]) == (503, "application/problem+json")
        assert (away.json()["type"], away.headers["Retry-After"]) == ("/v1/problems/unavailable", "2")
        assert ask("/v1/shop/alloys").status_code == 503
        other = changed_copy(tmp_path)
        with start(port=port, ALLOYREF_WORKERS="2", ALLOYREF_CACHE_SECONDS="1", **other):
            new = ask(path)
            assert new.headers[STATUS] == "EXPIRED"
            assert new.headers["ETag"] != old.headers["ETag"]
            assert new.json()["patterns"][0] != old.json()["patterns"][0]
            assert ask(path, headers={"If-None-Match": old.headers["ETag"]}).status_code == 200
            # The elements are as they were, but the answer names the dataset, which is another.
            assert ask("/v1/elements").headers["ETag"] != elements.headers["ETag"]


REFUSED = {
    "a long address": (b"GET /v1/alloys?q=" + b"a" * 9000 + b" HTTP/1.1\r\nHost: x\r\n\r\n", 414),
    "a long header": (b"GET /v1/alloys HTTP/1.1\r\nHost: x\r\nCookie: " + b"a" * 9000 + b"\r\n\r\n", 431),
    "many headers": (
        b"GET /v1/alloys HTTP/1.1\r\nHost: x\r\n" + b"".join(b"X-%d: y\r\n" % one for one in range(9000)) + b"\r\n",
        431,
    ),
    "two hosts": (b"GET /v1/alloys HTTP/1.1\r\nHost: x\r\nHost: y\r\n\r\n", 400),
    "two lengths": (b"POST /v1/mass HTTP/1.1\r\nHost: x\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n1", 400),
    "a length and chunks": (
        b"POST /v1/mass HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n",
        400,
    ),
    "a large body": (b"POST /v1/mass HTTP/1.1\r\nHost: x\r\nContent-Length: 100001\r\n\r\n", 413),
}


@pytest.mark.parametrize(("sent", "status"), REFUSED.values(), ids=REFUSED)
def test_what_nginx_refuses_is_a_problem_too(ask: Asker, sent: bytes, status: int) -> None:
    found, headers, body = ask.raw(sent.replace(b"Host: x", b"Host: " + HOST.encode()))
    assert (found, headers["content-type"]) == (status, "application/problem+json")
    assert json.loads(body)["status"] == status
    assert set(json.loads(body)) == {"type", "title", "status", "detail", "errors"}


def test_a_request_without_a_host_goes_no_further(ask: Asker) -> None:
    status, headers, _ = ask.raw(b"GET /v1/alloys HTTP/1.1\r\n\r\n")
    assert (status, "x-cache-status" in headers) == (400, False)


def test_too_many_from_one_address_are_told_to_wait(tmp_path: Path) -> None:
    with serving(tmp_path, free_port(), **{"rate=100r/s": "rate=1r/m", "burst=600": "burst=2"}) as front:
        ask = Asker(front)
        # Nothing is behind it, so what passes is answered that the service is away.
        passed = [ask("/v1/elements", headers={"X-Forwarded-For": f"10.0.0.{one}"}) for one in range(3)]
        assert [one.status_code for one in passed] == [503] * 3
        refused = ask("/v1/elements", headers={"X-Forwarded-For": "10.0.0.9"})
        assert (refused.status_code, refused.headers["Retry-After"]) == (429, "2")
        assert refused.json()["type"] == "/v1/problems/too-many"
        assert [ask("/healthz").status_code for _ in range(5)] == [503] * 5
        assert ask("/readyz").status_code == 429


def test_the_shipped_limits_are_those_of_the_service() -> None:
    text = (data_folder() / "deploy" / "nginx.conf").read_text(encoding="utf-8")
    for name in ("max_body", "max_bulk_body"):
        found = re.search(rf"client_max_body_size (\d+); +# ALLOYREF_{name.upper()}\n", text)
        assert found is not None
        assert int(found[1]) == getattr(Settings(), name)
    idle = re.search(r"keepalive_timeout (\d+)s;", text)
    assert idle is not None
    assert int(idle[1]) < Settings().header_seconds
