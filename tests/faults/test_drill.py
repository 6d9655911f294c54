"""The backup drill and the rollback, by the very commands that the text for operators gives."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import requests
from sqlalchemy import text

from alloyref.catalogue.files import data_folder
from alloyref.shop import keys
from alloyref.shop.database import address, open_database
from alloyref.shop.migrate import upgrade
from alloyref.shop.tables import HEAD, VERSION_TABLE

SECONDS = 30
FOLDER = "/var/backups/alloyref"
ALLOY = {"name": "house yellow 14", "composition": {"Au": 585, "Ag": 205, "Cu": 210}, "density": "13.1 g/cm3"}


def block(name: str) -> str:
    """The commands of one block of the text."""
    found = re.findall(
        rf"^```sh {name}\n(.*?)^```",
        (data_folder() / "deploy" / "README.md").read_text("utf-8"),
        re.MULTILINE | re.DOTALL,
    )
    assert len(found) == 1
    return str(found[0])


class Shell:
    """Runs commands as an operator would: `alloyref` in the path, the settings in the environment."""

    def __init__(self, folder: Path, url: str) -> None:
        programs = folder / "bin"
        programs.mkdir(parents=True)
        self.backups = folder / "backups"
        self.backups.mkdir()
        self.data = folder / "data"
        alloyref = programs / "alloyref"
        alloyref.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m alloyref "$@"\n', encoding="utf-8")
        alloyref.chmod(0o755)
        self.environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith("ALLOYREF_")},
            "PATH": f"{programs}:{os.environ['PATH']}",
            "ALLOYREF_DATA_DIR": str(self.data),
            "ALLOYREF_DATABASE_URL": url,
        }

    def __call__(self, commands: str) -> str:
        """Run them, each must succeed; what they said."""
        here = commands.replace(FOLDER, str(self.backups))
        ran = subprocess.run(
            ["sh", "-eu", "-c", here], env=self.environment, capture_output=True, text=True, timeout=60, check=False
        )
        assert ran.returncode == 0, ran.stdout + ran.stderr
        return ran.stdout


class Shop:
    """A shop's data over a running service."""

    def __init__(self, service: Any, key: str) -> None:
        self.service = service
        self.headers = {"Authorization": f"Bearer {key}"}

    def made(self, name: str) -> None:
        """Store an alloy and the record of an answer that rests on it."""
        url = f"{self.service.address}/v1"
        answer = requests.post(
            f"{url}/shop/alloys", json={**ALLOY, "id": name}, headers=self.headers, timeout=SECONDS
        )
        assert answer.status_code == 201, answer.text
        body = {"mass": "10 g", "metal": f"shop:{name}"}
        answer = requests.post(f"{url}/contents?record=true", json=body, headers=self.headers, timeout=SECONDS)
        assert answer.json()["record"], answer.text

    def all(self) -> dict[str, Any]:
        """All that is stored, as it is served."""
        found = {}
        for name in ("alloys", "prices", "records", "history"):
            url = f"{self.service.address}/v1/shop/{name}"
            answer = requests.get(url, headers=self.headers, timeout=SECONDS)
            assert answer.status_code == 200, answer.text
            found[name] = answer.json()
        return found


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def kind(request: pytest.FixtureRequest) -> str:
    """Which database."""
    return str(request.param)


@pytest.fixture
def url(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a new database, as an operator writes it."""
    if kind == "sqlite":
        yield f"sqlite:///{tmp_path}/data/shop.sqlite"
        return
    for program in ("pg_dump", "pg_restore"):
        if shutil.which(program) is None:
            reason = f"{program} is not installed"
            if os.environ.get("CI_REQUIRES_POSTGRES") == "1":
                pytest.fail(reason)
            pytest.skip(reason)
    with request.getfixturevalue("new_postgres")() as made:
        yield made.set(drivername="postgresql").render_as_string(hide_password=False)


def lose(url: str, tmp_path: Path) -> None:
    """All of it is gone."""
    if url.startswith("sqlite"):
        for file in (tmp_path / "data").glob("shop.sqlite*"):
            file.unlink()
        return
    database = open_database(address(url, tmp_path))
    with database.engine.begin() as connection:
        connection.execute(text("DROP SCHEMA public CASCADE"))
        connection.execute(text("CREATE SCHEMA public"))
    database.close()


def test_what_was_lost_comes_back(kind: str, url: str, start: Callable[..., Any], tmp_path: Path) -> None:
    shell = Shell(tmp_path, url)
    shell("alloyref db upgrade")
    key = shell("alloyref keys create till --scope read --scope write").split()[-1]
    given = {"ALLOYREF_DATABASE_URL": url, "ALLOYREF_WORKERS": "2"}
    with start(**given) as service:
        shop = Shop(service, key)
        shop.made("house-yellow")
        saved = shop.all()
        assert len(saved["records"]["records"]) == 1
        # The copy is made while the service runs, and what comes after it is not in it.
        shell(block(f"backup {kind}"))
        shop.made("house-late")
        assert shop.all() != saved
    lose(url, tmp_path)
    with start(ready=kind == "sqlite", **given) as service:
        shown = {"Authorization": f"Bearer {key}"}
        answer = requests.get(f"{service.address}/v1/shop/alloys", headers=shown, timeout=SECONDS)
        assert answer.status_code == (401 if kind == "sqlite" else 503)
    said = shell(block(f"restore {kind}"))
    assert f"schema {HEAD} holds: 1 alloys" in said
    with start(**given) as service:
        shop = Shop(service, key)
        assert shop.all() == saved
        # It is in use again, not only there: numbers of new rows go on from those that came back.
        shop.made("house-next")
        assert service.faults() == []


def test_a_key_revoked_since_is_back_from_a_dump_as_the_text_warns(new_postgres: Any, tmp_path: Path) -> None:
    if shutil.which("pg_dump") is None:
        pytest.skip("pg_dump is not installed")
    with new_postgres() as where:
        url = where.set(drivername="postgresql").render_as_string(hide_password=False)
        shell = Shell(tmp_path, url)
        shell("alloyref db upgrade")
        database = open_database(where)
        made = keys.create(database, "lost phone", ("read",))[0]
        shell(block("backup postgresql"))
        keys.revoke(database, made.id)
        database.close()
        assert "lost phone" in shell(block("restore postgresql"))
        shell(f"alloyref keys revoke {made.id}")


def test_the_old_program_is_put_back_over_a_changed_schema(start: Callable[..., Any], tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path}/data/shop.sqlite"
    shell = Shell(tmp_path, url)
    where = address(url, tmp_path)
    (tmp_path / "data").mkdir()
    database = open_database(where)
    upgrade(database)
    key = keys.create(database, "till", ("read", "write"))[1]
    with start(ALLOYREF_DATABASE_URL=url) as service:
        Shop(service, key).made("house-yellow")
        saved = Shop(service, key).all()
    shell(block("backup sqlite"))
    # The new program has been here: a schema that this one does not know.
    with database.engine.begin() as connection:
        connection.execute(text(f"UPDATE {VERSION_TABLE} SET version_num = 'r9999'"))  # noqa: S608 - a constant
    database.close()
    with start(ready=False, ALLOYREF_DATABASE_URL=url) as service:
        assert requests.get(f"{service.address}/readyz", timeout=SECONDS).status_code == 503
        assert requests.get(f"{service.address}/v1/elements", timeout=SECONDS).status_code == 200
        assert service.faults() == []
    command = [sys.executable, "-m", "alloyref", "db", "check"]
    checked = subprocess.run(command, env=shell.environment, capture_output=True, text=True, check=False)
    assert checked.returncode == 1
    assert "r9999" in checked.stderr
    shell(block("restore sqlite"))
    with start(ALLOYREF_DATABASE_URL=url) as service:
        assert Shop(service, key).all() == saved
        assert service.faults() == []
