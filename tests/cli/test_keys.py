"""`alloyref keys`: the only way to make, list and revoke a key."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from alloyref.cli import main
from alloyref.shop.clock import now
from alloyref.shop.database import address, open_database
from alloyref.shop.entries import ALLOYS
from alloyref.shop.errors import KeyRefused
from alloyref.shop.keys import check, create

Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Run a command on a database of its own."""
    environment = {"ALLOYREF_DATA_DIR": str(tmp_path)}

    def invoke(*arguments: str) -> Result:
        return CliRunner().invoke(main, list(arguments), env=environment, catch_exceptions=False)

    invoke("db", "upgrade")
    return invoke


def test_a_key_is_printed_once_and_works(run: Run, tmp_path: Path) -> None:
    made = run("keys", "create", "till", "--scope", "read", "--scope", "write")
    whole = made.stdout.strip()
    assert made.exit_code == 0
    assert "shown only now" in made.stderr
    database = open_database(address("", tmp_path))
    assert check(database, whole).scopes == ("read", "write")
    listed = run("keys", "list").stdout
    assert "till" in listed
    assert whole.rpartition("_")[2] not in listed
    id_ = whole.split("_")[1]
    assert run("keys", "revoke", id_).exit_code == 0
    with pytest.raises(KeyRefused, match="revoked"):
        check(database, whole)
    database.close()


def test_for_scripts_it_is_json(run: Run) -> None:
    assert json.loads(run("keys", "list", "--json").stdout) == []
    made = json.loads(run("keys", "create", "cell", "--in-query", "--days", "1", "--json").stdout)
    assert (made["scopes"], made["in_query"], made["revoked"]) == (["read"], True, None)
    assert now() < made["expires"]
    assert made["key"].startswith(f"alloyref_{made['id']}_")
    listed = json.loads(run("keys", "list", "--json").stdout)
    assert [one["id"] for one in listed] == [made["id"]]
    assert "key" not in listed[0]


def test_what_cannot_be_is_refused(run: Run) -> None:
    assert run("keys", "create", "cell", "--in-query", "--scope", "write").exit_code == 2
    assert run("keys", "create", "x", "--scope", "admin").exit_code == 2
    assert run("keys", "create", "x", "--days", "0").exit_code == 2
    assert run("keys", "create", "x" * 121).exit_code == 2
    assert run("keys", "create", "two\nlines").exit_code == 2
    assert run("keys", "revoke", "0" * 16).exit_code == 1
    assert "no keys" in run("keys", "list").stdout


def test_without_a_database_it_says_what_to_do(tmp_path: Path) -> None:
    made = CliRunner().invoke(main, ["keys", "list"], env={"ALLOYREF_DATA_DIR": str(tmp_path / "none")})
    assert made.exit_code == 1
    assert "alloyref db upgrade" in made.stderr


def test_a_calculation_takes_an_alloy_of_the_shop(run: Run, tmp_path: Path) -> None:
    database = open_database(address("", tmp_path))
    key, _ = create(database, "till", ("write",))
    document = '{"name": "house", "composition": {"Au": 585, "Ag": 205, "Cu": 210}, "density": "13.1 g/cm3"}'
    with database.write() as connection:
        ALLOYS.create(connection, "house", document, key.id)
    asked = ("transfer", "--mass", "4.82 g", "--from-metal", "sterling-silver", "--json", "--to-metal")
    answer = json.loads(run(*asked, "shop:house").stdout)
    assert answer["inputs"]["to_metal"]["density"]["value"] == 13.1
    unknown = run(*asked, "shop:huose")
    assert unknown.exit_code == 2
    assert "shop:house" in unknown.stderr
    database.close()
