"""What the gateway hands to the application of a request."""

from __future__ import annotations

import asyncio
import json
import logging
from types import SimpleNamespace
from typing import Any, NoReturn

import pytest
from flask import Flask

from alloyref.pictures.kinds import PICTURES
from alloyref.settings import Settings
from alloyref.web import gateway
from alloyref.web.gateway import Gateway, environ
from tests.own_loop import in_own_loop


@pytest.mark.parametrize("space", [" ", "\t", " \t"])
def test_spaces_within_accept_are_one_and_elsewhere_what_they_were(space: str) -> None:
    many = space * 2000
    headers = {"accept": f"text/csv{many};q=0.5,{many}*/*", "user-agent": f"a{many}b"}
    scope = SimpleNamespace(
        server="127.0.0.1:80",
        client="127.0.0.1:9",
        method="GET",
        path="/",
        query_string="",
        http_version="1.1",
        scheme="http",
        headers=headers,
    )
    made = environ(scope, b"")
    assert made["HTTP_ACCEPT"] == "text/csv ;q=0.5, */*"
    assert made["HTTP_USER_AGENT"] == headers["user-agent"]


class Headers(dict[str, str]):
    """Headers as the server has them."""

    def get_all(self, name: str) -> list[str]:
        """All of one name."""
        return [self[name]] if name in self else []


class Protocol:
    """What the server lets an answer be given to."""

    def __init__(self) -> None:
        self.given: list[tuple[int, list[tuple[str, str]], bytes]] = []

    async def client_disconnect(self) -> None:
        """Stay."""
        await asyncio.Event().wait()

    def response_bytes(self, status: int, headers: list[tuple[str, str]], body: bytes) -> None:
        """Take an answer."""
        self.given.append((status, headers, body))


def fails(*_: Any) -> NoReturn:
    """Fail in a way that nobody has foreseen."""
    raise ZeroDivisionError


def answered(app: Flask, **more: Any) -> tuple[int, bytes]:
    """What the gateway answers to one who asks for a drawing with a key."""
    scope = SimpleNamespace(
        proto="http",
        http_version="1.1",
        method="GET",
        path=f"/v1/pictures/{next(iter(PICTURES))}",
        query_string="",
        scheme="http",
        server="127.0.0.1:80",
        client="127.0.0.1:9",
        headers=Headers({"host": "x", "authorization": "Bearer a"}),
    )
    protocol = Protocol()
    in_own_loop(Gateway(app, Settings(log_requests=True), **more).__rsgi__(scope, protocol))
    ((status, _, body),) = protocol.given
    return status, body


def test_a_fault_before_the_application_is_a_problem_logged_once(
    app: Flask, caplog: pytest.LogCaptureFixture
) -> None:
    limiter: Any = SimpleNamespace(is_over=fails, hit=lambda _: None)
    with caplog.at_level(logging.INFO, "alloyref"):
        status, body = answered(app, limiter=limiter)
    assert (status, json.loads(body)["type"]) == (500, "/v1/problems/internal")
    assert "ZeroDivisionError" in caplog.text
    assert sum(" 500 " in line for line in caplog.messages) == 1


def test_a_drawing_needs_no_look_at_the_key(app: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gateway, "holder", fails)
    assert answered(app)[0] == 200
