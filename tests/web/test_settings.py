"""Configuration by environment: every variable is read, a wrong one is named, and README lists them."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from flask import Flask
from flask.testing import FlaskClient

from alloyref.cli import main
from alloyref.settings import READERS, Settings
from alloyref.web.app import create_app

ROOT = Path(__file__).resolve().parents[2]
RIGHT: dict[str, tuple[str, Any]] = {
    "data_dir": ("saltmarsh/data", Path("saltmarsh/data")),
    "host": ("0.0.0.0", "0.0.0.0"),  # noqa: S104 - only read, never bound
    "port": ("9000", 9000),
    "workers": ("3", 3),
    "max_body": ("5000", 5000),
    "max_bulk_body": ("7000000", 7_000_000),
    "max_bulk_answer": ("3", 3),
    "max_bulk_runs": ("3", 3),
    "max_charges": ("3", 3),
    "max_memory": ("256000000", 256_000_000),
    "max_in_flight": ("9000", 9000),
    "body_seconds": ("2.5", 2.5),
    "header_seconds": ("4", 4.0),
    "cache_seconds": ("60", 60),
    "cors_origins": ("https://a.example, https://b.example", ("https://a.example", "https://b.example")),
    "log_level": ("WARNING", "warning"),
    "log_format": ("JSON", "json"),
    "log_requests": ("true", True),
    "metrics": ("true", True),
    "rate_limit": ("600/minute", "600/minute"),
    "rate_store": ("redis://store.example", "redis://store.example"),
    "require_key": ("true", True),
    "idempotency_hours": ("48", 48),
    "database_url": ("postgresql+psycopg://bench@db.example/shop", "postgresql+psycopg://bench@db.example/shop"),
}
WRONG = {
    "port": ["0", "65536", "-1", "http", "80.5"],
    "workers": ["0", "-1", "two"],
    "max_body": ["0", "-5", "1e6", "1 MB"],
    "max_bulk_body": ["0", "1 GB"],
    "max_bulk_answer": ["0", "-1"],
    "max_bulk_runs": ["0", "-1"],
    "max_charges": ["0", "all"],
    "max_memory": ["0", "256 MB"],
    "max_in_flight": ["0", "much"],
    "body_seconds": ["0", "-1", "soon", "nan", "inf", "1e9"],
    "header_seconds": ["0", "-0.5", "", " "],
    "cache_seconds": ["-1", "long"],
    "log_level": ["loud", "1"],
    "log_format": ["xml"],
    "rate_limit": ["600", "0/minute", "600 / minute", "600/month", "a/minute"],
    "require_key": ["yes", "1", "truth"],
    "idempotency_hours": ["0", "-1", "a day"],
}
CASES = [(name, text) for name, texts in WRONG.items() for text in texts if text]


def variable(name: str) -> str:
    """The environment variable of a setting."""
    return f"ALLOYREF_{name.upper()}"


def test_every_setting_is_tested_here() -> None:
    names = {one.name for one in dataclasses.fields(Settings)}
    assert set(RIGHT) == names == set(READERS)


@pytest.mark.parametrize("name", RIGHT)
def test_a_variable_is_read(name: str) -> None:
    text, expected = RIGHT[name]
    settings = Settings.from_environment({variable(name): text})
    assert getattr(settings, name) == expected
    assert getattr(settings, name) != getattr(Settings(), name)
    others = dataclasses.replace(settings, **{name: getattr(Settings(), name)})
    assert others == Settings()


@pytest.mark.parametrize("name", RIGHT)
def test_an_empty_variable_is_as_good_as_none(name: str) -> None:
    assert Settings.from_environment({variable(name): ""}) == Settings() == Settings.from_environment({})


@pytest.mark.parametrize(("name", "text"), CASES)
def test_a_wrong_value_is_refused_by_the_name_of_its_variable(name: str, text: str) -> None:
    with pytest.raises(ValueError, match=variable(name)) as refused:
        Settings.from_environment({variable(name): text})
    assert repr(text) in str(refused.value)


@pytest.mark.parametrize("text", ["mysql://u:hidden@h/d", "hidden", "sqlite://", "postgresql://u:hidden@h:port/d"])
def test_a_wrong_database_is_refused_without_repeating_its_password(text: str) -> None:
    with pytest.raises(ValueError, match="ALLOYREF_DATABASE_URL") as refused:
        Settings.from_environment({"ALLOYREF_DATABASE_URL": text})
    assert "hidden" not in str(refused.value)


def test_a_wrong_store_is_refused_without_repeating_its_password() -> None:
    with pytest.raises(ValueError, match="ALLOYREF_RATE_STORE") as refused:
        Settings.from_environment({"ALLOYREF_RATE_STORE": "ftp://u:hidden@h"})
    assert "hidden" not in str(refused.value)


def test_the_database_is_not_shown_with_the_settings() -> None:
    assert "hidden" not in repr(Settings(database_url="postgresql://u:hidden@h/d"))


def test_it_listens_on_this_machine_only_unless_told_otherwise() -> None:
    assert Settings().host == "127.0.0.1"


def test_every_setting_stands_in_the_readme() -> None:
    readme = ROOT / "README.md"
    assert readme.is_file(), "README.md is missing"
    text = readme.read_text(encoding="utf-8")
    assert [variable(name) for name in RIGHT if variable(name) not in text] == []


def test_a_command_with_a_wrong_setting_ends_with_a_message_and_no_traceback() -> None:
    ran = CliRunner().invoke(main, ["mass", "--value", "1", "--from", "g", "--to", "g"], env={"ALLOYREF_PORT": "x"})
    assert ran.exit_code == 2
    assert "ALLOYREF_PORT" in ran.output
    assert ran.exception is None or isinstance(ran.exception, SystemExit)


def test_the_cache_time_is_the_one_set(folder: Path) -> None:
    app = create_app(Settings(data_dir=folder, cache_seconds=77))
    assert app.test_client().get("/v1/elements").headers["Cache-Control"] == "public, max-age=77"


def test_the_largest_body_is_the_one_set(folder: Path) -> None:
    client = create_app(Settings(data_dir=folder, max_body=50)).test_client()
    body = {"value": 1, "from": "g", "to": "g"}
    assert client.post("/v1/mass", json=body).status_code == 200
    assert client.post("/v1/mass", json={**body, "value": "1" + "0" * 11 + "." + "0" * 11}).status_code == 413


class TestCors:
    """Other origins are let in only where they are named."""

    @pytest.fixture
    def open_app(self, folder: Path) -> Flask:
        """An application that one origin may read."""
        return create_app(Settings(data_dir=folder, cors_origins=("https://bench.example",)))

    def test_off_by_default(self, client: FlaskClient) -> None:
        answer = client.get("/v1/elements", headers={"Origin": "https://bench.example"})
        assert "Access-Control-Allow-Origin" not in answer.headers

    def test_on_for_the_origins_named(self, open_app: Flask) -> None:
        for path in ("/v1/elements", "/v1/nothing"):
            answer = open_app.test_client().get(path, headers={"Origin": "https://bench.example"})
            assert answer.headers["Access-Control-Allow-Origin"] == "https://bench.example"

    @pytest.mark.parametrize(
        "origin", ["https://other.example", "http://bench.example", "null", "https://bench.example.evil"]
    )
    def test_off_for_others_and_told_to_caches(self, open_app: Flask, origin: str) -> None:
        answer = open_app.test_client().get("/v1/elements", headers={"Origin": origin})
        assert "Access-Control-Allow-Origin" not in answer.headers
        assert {"accept", "origin"} <= {word.strip().lower() for word in answer.headers["Vary"].split(",")}

    def test_a_browser_may_ask_before_it_posts_json(self, open_app: Flask) -> None:
        asked = {
            "Origin": "https://bench.example",
            "Access-Control-Request-Method": "POST",
            "Access-Control-Request-Headers": "content-type",
        }
        answer = open_app.test_client().options("/v1/order", headers=asked)
        assert answer.status_code in (200, 204)
        assert "POST" in answer.headers["Access-Control-Allow-Methods"]
        assert "content-type" in answer.headers["Access-Control-Allow-Headers"].lower()
