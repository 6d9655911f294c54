"""A fault of the service itself: a problem without internals, and the whole story in the log."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any, NoReturn

import pytest
from flask import Flask

from alloyref.settings import Settings
from alloyref.web.app import create_app

SECRET = "anvil-7731"


def broken(*_: Any, **__: Any) -> NoReturn:
    """A view that fails."""
    raise RuntimeError(f"the {SECRET} cracked")


@pytest.fixture
def failing(folder: Path) -> Flask:
    """An application one of whose reads and one of whose calculations fail."""
    app = create_app(Settings(data_dir=folder))
    for name in ("reference.dataset", "calculations.post-order", "reference.alloy"):
        assert name in app.view_functions
        app.view_functions[name] = broken
    return app


@pytest.mark.parametrize(
    ("method", "path"),
    [("GET", "/v1/dataset"), ("POST", "/v1/order"), ("GET", "/v1/alloys/x"), ("GET", "/v1/dataset?on_error=text")],
)
def test_it_is_a_problem_without_internals(
    failing: Flask, caplog: pytest.LogCaptureFixture, method: str, path: str
) -> None:
    with caplog.at_level(logging.ERROR, logger="alloyref"):
        answer = failing.test_client().open(path, method=method)
    assert answer.status_code == 500
    assert answer.content_type == "application/problem+json"
    document = answer.json
    assert document is not None
    assert (document["type"], document["status"], document["errors"]) == ("/v1/problems/internal", 500, [])
    assert answer.headers["Cache-Control"] == "no-store"
    for word in (SECRET, "RuntimeError", "Traceback", ".py"):
        assert word not in answer.text
    assert SECRET in caplog.text
    assert "Traceback" in caplog.text


def test_a_browser_is_told_on_a_page_without_internals(failing: Flask) -> None:
    answer = failing.test_client().get("/v1/dataset", headers={"Accept": "text/html"})
    assert answer.status_code == 500
    assert answer.content_type == "text/html; charset=utf-8"
    assert "The service failed on this request; the fault was logged." in answer.text
    for word in (SECRET, "RuntimeError", "Traceback", ".py"):
        assert word not in answer.text


def test_the_rest_goes_on(failing: Flask) -> None:
    client = failing.test_client()
    assert client.get("/v1/dataset").status_code == 500
    assert client.get("/v1/alloys").status_code == 200
    assert client.get("/healthz").status_code == 200
