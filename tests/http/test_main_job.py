"""The main job over a real socket: a trial becomes an order, and the books close to the last decimal."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
import requests

from alloyref.client import Client, ServiceProblem

Web = Callable[..., requests.Response]
pytestmark = pytest.mark.usefixtures("no_new_fault")
TROY = {"g": Decimal(1), "dwt": Decimal("1.55517384"), "ozt": Decimal("31.1034768")}
SHOWN_DECIMALS = {"g": 2, "dwt": 2, "ozt": 4}
OUT = ("pieces", "returns", "loss")
AWKWARD = {
    "final_metal": {"composition": {"Au": "333.337", "Ag": "111.111", "Cu": "444.441", "Zn": "111.111"}},
    "trial": {"metal": "sterling-silver", "mass": "7.77 dwt", "pieces_weighed": 3},
    "pieces": 997,
    "spares": {"success_rate": "0.83", "confidence": "0.95"},
    "allowances": {"sprue_share": "0.37", "melt_loss": "0.013", "finishing_loss": "0.071", "safety": "0.03"},
    "on_hand": [{"metal": "fine-silver", "mass": "11.3 g", "kind": "fresh"}],
    "purchase": {"form": "fine-and-master", "increment": "0.7 g"},
}


def exact(response: requests.Response) -> dict[str, Any]:
    """The answer with every number as the decimal that was written."""
    assert response.status_code == 200, response.text[:400]
    document: dict[str, Any] = json.loads(response.content, parse_float=Decimal, parse_int=Decimal)
    return document


def assert_books_close(result: dict[str, Any]) -> None:
    """In = pieces + returns + loss, in all, for each element and for each line, and the parts sum to the whole."""
    balance = result["balance"]
    accounts = [balance["total"], *balance["elements"].values(), *(line["account"] for line in result["lines"])]
    for account in accounts:
        assert account["in"] == sum(account[key] for key in OUT)
        assert account["difference"] == 0
    assert balance["total"]["in"] > 0
    for key in ("in", *OUT):
        assert sum(account[key] for account in balance["elements"].values()) == balance["total"][key]
        assert sum(line["account"][key] for line in result["lines"]) == balance["total"][key]


def test_the_demo_order_through_the_client(server: Any, demo_order: dict[str, Any]) -> None:
    with Client(server.address) as client:
        answer = client.calculate("order", demo_order)
        with pytest.raises(ServiceProblem) as refused:
            client.calculate("order", {**demo_order, "final_metal": "gold-585-yelow"})
        assert client.get("/v1/dataset")["hash"] == answer.dataset.hash
    assert set(json.loads(answer.text)) == {"result", "inputs", "assumptions", "cautions", "dataset"}
    assert_books_close(json.loads(answer.text, parse_float=Decimal)["result"])
    assert answer.result["castings"] == 3
    assert answer.result["cost"]["total"].currency == "EUR"
    assert refused.value.status == 422
    assert refused.value.issues[0].pointer == "/final_metal"
    assert "gold-585-yellow" in refused.value.issues[0].suggestions


def test_the_books_close_with_numbers_read_as_decimals(web: Web, demo_order: dict[str, Any]) -> None:
    result = exact(web("POST", "/v1/order", json=demo_order))["result"]
    assert_books_close(result)
    parts = result["charge_parts"]
    assert (
        sum(part["value"] for part in parts.values()) == result["charge"]["value"] == result["balance"]["total"]["in"]
    )
    assert result["returns"]["value"] == result["balance"]["total"]["returns"]
    assert sum(lot["mass"]["value"] for lot in result["returns"]["items"]) == result["returns"]["value"]
    assert sum(line["cost"]["value"] for line in result["lines"]) == result["cost"]["net"]["value"]


def test_the_books_close_for_a_large_order_of_awkward_shares(web: Web) -> None:
    result = exact(web("POST", "/v1/order", json=AWKWARD))["result"]
    assert_books_close(result)
    assert set(result["balance"]["elements"]) == {"Au", "Ag", "Cu", "Zn"}
    assert result["castings"] > 997


def test_what_is_bought_and_on_hand_makes_up_the_charge(web: Web, demo_order: dict[str, Any]) -> None:
    result = exact(web("POST", "/v1/order", json=demo_order))["result"]
    to_buy = result["to_buy"]
    needed = sum(one["needed"]["value"] for one in to_buy["items"])
    used = sum(lot["used"]["value"] for lot in to_buy["on_hand"])
    assert needed + used == result["charge"]["value"]
    for one in to_buy["items"]:
        assert one["mass"]["value"] % Decimal("0.5") == 0
        assert one["mass"]["value"] - one["needed"]["value"] == one["left_over"]["value"]
        assert 0 <= one["left_over"]["value"] < Decimal("0.5")


@pytest.mark.parametrize("name", ["piece_mass", "finished_mass", "charge", "to_buy", "returns"])
def test_masses_are_shown_alike_in_g_dwt_and_ozt(web: Web, demo_order: dict[str, Any], name: str) -> None:
    mass = exact(web("POST", "/v1/order", json=demo_order))["result"][name]
    assert set(mass["display"]) == set(TROY)
    for unit, factor in TROY.items():
        off = mass["value"] / factor - mass["display"][unit]
        # Half a step of what is shown, and the half step to which the value itself is rounded.
        assert abs(off) <= Decimal(5).scaleb(-SHOWN_DECIMALS[unit] - 1) + Decimal("0.00005") / factor


def test_transfer_is_the_same_by_post_and_get(web: Web) -> None:
    posted = {
        "mass": "4.82 g",
        "from_metal": "sterling-silver",
        "to_metal": "gold-585-yellow",
        "readability": "0.01 g",
    }
    by_post = web("POST", "/v1/transfer", json=posted)
    apart = {**posted, "mass": "4.82", "unit": "g", "readability": "0.01", "readability_unit": "g"}
    assert web("GET", "/v1/transfer", params=posted).json() == by_post.json()
    assert web("GET", "/v1/transfer", params=apart).json() == by_post.json()
    result = exact(by_post)["result"]
    assert Decimal("1.25") <= result["ratio"]["value"] <= Decimal("1.33")
    assert result["mass"]["low"] < result["mass"]["value"] < result["mass"]["high"]
    assert abs(result["mass"]["value"] - Decimal("4.82") * result["ratio"]["value"]) <= Decimal("0.0001")


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize("path", ["/v1/transfer", "/v1/mass", "/v1/purity"])
def test_the_text_form_is_a_bare_number(web: Web, description: dict[str, Any], method: str, path: str) -> None:
    posting = description["paths"][path]["post"]["requestBody"]["content"]["application/json"]
    example = posting["examples"]["bench"]["value"]
    sent = {"json": example} if method == "POST" else {"params": example}
    response = web(method, path, headers={"Accept": "text/plain"}, **sent)
    whole = exact(web(method, path, **sent))["result"]
    assert response.headers["Content-Type"].startswith("text/plain")
    assert re.fullmatch(rb"\d+(\.\d+)?", response.content)
    assert Decimal(response.text) == next(iter(whole.values()))["value"]


@pytest.mark.parametrize(
    ("value", "unit"), [("7.25", "dwt"), ("1", "ozt"), ("31.1034768", "g"), ("12345.678", "ozt")]
)
def test_mass_goes_by_exact_factors(web: Web, value: str, unit: str) -> None:
    grams = exact(web("GET", "/v1/mass", params={"value": value, "from": unit, "to": "g"}))["result"]["mass"]
    assert grams == {"value": Decimal(value) * TROY[unit], "unit": "g"}
    back = exact(web("POST", "/v1/mass", json={"value": str(grams["value"]), "from": "g", "to": unit}))["result"][
        "mass"
    ]
    assert back == {"value": Decimal(value), "unit": unit}
