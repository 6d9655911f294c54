"""The client against a running service: typed answers, and refusals as one exception with its pointers."""

from __future__ import annotations

import inspect
import io
import json
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from typing import Any

import pytest
import requests

from alloyref.cli.demo import free_port
from alloyref.client import Alloy, Answer, Client, Money, NoService, Patience, Quantity, ServiceProblem
from alloyref.services.calculations import CALCULATIONS
from alloyref.services.lookup import PROPERTIES
from alloyref.web.routes.tables import TABLES

Web = Callable[..., requests.Response]


@pytest.fixture
def client(server: Any) -> Iterator[Client]:
    """A client of the running service, its address written with a slash at the end."""
    with Client(f"{server.address}/", patience=Patience(0)) as made:
        yield made


class TestAnswers:
    """What is answered, typed and exact."""

    def test_a_calculation_has_exact_quantities(self, client: Client) -> None:
        answer = client.calculate("mass", {"value": "1", "from": "ozt", "to": "g"})
        assert isinstance(answer, Answer)
        assert answer.quantity("mass") == Quantity(Decimal("31.1034768"), "g")
        assert answer.record is None

    def test_the_envelope_is_typed(self, client: Client) -> None:
        answer = client.transfer(mass="4.82 dwt", from_metal="sterling-silver", to_metal="gold-750-yellow")
        plain = json.loads(answer.text, parse_float=Decimal)
        mass = answer.quantity("mass")
        shown = plain["result"]["mass"]
        assert (mass.value, mass.low, mass.high) == (shown["value"], shown["low"], shown["high"])
        assert mass.low is not None
        assert mass.high is not None
        assert mass.low < mass.value < mass.high
        assert mass.display["dwt"] == shown["display"]["dwt"]
        assert answer.inputs["from_metal"]["density"].status == "measured"
        assert [one.text for one in answer.assumptions] == [one["text"] for one in plain["assumptions"]]
        assert answer.assumptions[0].basis.source
        assert [one.id for one in answer.cautions] == [one["id"] for one in plain["cautions"]]
        assert answer.dataset.hash == plain["dataset"]["hash"]

    def test_money_and_what_stands_beside_a_quantity(self, client: Client, demo_order: dict[str, Any]) -> None:
        answer = client.order(**demo_order)
        # Its silver and copper have no price.
        assert answer.result["cost"]["total"] == Money(answer.result["cost"]["total"].value, "EUR", at_least=True)
        assert answer.quantity("to_buy").more["items"][0]["mass"].unit == "g"

    def test_a_value_that_is_not_there_is_no_quantity(self, client: Client) -> None:
        with pytest.raises(LookupError, match="it has mass"):
            client.mass(value=1, from_="ozt", to="g").quantity("weight")

    def test_an_answer_can_be_sent_on(self, client: Client) -> None:
        there = client.transfer(mass="4.82 dwt", from_metal="Ag", to_metal="Au").quantity("mass")
        back = client.transfer(mass=there, from_metal="Au", to_metal="Ag").quantity("mass")
        assert back.display["dwt"] == Decimal("4.82")

    @pytest.mark.parametrize("name", CALCULATIONS)
    def test_one_is_asked_again_with_its_inputs(self, client: Client, name: str) -> None:
        first = client.calculate(name, CALCULATIONS[name].example)
        again = getattr(client, name.replace("-", "_"))(**first.to_ask_again())
        assert json.loads(again.text) == json.loads(first.text)

    def test_one_is_asked_again_with_a_figure_changed(self, client: Client, demo_order: dict[str, Any]) -> None:
        inputs = client.order(**demo_order).to_ask_again()
        inputs["trial"]["mass"]["value"] = "7"
        changed = client.order(**inputs | {"pieces": 5})
        asked = {**demo_order, "pieces": 5, "trial": {**demo_order["trial"], "mass": "7 g"}}
        assert json.loads(changed.text) == json.loads(client.order(**asked).text)

    @pytest.mark.parametrize("name", CALCULATIONS)
    def test_every_calculation_is_a_method(self, client: Client, name: str) -> None:
        example = CALCULATIONS[name].example
        answer = getattr(client, name.replace("-", "_"))(**example)
        assert json.loads(answer.text) == json.loads(client.calculate(name, example).text)


class TestReads:
    """The catalogue and its tables."""

    def test_an_alloy(self, client: Client, web: Web) -> None:
        alloy = client.alloy("sterling-silver")
        shown = web("GET", "/v1/alloys/sterling-silver").json()
        assert alloy.composition == {"Ag": 925, "Cu": 75}
        assert alloy.density.value == Decimal(str(shown["density"]["value"]))
        assert alloy.solidus is not None
        assert alloy.solidus.source == shown["solidus"]["source"]
        assert (alloy.karat, alloy.uses) == (None, tuple(shown["uses"]))
        assert alloy.more.keys() == shown.keys() - {name for name in dir(alloy) if name[0] != "_"}

    def test_alloys_come_page_by_page(self, client: Client, web: Web) -> None:
        asked = {"base": "Au", "free_of": "Ni,Cd", "karat": 14}
        whole = web("GET", "/v1/alloys", params={**asked, "page_size": 500}).json()["alloys"]
        found = list(client.alloys(**{**asked, "free_of": ["Ni", "Cd"]}, page_size=3))
        assert [one.id for one in found] == [one["id"] for one in whole]
        assert len(found) > 6
        assert all(isinstance(one, Alloy) for one in found)

    @pytest.mark.parametrize("name", PROPERTIES)
    def test_each_number_in_its_own_unit(self, client: Client, web: Web, name: str) -> None:
        found = getattr(client, name)("gold-750-yellow")
        text = web("GET", f"/v1/alloys/gold-750-yellow/{name}", params={"format": "text"}).text
        assert found.value == Decimal(text)
        assert found.status

    def test_a_number_in_another_unit(self, client: Client) -> None:
        assert client.density("sterling-silver", "kg/m3").value == 1000 * client.density("sterling-silver").value

    @pytest.mark.parametrize("name", [table.name for table in TABLES] + ["alloys"])
    def test_every_table_as_rows_and_as_csv(self, client: Client, web: Web, name: str) -> None:
        shown = web("GET", f"/v1/{name}", params={"page_size": 500} if name == "alloys" else {}).json()
        assert len(client.table(name)) == shown["total"]
        assert client.table_csv(name) == web("GET", f"/v1/{name}.csv").content.decode()

    def test_csv_of_several_pages_is_one_table(self, client: Client) -> None:
        assert client.table_csv("alloys", page_size=50) == client.table_csv("alloys")


class TestKept:
    """Reads that were answered before."""

    @pytest.fixture
    def statuses(self, monkeypatch: pytest.MonkeyPatch) -> list[int]:
        """The status of each response that comes in."""
        seen: list[int] = []
        original = requests.Session.send

        def send(self: requests.Session, request: requests.PreparedRequest, **options: Any) -> requests.Response:
            response = original(self, request, **options)
            seen.append(response.status_code)
            return response

        monkeypatch.setattr(requests.Session, "send", send)
        return seen

    def test_a_second_read_is_a_304_and_the_same(self, client: Client, statuses: list[int]) -> None:
        first = [client.alloy("sterling-silver"), client.table_csv("units"), list(client.alloys(base="Pt"))]
        count = len(statuses)
        assert statuses == [200] * count
        again = [client.alloy("sterling-silver"), client.table_csv("units"), list(client.alloys(base="Pt"))]
        assert again == first
        assert statuses[count:] == [304] * count

    def test_another_question_at_the_same_address_is_another_read(self, client: Client, statuses: list[int]) -> None:
        sizes = {client.density("sterling-silver", unit).value for unit in (None, "kg/m3")}
        assert len(sizes) == 2
        assert client.table_csv("alloys", base="Pt") != client.table_csv("alloys", base="Pd")
        assert set(statuses) == {200}

    def test_threads_share_one_client(self, client: Client, statuses: list[int]) -> None:
        with ThreadPoolExecutor(8) as pool:
            found = list(pool.map(lambda _: client.alloy("sterling-silver"), range(64)))
        assert all(one == found[0] for one in found)
        assert 64 - statuses.count(200) == statuses.count(304) > 0


class TestRefusals:
    """Problems, and a service that is not there."""

    @pytest.mark.parametrize(
        ("name", "inputs", "issue"),
        [
            ("mass", {"value": "1", "from": "oz", "to": "g"}, ("/from", "unit-ambiguous")),
            ("order", {"final_metal": "Au"}, ("", "one-of")),
        ],
    )
    def test_a_refusal_carries_its_pointers(
        self, client: Client, name: str, inputs: dict[str, str], issue: tuple[str, str]
    ) -> None:
        with pytest.raises(ServiceProblem, match="422") as refused:
            client.calculate(name, inputs)
        problem = refused.value
        assert (problem.status, problem.type) == (422, "/v1/problems/invalid")
        assert problem.title
        assert problem.detail
        assert [(one.pointer, one.code) for one in problem.issues] == [issue]
        assert problem.issues[0].detail in str(problem)

    def test_nothing_there_is_a_problem_too(self, client: Client) -> None:
        with pytest.raises(ServiceProblem) as refused:
            client.alloy("sterlng-silver")
        assert refused.value.status == 404
        assert "sterling-silver" in refused.value.issues[0].suggestions

    def test_a_misspelt_calculation_names_the_right_one(self, client: Client) -> None:
        with pytest.raises(ServiceProblem) as refused:
            client.alter_finenes(mass="1 g")
        assert refused.value.status == 404
        assert "/v1/alter-fineness" in refused.value.issues[0].suggestions

    @pytest.mark.parametrize("name", ["sterling-silver/density", "..", ""])
    def test_a_name_is_no_path(self, client: Client, name: str) -> None:
        with pytest.raises(ValueError, match="no name"):
            client.alloy(name)

    def test_an_answer_that_is_no_json_is_a_problem_with_its_status(self, client: Client) -> None:
        # A server's own refusals, before any application sees the request, have no body.
        with pytest.raises(ServiceProblem) as refused:
            client.get("/v1/alloys", q="a" * 100_000)
        assert refused.value.status in (414, 431)
        assert refused.value.issues == ()

    @pytest.mark.parametrize("value", [float("nan"), float("inf"), object()])
    def test_what_json_cannot_say_is_not_sent(self, client: Client, value: object) -> None:
        with pytest.raises((ValueError, TypeError)):
            client.mass(value=value, from_="ozt", to="g")

    def test_a_service_that_is_not_there_is_a_connection_error(self) -> None:
        with (
            Client(f"http://127.0.0.1:{free_port()}", timeout=2, patience=Patience(0)) as absent,
            pytest.raises(requests.ConnectionError),
        ):
            absent.get("/v1/dataset")


class TestGettingStarted:
    """A client without an address, without a service, and what it shows of itself."""

    def test_the_address_comes_from_the_environment(self, server: Any, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv("ALLOYREF_URL", server.address)
        with Client() as client:
            assert client.mass(value=1, from_="ozt", to="g").quantity("mass").value == Decimal("31.1034768")

    @pytest.mark.parametrize("ask", ["get", "calculate", "bulk"])
    def test_no_service_is_told_in_words_with_its_address(self, ask: str) -> None:
        address = f"http://127.0.0.1:{free_port()}"
        with Client(address, timeout=2, patience=Patience(0)) as absent:
            questions: dict[str, Callable[[], object]] = {
                "get": lambda: absent.get("/v1/dataset"),
                "calculate": lambda: absent.mass(value=1, from_="ozt", to="g"),
                "bulk": lambda: absent.bulk("mass", io.BytesIO(b"value,from,to\n"), io.BytesIO()),
            }
            with pytest.raises(NoService) as refused:
                questions[ask]()
        assert str(refused.value) == f"no alloyref service at {address}; start one with `alloyref serve`"

    def test_without_anything_said_it_asks_where_the_service_usually_listens(
        self, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.delenv("ALLOYREF_URL", raising=False)
        asked: list[str] = []

        def refuse(_: Any, request: requests.PreparedRequest, **__: Any) -> requests.Response:
            asked.append(str(request.url))
            raise requests.ConnectionError

        monkeypatch.setattr(requests.adapters.HTTPAdapter, "send", refuse)
        with Client() as client, pytest.raises(requests.ConnectionError):
            client.get("/v1/dataset")
        assert asked == ["http://127.0.0.1:8087/v1/dataset"]

    def test_it_lists_its_calculations(self, client: Client) -> None:
        assert {name.replace("-", "_") for name in CALCULATIONS} <= set(dir(client))
        assert "from_metal: (needed)" in (inspect.getdoc(client.transfer) or "")
