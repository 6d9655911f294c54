"""What people of the trade type, and that none of it is taken for something else without a word."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests

from alloyref.domain.reference import Reference

Web = Callable[..., requests.Response]
Problem = Callable[[requests.Response, int], dict[str, Any]]
pytestmark = pytest.mark.usefixtures("no_new_fault")
TRIAL = {"trial": {"metal": "sterling", "mass": "4.82 g"}}


def refused(web: Web, problem_of: Problem, name: str) -> dict[str, Any]:
    asked = {"mass": "8 g", "from_metal": "sterling", "to_metal": name}
    (issue,) = problem_of(web("POST", "/v1/transfer", json=asked), 422)["errors"]
    return dict(issue)


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("14KY", "14k-yellow-gold"),
        ("14kw", "14k-white-gold"),
        ("18K WG", "18k-white-gold"),
        ("K18", "18k-gold"),
        ("14kp", "14k-gold"),
        ("14 karats", "14k-gold"),
        ("14k. yellow", "14k-yellow-gold"),
        ("solid 18k yellow", "18k-yellow-gold"),
        ("10k gold scrap", "10k-gold"),
        ("18k yellow gold casting grain", "18k-yellow-gold"),
        ("Ag925", "sterling-silver"),
    ],
)
def test_the_codes_and_spare_words_of_the_trade_are_understood(web: Web, said: str, meant: str) -> None:
    asked = {"mass": "8 g", "from_metal": "sterling", "to_metal": said}
    answer = web("POST", "/v1/transfer", json=asked)
    assert answer.status_code == 200, answer.text
    assert answer.json()["inputs"]["to_metal"]["id"] == meant


@pytest.mark.parametrize(
    "said",
    [
        "14k white no nickel",
        "18k white without nickel",
        "non nickel 14k white",
        "18k white no ni",
        "no nickel white gold",
    ],
)
def test_a_wish_for_no_nickel_is_never_answered_with_it(
    web: Web, problem_of: Problem, reference: Reference, said: str
) -> None:
    issue = refused(web, problem_of, said)
    assert issue["suggestions"]
    assert not [id_ for id_ in issue["suggestions"] if reference.alloys[id_].contains("Ni")]


@pytest.mark.parametrize("said", ["14k gold plated", "14k gold filled", "vermeil", "rolled gold"])
def test_a_layer_on_another_metal_is_no_alloy(web: Web, problem_of: Problem, said: str) -> None:
    issue = refused(web, problem_of, said)
    assert (issue["code"], issue["suggestions"]) == ("not-an-alloy", [])


@pytest.mark.parametrize(
    ("typed", "number", "unit"),
    [
        ("4 1/2 dwt", 4.5, "dwt"),
        ("½ ozt", 0.5, "ozt"),
        ("4½ dwt", 4.5, "dwt"),
        ("3 dwt 12 grains", 3.5, "dwt"),
        ("2 ozt 5 dwt", 2.25, "ozt"),
        ("4.82 dwt.", 4.82, "dwt"),
    ],
)
def test_masses_are_taken_as_they_are_written(web: Web, typed: str, number: float, unit: str) -> None:
    asked = {"mass": typed, "from_metal": "sterling", "to_metal": "gold-585-yellow"}
    shown = web("POST", "/v1/transfer", json=asked).json()["inputs"]["mass"]["in_unit"]
    assert (shown["value"], shown["unit"]) == (number, unit)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"final_metal": {"trade_name": "14k yellow", "density": "17.03 g/cm3"}}, "17.03"),
        ({"final_metal": {"composition": {"Au": 750, "Ag": 125, "Cu": 125}, "density": "10 g/cm3"}}, "not near"),
        ({"prices": [{"metal": "Au", "price": 4100, "per": "g", "currency": "USD"}]}, "look at the unit"),
        ({"prices": [{"metal": "Au", "price": "4.10", "per": "ozt", "currency": "USD"}]}, "look at the unit"),
        ({"final_metal": "tungsten"}, "not listed for casting"),
        ({"final_metal": "14k yellow", "on_hand": [{"metal": "14k yellow", "mass": "2 g"}]}, "very alloy"),
    ],
)
def test_what_cannot_be_meant_is_looked_at_again(web: Web, more: dict[str, Any], says: str) -> None:
    result = web("POST", "/v1/order", json={"final_metal": "gold-585-yellow", **TRIAL, **more}).json()["result"]
    assert any(says in warning for warning in result["warnings"])
    usual = web("POST", "/v1/order", json={"final_metal": "gold-585-yellow", **TRIAL}).json()["result"]
    assert usual["warnings"] == []


def test_scrap_of_a_name_for_nickel_and_for_palladium_golds_is_not_melted_in(web: Web) -> None:
    asked = {**TRIAL, "final_metal": "18k white", "on_hand": [{"metal": "18k white", "mass": "4 dwt"}]}
    (lot,) = web("POST", "/v1/order", json=asked).json()["result"]["to_buy"]["on_hand"]
    assert lot["used"]["value"] == 0
    assert "nickel" in lot["reason"]


def test_a_recipe_with_cadmium_is_refused(web: Web, problem_of: Problem) -> None:
    asked = {**TRIAL, "final_metal": "gold-750-green-cd4", "purchase": {"form": "fine-and-master"}}
    (issue,) = problem_of(web("POST", "/v1/order", json=asked), 422)["errors"]
    assert issue["code"] == "not-melted"


@pytest.mark.parametrize(
    "metal",
    [
        "gold-583-yellow-zn-si",
        {"composition": {"Au": 585, "Ag": 205, "Cu": 209, "Si": 1}},
        {"composition": {"Ag": 925, "Cu": "74.1", "Si": "0.9"}},
        {"composition": {"Au": 750, "Ag": 125, "Cu": 124, "Sn": 1}},
    ],
)
def test_a_little_silicon_or_tin_gets_no_flask_figure_and_no_hot_quench(web: Web, metal: Any) -> None:
    slip = web("POST", "/v1/order", json={**TRIAL, "final_metal": metal}).json()["result"]["casting_slip"]
    assert slip["flask_temperature"] is None
    assert not any("no red in the shade" in note for note in slip["bench_notes"])


@pytest.mark.parametrize(
    "zinc", ["Au 850, Zn 150", "Au 340, Zn 660", "Ag 500, Zn 500", "Au 375, Ag 300, Cu 230, Zn 95"]
)
def test_much_zinc_gets_no_flask_figure_and_no_hot_quench(web: Web, zinc: str) -> None:
    order = {**TRIAL, "final_metal": {"composition": zinc}}
    slip = web("POST", "/v1/order", json=order).json()["result"]["casting_slip"]
    assert slip["flask_temperature"] is None
    assert any("permille of zinc; ask" in one for one in slip["not_available"])
    assert not any("no red in the shade" in note for note in slip["bench_notes"])


def test_zinc_is_told_no_thousand_degrees(web: Web) -> None:
    slip = web("POST", "/v1/order", json={**TRIAL, "final_metal": "zinc-znal4"}).json()["result"]["casting_slip"]
    assert "1000 C" not in slip["investment"]


def test_what_a_trade_name_leaves_open_is_not_counted_as_nought(web: Web) -> None:
    asked = {"mass": "10 dwt", "metal": "18k palladium white"}
    contents = web("POST", "/v1/contents", json=asked).json()["result"]
    assert contents["gold"]["value"] == pytest.approx(0.75 * 15.5517384, abs=1e-4)
    assert contents["palladium"] is contents["silver"] is contents["precious"] is None
    body = "mass,unit,metal\n10,dwt,18k palladium white\n"
    row = web("POST", "/v1/bulk/contents", data=body, headers={"Content-Type": "text/csv"}).text.splitlines()[1]
    assert row.startswith("10,dwt,18k palladium white,11.6638,g,,g,")


def test_a_lot_of_a_trade_name_is_settled_as_a_range_over_its_alloys(web: Web) -> None:
    terms = [{"name": "A", "pays": [{"metal": "Au", "paid": "0.98"}, {"metal": "Pd", "paid": "0.9"}]}]
    prices = [
        {"metal": metal, "price": price, "currency": "USD"} for metal, price in (("Au", 130), ("Pd", 40), ("Ag", 1))
    ]

    def settled(metal: str) -> dict[str, Any]:
        lots = [{"mass": "20 dwt", "metal": metal, "kind": "clean-scrap"}]
        answer = web("POST", "/v1/recovery", json={"lots": lots, "terms": terms, "prices": prices}).json()
        return dict(answer["result"]["settlements"][0]["settlement"])

    by_name = settled("18k palladium white")
    for member in web("GET", "/v1/trade-names/18k-palladium-white-gold").json()["members"]:
        by_id = settled(member)
        assert by_name["low"] <= by_id["low"] <= by_id["high"] <= by_name["high"]


def test_a_missing_price_leaves_sending_or_holding_open(web: Web) -> None:
    lot = {"mass": "31 g", "metal": "gold-750-white-pd20", "kind": "clean-scrap"}
    terms = [{"name": "A", "pays": [{"metal": "Au", "paid": "0.98"}], "lot_charge": "45"}]
    prices = [
        {"metal": "Au", "price": "104.50", "currency": "EUR"},
        {"metal": "Ag", "price": "1.42", "currency": "EUR"},
    ]
    answer = web("POST", "/v1/recovery", json={"lots": [lot], "terms": terms, "prices": prices}).json()["result"]
    assert answer["settlements"][0]["break_even"]["decision"] == "not-certain"
    prices.append({"metal": "Pd", "price": "35", "currency": "EUR"})
    answer = web("POST", "/v1/recovery", json={"lots": [lot], "terms": terms, "prices": prices}).json()["result"]
    assert answer["settlements"][0]["break_even"]["decision"] == "hold"


def test_no_mark_is_offered_out_of_a_tolerance(web: Web) -> None:
    asked = {**TRIAL, "final_metal": "gold-585-yellow"}
    marks = {one["jurisdiction"]: one for one in web("POST", "/v1/order", json=asked).json()["result"]["mark"]}
    assert marks["US state: Massachusetts"]["mark"] == "14K"
    assert not any(one["within_tolerance"] for one in marks.values())


def test_a_trade_name_is_told_the_mark_that_its_alloys_may_bear(web: Web) -> None:
    asked = {**TRIAL, "final_metal": "14k yellow"}
    marks = {one["jurisdiction"]: one for one in web("POST", "/v1/order", json=asked).json()["result"]["mark"]}
    assert (marks["UK"]["mark"], marks["UK"]["verdict"]) == ("585", "not-certain")
    assert (marks["US"]["mark"], marks["US"]["verdict"]) == ("14K", "meets")


@pytest.mark.parametrize(("said", "kind"), [("ruby", "corundum"), ("Sapphire", "corundum"), ("citrine", "quartz")])
def test_a_stone_goes_by_its_usual_name(web: Web, said: str, kind: str) -> None:
    asked = {
        **TRIAL,
        "final_metal": "gold-585-yellow",
        "stones_to_set": [{"mass": "0.75 ct", "count": 3, "kind": said}],
    }
    answer = web("POST", "/v1/order", json=asked).json()
    assert answer["inputs"]["stones_to_set"][0]["kind"]["id"] == kind
    form = {"/trial/metal": "sterling", "/trial/mass": "4.82 g", "/final_metal": "gold-585-yellow"}
    form |= {"/stones_to_set/0/mass": "0.75 ct", "/stones_to_set/0/count": "3"}
    assert "with its stones" in web("POST", "/order", data=form).text


@pytest.mark.parametrize("metal", ["14k nickel white", "14k white", "18k gold", "9ct"])
def test_a_trade_name_gets_no_clean_bill_for_nickel(web: Web, metal: str) -> None:
    answer = web("GET", "/v1/mark-check", params={"metal": metal, "jurisdiction": "UK"}).json()["result"]
    limits = [one for one in answer["limits"] if one["element"] == "nickel"]
    assert limits
    assert {one["verdict"] for one in limits} == {"not-certain"}
    assert {one["content"] for one in limits} == {None}


@pytest.mark.parametrize("metal", ["18k green", "18k gold"])
def test_a_name_that_cadmium_golds_bear_too_is_not_poured(web: Web, metal: str) -> None:
    answer = web("POST", "/v1/order", json={**TRIAL, "final_metal": metal}).json()
    assert answer["result"]["casting_slip"]["pouring_window"] is None
    assert any("cadmium" in warning for warning in answer["result"]["warnings"])
    density = web("GET", "/v1/trade-names/18k-green-gold").json()["density"]
    assert density["low"] <= 14.86


def test_what_the_shares_miss_makes_no_metal_finer(web: Web) -> None:
    for typed, symbol, share in (
        ("Au 749.6, Ag 125, Cu 125", "Au", 749.6),
        ("Ag 924.6, Cu 75", "Ag", 924.6),
        ("Pt 949.6, Ru 50", "Pt", 949.6),
        ("Au 584.7, Ag 414.9", "Au", 584.7),
    ):
        answer = web("POST", "/v1/contents", json={"mass": "1000 g", "metal": typed}).json()
        assert answer["inputs"]["metal"]["composition"][symbol] == share
        assert sum(answer["inputs"]["metal"]["composition"].values()) == pytest.approx(1000)
    asked = {**TRIAL, "final_metal": "Au 749.6, Ag 125, Cu 125", "mark": "750", "jurisdiction": "UK"}
    (mark,) = web("POST", "/v1/order", json=asked).json()["result"]["mark"]
    assert mark["verdict"] == "falls-short"


@pytest.mark.parametrize("stamp", ["750 PD", "585 PD", "925PT"])
def test_a_stamp_of_another_metals_figure_is_asked_about(web: Web, problem_of: Problem, stamp: str) -> None:
    lots = [{"mass": "10 g", "stamp": stamp, "kind": "clean-scrap"}]
    asked = {"lots": lots, "terms": [{"name": "A", "pays": [{"metal": "Au", "paid": "0.98"}]}]}
    (issue,) = problem_of(web("POST", "/v1/recovery", json=asked), 422)["errors"]
    assert issue["pointer"].endswith("/stamp")
    assert issue["suggestions"]


def test_the_price_of_an_alloy_is_looked_at_again_too(web: Web) -> None:
    prices = [{"metal": "14KY", "price": "2400", "currency": "USD"}]
    asked = {**TRIAL, "final_metal": "14KY", "prices": prices}
    warnings = web("POST", "/v1/order", json=asked).json()["result"]["warnings"]
    assert any("look at the unit" in warning for warning in warnings)


def test_an_alteration_by_trade_name_has_its_cautions(web: Web) -> None:
    asked = {"mass": "20 g", "metal": "14k nickel white", "target": "18 karat"}
    cautions = {one["id"] for one in web("POST", "/v1/alter-fineness", json=asked).json()["cautions"]}
    assert "nickel-skin" in cautions


@pytest.mark.parametrize("path", ["/v1/alter-fineness", "/v1/charge"])
def test_no_recipe_is_made_of_lead(web: Web, problem_of: Problem, path: str) -> None:
    leaded = "Au 750, Ag 200, Cu 45, Pb 5"
    asked: dict[str, Any] = {"mass": "20 g", "metal": leaded, "target": "14 karat"}
    if path == "/v1/charge":
        asked = {"target": {"mass": "20 g", "alloy": leaded}, "shelf": [{"metal": "Au"}, {"metal": "Ag"}]}
    (issue,) = problem_of(web("POST", path, json=asked), 422)["errors"]
    assert issue["code"] == "not-melted"


def test_fractions_in_a_query(web: Web) -> None:
    for typed in ("4 1/2 dwt", "4 dwt 12 grains"):
        asked = {"mass": typed, "from_metal": "sterling", "to_metal": "gold-585-yellow"}
        answer = web("GET", "/v1/transfer", params=asked)
        assert answer.status_code == 200, answer.text
        assert answer.json()["result"]["in_unit"]["unit"] == "dwt"
