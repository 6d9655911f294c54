"""Records: what was asked and answered, kept as it was, and asked again."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import requests
from sqlalchemy import text

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.kept import ensure_kept
from alloyref.services.calculations import CALCULATIONS

Problem = Callable[[requests.Response, int], dict[str, Any]]
RECORDS = "/v1/shop/records"
ORDER = {"trial": {"metal": "sterling-silver", "mass": "6.31 g"}, "final_metal": "gold-585-yellow"}


@pytest.mark.parametrize("name", CALCULATIONS)
def test_every_calculation_can_be_recorded_and_comes_out_the_same(shop: Any, name: str) -> None:
    asked = shop.ask("POST", f"/v1/{name}?record=true", "write", json=CALCULATIONS[name].example)
    assert asked.status_code == 200, asked.text[:300]
    answer = asked.json()
    id_ = answer.pop("record")
    assert asked.headers["Location"] == f"{RECORDS}/{id_}"
    record = shop.ask("GET", f"{RECORDS}/{id_}", "read").json()
    assert record["answer"] == answer
    assert (record["calculation"], record["whole"], record["dataset"]) == (name, True, answer["dataset"])
    for dataset in ("own", "today"):
        again = shop.ask("POST", f"{RECORDS}/{id_}/recompute", "read", json={"dataset": dataset}).json()
        assert (again["same"], again["differences"], again["answer"]) == (True, [], answer)


def test_a_calculation_that_is_not_asked_to_be_recorded_is_not(shop: Any, problem_of: Problem) -> None:
    before = shop.ask("GET", RECORDS).json()["total"]
    for path in ("/v1/order", "/v1/order?record=false"):
        assert "record" not in shop.ask("POST", path, None, json=ORDER).json()
    problem_of(shop.ask("POST", "/v1/order?record=yes", json=ORDER), 422)
    problem_of(shop.ask("POST", "/v1/order?record=true", None, json=ORDER), 401)
    problem_of(shop.ask("POST", "/v1/order?record=true", "read", json=ORDER), 403)
    problem_of(shop.ask("POST", "/v1/order?record=true", json={**ORDER, "pieces": 0}), 422)
    problem_of(shop.ask("GET", "/v1/mass?value=1&from=g&to=dwt&record=true"), 422)
    assert shop.ask("GET", RECORDS).json()["total"] == before


def test_a_number_alone_has_its_record_in_the_header(shop: Any) -> None:
    body = {"value": 1, "from": "dwt", "to": "g"}
    answer = shop.ask("POST", "/v1/mass?record=true&format=text", json=body)
    assert answer.text == "1.55517384"
    assert shop.ask("GET", answer.headers["Location"]).json()["answer"]["result"]["mass"]["value"] == 1.55517384


def test_it_is_computed_with_the_alloys_of_the_shop_as_they_were(shop: Any) -> None:
    made = shop.made(density="13.1 g/cm3")
    name = made.json()["id"]
    id_ = shop.ask("POST", "/v1/order?record=true", json={**ORDER, "final_metal": name}).json()["record"]
    changed = {"name": "denser", "composition": {"Au": 585, "Ag": 205, "Cu": 210}, "density": "13.9 g/cm3"}
    put = shop.ask("PUT", made.headers["Location"], json=changed, headers={"If-Match": made.headers["ETag"]})
    for _ in range(2):
        again = shop.ask("POST", f"{RECORDS}/{id_}/recompute", json={}).json()
        assert again["same"] is True
        assert again["answer"]["inputs"]["final_metal"]["density"]["value"] == 13.1
        shop.ask("DELETE", made.headers["Location"], headers={"If-Match": put.headers["ETag"]})
    assert name in shop.ask("GET", f"{RECORDS}/{id_}").json()["alloys"]


def test_a_record_cannot_be_changed_by_anyone(shop: Any, problem_of: Problem) -> None:
    where = shop.ask("POST", "/v1/order?record=true", json=ORDER).headers["Location"]
    for method in ("PUT", "DELETE", "PATCH", "POST"):
        problem_of(shop.ask(method, where, json={}, headers={"If-Match": "*"}), 405)


def test_records_are_listed_newest_first(shop: Any) -> None:
    made = [shop.ask("POST", "/v1/order?record=true", json=ORDER).json()["record"] for _ in range(3)]
    listed = shop.ask("GET", f"{RECORDS}?calculation=order&page_size=3", "read").json()
    assert [one["id"] for one in listed["records"]] == made[::-1]
    assert {one["calculation"] for one in listed["records"]} == {"order"}


@pytest.fixture(scope="module")
def denser(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The kept text of data with a little denser sterling."""
    folder: Path = tmp_path_factory.mktemp("denser")
    copied = shutil.copytree(data_folder(), folder / "copied")
    table = copied / "publications" / "karmarsch-1877.csv"
    table.write_text(table.read_text(encoding="utf-8").replace(",10.356,", ",10.45,"), encoding="utf-8")
    return ensure_kept(copied, folder)


class TestUnderOtherData:
    """A record of data that are no longer today's."""

    @pytest.fixture(params=["as asked", "as answered"])
    def old(self, shop: Any, where: Any, denser: Path, request: pytest.FixtureRequest) -> str:
        """The id of a record as if it had been made under the data with denser sterling.

        What was asked may have been the inputs of an answer, with the figures of those data.
        """
        answered = shop.ask("POST", "/v1/order", json=ORDER).json()["inputs"]
        asked = ORDER if request.param == "as asked" else answered
        id_ = shop.ask("POST", "/v1/order?record=true", json=asked).json()["record"]
        copied = f"{id_[:-1]}{'0' if id_[-1] != '0' else '1'}"
        columns = "calculation, created, key_id, dataset_version, program, request, alloys, answer, digest"
        with shop.database.write() as connection:
            connection.execute(
                text(
                    f"INSERT INTO shop_records (id, dataset_hash, {columns}) "  # noqa: S608 - constants
                    f"SELECT :copied, :hash, {columns} FROM shop_records WHERE id = :id"
                ),
                {"copied": copied, "hash": hash_of(denser), "id": id_},
            )
        return copied

    def test_data_that_are_not_held_are_not_pretended_to_be(
        self, shop: Any, old: str, denser: Path, problem_of: Problem
    ) -> None:
        issue = problem_of(shop.ask("POST", f"{RECORDS}/{old}/recompute", json={"dataset": "own"}), 422)["errors"][0]
        assert issue["code"] == "dataset-not-held"
        assert hash_of(denser) in issue["detail"]
        again = shop.ask("POST", f"{RECORDS}/{old}/recompute", json={"dataset": "today"}).json()
        assert again["dataset"]["recorded"]["hash"] == hash_of(denser)
        assert again["dataset"]["now"] == again["answer"]["dataset"]
        assert again["same"] is True

    def test_data_that_are_held_are_used_and_the_difference_is_told(
        self, shop: Any, old: str, denser: Path, start: Callable[..., Any]
    ) -> None:
        with start(ALLOYREF_DATABASE_URL=shop.url) as service:
            shutil.copy(denser, service.log.parent / "data")
            other = type(shop)(service, shop.url, shop.database, shop.keys)
            own = other.ask("POST", f"{RECORDS}/{old}/recompute", json={"dataset": "own"}).json()
            assert own["answer"]["inputs"]["trial"]["metal"]["density"]["value"] == 10.45
            assert own["dataset"]["now"] == own["dataset"]["recorded"]
            changed = {one["pointer"]: (one["recorded"], one["now"]) for one in own["differences"]}
            assert changed["/inputs/trial/metal/density/value"] == (10.356, 10.45)
            assert changed["/result/charge/value"][0] > changed["/result/charge/value"][1]
            assert own["same"] is False


def hash_of(kept: Path) -> str:
    """The hash that a kept text is named after."""
    return kept.stem.removeprefix("reference-")


def test_without_a_body_it_is_asked_again_by_todays_data(shop: Any, problem_of: Problem) -> None:
    id_ = shop.ask("POST", "/v1/order?record=true", json=ORDER).json()["record"]
    path = f"{RECORDS}/{id_}/recompute"
    plain = shop.ask("POST", path, "read")
    assert plain.status_code == 200
    assert plain.json() == shop.ask("POST", path, "read", json={"dataset": "today"}).json()
    problem_of(shop.ask("POST", path, "read", data="dataset=own"), 415)
    assert problem_of(shop.ask("GET", path, "read"), 405)
    described = shop.ask("GET", "/openapi.json", None).json()["paths"]["/v1/shop/records/{name}/recompute"]
    assert described["post"]["requestBody"]["required"] is False
