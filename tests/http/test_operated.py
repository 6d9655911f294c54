"""The service as its keeper sees it: request ids, log lines, counts, limits, headers."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import requests
from limits.errors import StorageError

from alloyref.web.limits import Limiter

SECONDS = 20
Start = Callable[..., Any]
Problem = Callable[[requests.Response, int], dict[str, Any]]


def ask(service: Any, path: str, method: str = "GET", **options: Any) -> requests.Response:
    """Ask a service of one's own."""
    return requests.request(method, service.address + path, timeout=SECONDS, **options)


def test_every_answer_made_for_a_request_has_its_id(web: Callable[..., requests.Response]) -> None:
    body = {"value": 1, "from": "dwt", "to": "g"}
    own = web("POST", "/v1/mass", json=body, headers={"X-Request-Id": "till-7.42"})
    assert own.headers["X-Request-Id"] == "till-7.42"
    for given in ("", "a b", "x" * 65, 'x";y'):
        made = web("POST", "/v1/mass", json=body, headers={"X-Request-Id": given}).headers["X-Request-Id"]
        assert re.fullmatch("[0-9a-f]{16}", made)
    assert web("GET", "/v1/nothing").headers["X-Request-Id"]


def test_an_answer_given_again_does_not_carry_the_id_of_another(web: Callable[..., requests.Response]) -> None:
    for number in range(4):
        answer = web("GET", "/v1/elements/Ag", headers={"X-Request-Id": f"reader-{number}"})
        assert answer.headers.get("X-Request-Id") in (None, f"reader-{number}")


def test_data_are_no_page_and_pages_are_in_no_frame(web: Callable[..., requests.Response]) -> None:
    for path in ("/v1/elements", "/v1/nothing", "/healthz", "/v1/alloys.csv"):
        answer = web("GET", path)
        assert answer.headers["Content-Security-Policy"] == "default-src 'none'; frame-ancestors 'none'"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert "frame-ancestors 'none'" in web("GET", "/").headers["Content-Security-Policy"]


def test_counts_are_not_for_outsiders_unless_asked_for(
    web: Callable[..., requests.Response], problem_of: Problem
) -> None:
    problem_of(web("GET", "/metrics"), 404)


def test_counts_are_added_up_over_the_workers(start: Start) -> None:
    with start(ALLOYREF_METRICS="true", ALLOYREF_WORKERS="2") as service:
        for _ in range(20):
            assert ask(service, "/v1/mass", "POST", json={"value": 1, "from": "dwt", "to": "g"}).status_code == 200
            assert ask(service, "/v1/nothing/at/all").status_code == 404
            assert ask(service, "/v1/elements/Au").status_code == 200
        ask(service, "/v1/elements", "INVENTED")
        answer = ask(service, "/metrics")
        assert answer.headers["Content-Type"].startswith("text/plain")
        text = answer.text
        assert 'alloyref_requests_total{method="POST",route="/v1/mass",status="200"} 20.0' in text
        assert 'alloyref_requests_total{method="GET",route="none",status="404"} 20.0' in text
        made, ready = (
            float(found[1]) if (found := re.search(pattern, text, re.MULTILINE)) else 0.0
            for pattern in (
                r'alloyref_requests_total\{method="GET",route="/v1/elements/<name>",status="200"\} (\S+)',
                r"^alloyref_ready_answers_total (\S+)",
            )
        )
        assert made + ready == 20
        assert 'method="other"' in text
        assert "INVENTED" not in text
        assert service.faults() == []


def test_log_lines_are_json_and_hold_no_query_and_no_body(start: Start) -> None:
    secret = f"alloyref_{'a' * 16}_{'b' * 64}"
    with start(ALLOYREF_LOG_FORMAT="json", ALLOYREF_LOG_REQUESTS="true") as service:
        body = {"value": 1, "from": "dwt", "to": "hidden-word"}
        ask(service, f"/v1/shop/alloys?key={secret}", headers={"X-Request-Id": "one"})
        ask(service, "/v1/mass?format=json", "POST", json=body, headers={"Authorization": f"Bearer {secret}"})
        ask(service, "/v1/%0Aforged%22line", headers={"X-Request-Id": "three"})
    text = service.log.read_text(encoding="utf-8")
    lines = [json.loads(line) for line in text.splitlines()]
    assert all({"time", "level", "logger", "message"} <= set(line) for line in lines)
    requests_ = {line["request"]: line for line in lines if "status" in line}
    assert (requests_["one"]["path"], requests_["one"]["status"]) == ("/v1/shop/alloys", 401)
    assert requests_["three"]["status"] == 404
    assert any(line["path"] == "/v1/mass" and line["status"] == 422 for line in requests_.values())
    assert "b" * 64 not in text
    assert "hidden-word" not in text


def test_log_lines_as_text_tell_of_requests_too_one_line_each(start: Start) -> None:
    with start(ALLOYREF_LOG_REQUESTS="true") as service:
        ask(service, "/v1/elements/Au?key=hidden-word", headers={"X-Request-Id": "one"})
        ask(service, "/v1/%0A[INFO]%20forged", headers={"X-Request-Id": "two"})
    lines = service.log.read_text(encoding="utf-8").splitlines()
    assert [re.sub(r" [0-9.]+ ms ", " 0 ms ", line) for line in lines if "/v1/" in line] == [
        "[INFO] GET /v1/elements/Au 200 0 ms one key none",
        r"[INFO] GET /v1/\n[INFO] forged 404 0 ms two key none",
    ]
    assert not any(line.startswith("[INFO] forged") for line in lines)


def test_a_warning_is_one_line_too_whatever_path_it_tells_of(start: Start, tmp_path: Path) -> None:
    database = tmp_path / "shop.sqlite"
    database.write_text("This is no database.", encoding="utf-8")
    key = {"Authorization": f"Bearer alloyref_{'a' * 16}_{'b' * 64}"}
    with start(ready=False, ALLOYREF_DATABASE_URL=f"sqlite:///{database}") as service:
        for sign in ("%0A", "%0D", "%E2%80%A8", "%C2%85", "%1B%5B2J"):
            ask(service, f"/v1/shop/alloys/x{sign}[INFO]%20forged", headers=key)
    told = [line for line in service.log.read_text(encoding="utf-8").splitlines() if "forged" in line]
    assert [line.partition("[INFO]")[0] for line in told] == [
        rf"[WARNING] unavailable at GET /v1/shop/alloys/x{sign}"
        for sign in (r"\n", r"\r", r"\u2028", r"\x85", r"\x1b[2J")
    ]


def test_refusals_of_bodies_are_noted_like_any_other_answer(start: Start) -> None:
    """By the application, by the bulk way once rows have come, and by the gateway, each once."""
    head = "mass,unit,from_metal,to_metal\n"
    asked = [
        ("bulk/transfer", "text/csv", head + "1,g,Ag,Au\n", 200),
        ("bulk/transfer", "text/csv", "mas\n", 422),
        ("bulk/transfer", "text/csv", "", 400),
        ("bulk/transfer", "text/plain", head, 415),
        ("bulk/transfer", "text/csv", head * 100, 413),
        ("bulk/transfer", "text/csv", iter([head.encode()]), 411),
        ("mass", "application/json", "{}" + " " * 2000, 413),
        ("nothing", "application/json", "{}" + " " * 2000, 413),
    ]
    settings = {"ALLOYREF_LOG_FORMAT": "json", "ALLOYREF_LOG_REQUESTS": "true", "ALLOYREF_METRICS": "true"}
    with start(**settings, ALLOYREF_MAX_BODY="1000", ALLOYREF_MAX_BULK_BODY="1000") as service:
        for number, (path, media, body, status) in enumerate(asked):
            headers = {"Content-Type": media, "X-Request-Id": f"row-{number}"}
            answer = ask(service, f"/v1/{path}", "POST", data=body, headers=headers)
            assert (answer.status_code, answer.headers["X-Request-Id"]) == (status, f"row-{number}")
        counts = ask(service, "/metrics").text
    lines = [json.loads(line) for line in service.log.read_text(encoding="utf-8").splitlines()]
    noted = [(line["request"], line["path"], line["status"]) for line in lines if line.get("method") == "POST"]
    assert noted == [(f"row-{number}", f"/v1/{path}", status) for number, (path, _, _, status) in enumerate(asked)]
    for status in (200, 422, 400, 415, 413, 411):
        assert f'{{method="POST",route="/v1/bulk/transfer",status="{status}"}} 1.0' in counts
    assert '{method="POST",route="/v1/mass",status="413"} 1.0' in counts
    assert '{method="POST",route="none",status="413"} 1.0' in counts


class TestALimit:
    """`ALLOYREF_RATE_LIMIT=5/hour`."""

    @pytest.fixture
    def limited(self, start: Start) -> Any:
        """A service with a narrow limit."""
        with start(ALLOYREF_RATE_LIMIT="5/hour") as service:
            yield service

    def test_what_is_too_much_is_refused_and_told_when_to_come_back(self, limited: Any, problem_of: Problem) -> None:
        for left in (4, 3, 2, 1, 0):
            answer = ask(limited, "/v1/elements/Ag")
            assert answer.status_code == 200
            assert answer.headers["RateLimit-Policy"] == '"address";q=5;w=3600'
            assert re.fullmatch(rf'"address";r={left};t=\d+', answer.headers["RateLimit"])
        # Nor is it another address that counts, whatever a caller says of where it comes from.
        forged = {"X-Forwarded-For": "192.0.2.1", "Forwarded": "for=192.0.2.2", "X-Real-IP": "192.0.2.3"}
        for path in ("/v1/elements/Ag", "/v1/nothing", "/v1/shop/alloys"):
            refused = ask(limited, path, headers=forged)
            problem_of(refused, 429)
            assert 0 < int(refused.headers["Retry-After"]) <= 3600
        problem_of(ask(limited, "/v1/mass", "POST", json={"value": 1, "from": "dwt", "to": "g"}), 429)
        assert ask(limited, "/healthz").status_code == 200
        assert ask(limited, "/readyz").status_code == 200
        assert ask(limited, "/v1/elements", "OPTIONS").status_code == 200

    def test_what_the_gateway_refuses_is_counted_too(self, limited: Any, problem_of: Problem) -> None:
        large, long = "x" * 200_000, {"X-Long": "x" * 20_000}
        problem_of(ask(limited, "/v1/mass", "POST", data=large), 413)
        refused = ask(limited, "/v1/mass", "POST", data=iter([b"{}"]))
        problem_of(refused, 411)
        assert refused.headers["RateLimit-Policy"] == '"address";q=5;w=3600'
        assert re.fullmatch(r'"address";r=3;t=\d+', refused.headers["RateLimit"])
        for _ in range(2):
            problem_of(ask(limited, "/v1/elements", headers=long), 431)
        problem_of(ask(limited, "/v1/shop/alloys", headers={"Authorization": "Bearer guess"}), 401)
        for refused in (
            ask(limited, "/v1/mass", "POST", data=large),
            ask(limited, "/v1/elements", headers=long),
            ask(limited, "/v1/shop/alloys", headers={"Authorization": "Bearer guess"}),
        ):
            problem_of(refused, 429)
            assert 0 < int(refused.headers["Retry-After"]) <= 3600


def test_no_limit_unless_set(web: Callable[..., requests.Response]) -> None:
    assert "RateLimit" not in web("GET", "/v1/problems").headers


@pytest.mark.parametrize("first", ["hit", "test"])
def test_a_store_that_is_away_holds_nobody_up(monkeypatch: pytest.MonkeyPatch, first: str) -> None:
    limiter = Limiter("1/hour", "memory://")
    assert limiter.hit("a") is not None

    def away(*_: Any) -> bool:
        raise StorageError(ConnectionError())

    monkeypatch.setattr(limiter._strategy, first, away)
    if first == "test":
        # Whoever looks before counting waits as well, and tells the others.
        assert not limiter.is_over("a")
    assert limiter.hit("a") is None
