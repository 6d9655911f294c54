"""The inventory walk as a program of its own: 5,000 lots revalued, an order cast, every metal accounted for."""

from __future__ import annotations

import csv
import os
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import requests

from alloyref.catalogue.files import data_folder

WALK = data_folder() / "demo" / "inventory_walk.py"


@dataclass(frozen=True, slots=True)
class Walked:
    """What a walk printed, wrote and left behind."""

    said: str
    rows: list[dict[str, str]]
    record: dict[str, Any]
    alloys: list[dict[str, Any]]


@pytest.fixture(scope="module")
def walked(start: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory) -> Walked:
    """The walk, once, against a service of its own with a key of its own."""
    folder = tmp_path_factory.mktemp("walk")
    with start() as service:
        data = {"ALLOYREF_DATA_DIR": str(service.log.parent / "data")}
        made = [sys.executable, "-m", "alloyref", "keys", "create", "walk", "--scope", "read", "--scope", "write"]
        key = subprocess.run(
            made, check=True, capture_output=True, text=True, env={**os.environ, **data}
        ).stdout.strip()
        command = [sys.executable, str(WALK), service.address, str(folder)]
        environment = {**os.environ, "ALLOYREF_API_KEY": key}
        done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
        assert done.returncode == 0, done.stderr
        record = re.search(r"recorded as (\S+);", done.stdout)
        assert record is not None
        asked = {"Authorization": f"Bearer {key}"}
        kept = requests.get(f"{service.address}/v1/shop/records/{record[1]}", headers=asked, timeout=20).json()
        alloys = requests.get(f"{service.address}/v1/alloys?page_size=500", timeout=20).json()["alloys"]
    with (folder / "revalued.csv").open(encoding="utf-8", newline="") as stream:
        return Walked(done.stdout, list(csv.DictReader(stream)), kept, alloys)


def test_the_metal_account_closes_to_the_last_decimal(walked: Walked) -> None:
    assert walked.record["calculation"] == "order"
    assert "5000 lots" in walked.said
    rest = re.findall(r"(\w\w): (\S+) g unaccounted for", walked.said)
    assert {symbol for symbol, _ in rest} >= {"Au", "Ag", "Cu"}
    assert {Decimal(mass) for _, mass in rest} == {Decimal(0)}


def test_each_lot_was_valued_by_its_own_composition(walked: Walked) -> None:
    """What bulk said of each lot, against mass by fineness worked out here."""
    shares = {one["id"]: one["composition"] for one in walked.alloys}
    grams = {"g": Decimal(1), "dwt": Decimal("1.55517384")}  # one pennyweight is 24 grains of 64.79891 mg
    assert len(walked.rows) >= 5000
    for row in walked.rows:
        fine = Decimal(row["mass"]) * grams[row["unit"]] * Decimal(str(shares[row["metal"]].get("Au", 0))) / 1000
        assert abs(Decimal(row["result_gold"]) - fine) <= Decimal("0.00005")


@pytest.mark.parametrize(
    ("arguments", "key", "said"),
    [
        ((), "key", "required: address, folder"),
        (("http://127.0.0.1:1",), "key", "required: folder"),
        (("http://127.0.0.1:1", "{folder}"), "", "ALLOYREF_API_KEY holds no key"),
        (("http://127.0.0.1:1", "{folder}/not/there"), "key", "cannot be used"),
    ],
)
def test_what_is_missing_is_said_with_the_usage(
    tmp_path: Path, arguments: tuple[str, ...], key: str, said: str
) -> None:
    command = [sys.executable, str(WALK), *(one.format(folder=tmp_path) for one in arguments)]
    environment = {**os.environ, "ALLOYREF_API_KEY": key}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 2
    assert done.stderr.startswith("usage:")
    assert said in done.stderr
    assert "Traceback" not in done.stderr


def test_a_refused_key_is_said_in_a_line(server: Any, tmp_path: Path) -> None:
    command = [sys.executable, str(WALK), server.address, str(tmp_path)]
    environment = {**os.environ, "ALLOYREF_API_KEY": "noise"}
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=environment)
    assert done.returncode == 1
    assert done.stderr.startswith("The service refused: 401")
    assert "Traceback" not in done.stderr
