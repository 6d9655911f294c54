"""Validators and cache headers of every read, taken from the described addresses."""

from __future__ import annotations

import re
from collections.abc import Callable
from email.utils import parsedate_to_datetime
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
pytestmark = pytest.mark.usefixtures("no_new_fault")
STRONG = re.compile(r'"[^"]+"')
KEPT_IN_304 = ("ETag", "Cache-Control", "Vary")


def failing(paths: list[str], holds: Callable[[str], bool]) -> list[str]:
    """The addresses that something does not hold for."""
    assert len(paths) > 25
    return [path for path in paths if not holds(path)]


def test_every_read_has_a_strong_validator_and_may_be_cached(web: Web, read_paths: list[str]) -> None:
    def holds(path: str) -> bool:
        answer = web("GET", path)
        vary = {word.strip().lower() for word in answer.headers.get("Vary", "").split(",")}
        return (
            answer.status_code == 200
            and STRONG.fullmatch(answer.headers["ETag"]) is not None
            and re.fullmatch(r"public, max-age=[1-9]\d*", answer.headers["Cache-Control"]) is not None
            and "accept" in vary
        )

    assert failing(read_paths, holds) == []


@pytest.mark.parametrize("form", ["{}", "W/{}", '"other", {}', '"a,b", W/{}', "*", '{} ,"x"', 'W/"x",W/{}'], ids=repr)
def test_every_read_answers_304_when_nothing_changed(web: Web, read_paths: list[str], form: str) -> None:
    def holds(path: str) -> bool:
        first = web("GET", path)
        asked = {"If-None-Match": form.format(first.headers["ETag"])}
        answers = [web("GET", path, headers=asked), web("HEAD", path, headers=asked)]
        return all(
            answer.status_code == 304
            and answer.content == b""
            and all(answer.headers.get(name) == first.headers[name] for name in KEPT_IN_304)
            for answer in answers
        )

    assert failing(read_paths, holds) == []


@pytest.mark.parametrize("form", ['"other"', 'W/"other"', '"other", "another"', "other", '""'])
def test_another_validator_gets_the_whole_answer(web: Web, form: str) -> None:
    for path in ("/v1/alloys/fine-gold", "/v1/alloys.csv", "/v1/alloys/fine-gold/density?format=text"):
        answer = web("GET", path, headers={"If-None-Match": form})
        assert answer.status_code == 200
        assert answer.content


def test_head_gives_the_headers_of_get_and_no_body(web: Web, read_paths: list[str]) -> None:
    def headers(answer: requests.Response) -> dict[str, str]:
        return {
            name.lower(): value
            for name, value in answer.headers.items()
            if name.lower() not in ("date", "x-request-id")
        }

    def holds(path: str) -> bool:
        head, get = web("HEAD", path), web("GET", path)
        same = headers(head) == headers(get) and head.status_code == get.status_code == 200
        return same and head.content == b"" and int(head.headers["Content-Length"]) == len(get.content) > 0

    assert failing([*read_paths, "/healthz", "/readyz", "/"], holds) == []


def test_options_is_never_refused(web: Web, read_paths: list[str]) -> None:
    def holds(path: str) -> bool:
        answer = web("OPTIONS", path)
        return answer.status_code in (200, 204) and {"GET", "HEAD"} <= set(answer.headers["Allow"].split(", "))

    assert failing(read_paths, holds) == []
    assert "POST" in web("OPTIONS", "/v1/order").headers["Allow"]


def test_each_form_and_each_page_has_its_own_validator(web: Web) -> None:
    paths = [
        "/v1/alloys?page_size=5",
        "/v1/alloys?page_size=5&page=2",
        "/v1/alloys?page_size=5&format=csv",
        "/v1/alloys?page_size=5&sort=-id",
        "/v1/alloys/fine-gold/density?format=text",
        "/v1/alloys/fine-silver/density?format=text",
    ]
    assert len({web("GET", path).headers["ETag"] for path in paths}) == len(paths)


def test_one_address_keeps_its_forms_apart(web: Web) -> None:
    path = "/v1/alloys/fine-gold/density"
    for accept, media in (
        ("application/json", "application/json"),
        ("text/plain", "text/plain"),
        ("*/*", "application/json"),
    ):
        for _ in range(2):
            assert web("GET", path, headers={"Accept": accept}).headers["Content-Type"].startswith(media)


def test_an_error_is_not_cached(web: Web) -> None:
    for path in ("/v1/alloys/nothing", "/v1/alloys?colr=x", "/nothing", "/v1/alloys/nothing?on_error=text"):
        answer = web("GET", path)
        assert answer.headers["Cache-Control"] == "no-store"
        assert "ETag" not in answer.headers


def test_an_answer_given_again_bears_its_own_date(web: Web) -> None:
    def date(path: str) -> Any:
        return parsedate_to_datetime(web("GET", path).headers["Date"])

    path = "/v1/alloys?page_size=7"
    first = date(path)
    for _ in range(20_000):
        now = date("/healthz")
        if now > first:
            break
    assert now > first
    # A date that stands still makes every cache count the answer as ever older (RFC 9111, section 4.2.3).
    assert date(path) >= now


def test_nosniff_stands_on_every_kind_of_answer(web: Web) -> None:
    for path in ("/", "/v1/alloys", "/v1/alloys.csv", "/healthz", "/nothing", "/openapi.json"):
        assert web("GET", path).headers["X-Content-Type-Options"] == "nosniff"
