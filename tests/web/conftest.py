"""An application in this process, its description, and schema checks against it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jsonschema import Draft202012Validator
from referencing import Registry
from referencing.jsonschema import DRAFT202012

from alloyref.domain.reference import Reference
from alloyref.settings import Settings
from alloyref.shop.database import open_database
from alloyref.shop.migrate import upgrade
from alloyref.web.app import create_app
from alloyref.web.openapi import document

DESCRIPTION = "urn:alloyref:description"


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder of these tests."""
    return Path(tmp_path_factory.mktemp("web"))


@pytest.fixture(scope="session")
def app(folder: Path) -> Flask:
    """The application with its usual settings, and a database for what users write."""
    settings = Settings(data_dir=folder)
    upgrade(open_database(settings.database))
    return create_app(settings)


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A client of the application."""
    return app.test_client()


@pytest.fixture(scope="session")
def description(reference: Reference) -> dict[str, Any]:
    """The API description, generated."""
    return document(reference)


@pytest.fixture(scope="session")
def faults_by(description: dict[str, Any]) -> Callable[[str, Any], list[str]]:
    """What is wrong with a value by the schema that a JSON pointer into the description names."""
    registry: Registry[Any] = Registry().with_resource(DESCRIPTION, DRAFT202012.create_resource(description))

    def faults(pointer: str, value: Any) -> list[str]:
        validator = Draft202012Validator({"$ref": f"{DESCRIPTION}#{pointer}"}, registry=registry)
        return [f"{error.json_path}: {error.message[:200]}" for error in validator.iter_errors(value)]

    return faults
