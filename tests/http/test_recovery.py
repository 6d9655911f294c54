"""Recovery over a real socket: an order's returns go back to the refiner; refusals name their place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
PATH = "/v1/recovery"
TERMS = [
    {"name": "by the lot", "pays": [{"metal": "Au", "paid": "0.985"}], "lot_charge": 60},
    {"name": "by the ounce", "pays": [{"metal": "Au", "paid": "0.97", "refining_charge": 15}]},
]
PRICES = [{"metal": "Au", "price": "104.50", "per": "g", "currency": "EUR", "date": "2026-11-20"}]
GIVEN = {"composition": {"Au": 590, "Ag": 160, "Cu": 250}}


def posted(web: Web, **asked: Any) -> Any:
    response = web("POST", PATH, json=asked)
    assert response.status_code == 200, response.text
    return response.json()["result"]


@pytest.mark.parametrize("field", ["lots", "order_returns"])
@pytest.mark.parametrize("metal", ["gold-585-yellow", GIVEN], ids=["catalogue", "given"])
@pytest.mark.parametrize("prices", [PRICES, []], ids=["priced", "unpriced"])
def test_the_returns_of_an_order_are_pasted_in_as_they_are(
    web: Web, demo_order: dict[str, Any], field: str, metal: Any, prices: list[Any]
) -> None:
    order = {**demo_order, "final_metal": metal, "prices": prices, "on_hand": []}
    answer = web("POST", "/v1/order", json=order).json()["result"]
    items = answer["returns"]["items"]
    assert {one["kind"] for one in items} == {"sprue-and-button", "spare-castings", "lemel"}
    result = posted(web, **{field: items}, terms=TERMS, prices=PRICES)
    assert [one["kind"] for one in result["lots"]] == [one["kind"] for one in items]
    gross = sum(one["gross"]["value"] for one in result["lots"])
    assert gross == pytest.approx(answer["returns"]["value"], abs=1e-4)
    gold = result["contents"]["Au"]
    share = (585 if isinstance(metal, str) else 590) / 1000
    assert gold["high"] == pytest.approx(gross * share, abs=1e-3)
    assert gold["low"] < gold["high"]
    assert gold["value"] is None
    settled = {one["offer"]: one["settlement"] for one in result["settlements"]}
    assert all(0 < one["low"] < one["high"] for one in settled.values())
    best = result["comparison"]["best"]
    assert best in settled
    assert (result["offer"], result["settlement"]) == (best, settled[best])
    assert 0 < result["payable"]["Au"]["low"] < gold["low"]


def test_a_trial_casting_is_a_lot_too(web: Web) -> None:
    lots = [{"kind": "trial-casting", "mass": "6.31 g", "metal": "sterling-silver"}]
    contents = posted(web, lots=lots)["contents"]
    assert list(contents) == ["Ag"]
    assert contents["Ag"]["high"] == pytest.approx(6.31 * 0.925, abs=1e-4)
    assert set(contents["Ag"]["display"]["low"]) == {"g", "dwt", "ozt"}


def test_stones_and_steel_are_no_metal(web: Web) -> None:
    lot = {
        "kind": "stones-set",
        "mass": "10 g",
        "assay": {"Au": 750},
        "stones": [{"mass": "0.5 ct", "count": 4}],
        "other_matter": "0.6 g",
    }
    (one,) = posted(web, lots=[lot])["lots"]
    assert (one["deducted"]["value"], one["net"]["value"]) == (1.0, 9.0)
    assert one["contents"][0]["contained"]["value"] == 6.75
    assert any("2 ct = 0.4 g" in note for note in one["notes"])
    assert any("magnet" in note for note in one["notes"])


def test_solder_and_a_stamp_lower_the_low_end_only(web: Web) -> None:
    def fineness(**lot: Any) -> tuple[float, float]:
        (content,) = [
            one for one in posted(web, lots=[{"mass": "10 g", **lot}])["lots"][0]["contents"] if one["metal"] == "Au"
        ]
        return content["fineness_low"], content["fineness_high"]

    assert fineness(metal="gold-585-yellow") == (581, 585)
    assert fineness(metal="gold-585-yellow", soldered=True) == (575, 585)
    assert fineness(stamp="18K") == (729.166, 750)
    assert fineness(stamp="18K", soldered=True) == (708.333, 750)
    assert fineness(stamp="18K", assay={"Au": 747}) == (747, 747)


def test_sweeps_go_by_assay_only(web: Web, problem_of: Any) -> None:
    sweeps = {"kind": "sweeps", "mass": "2 kg", "metal": "gold-585-yellow"}
    document = problem_of(web("POST", PATH, json={"lots": [sweeps]}), 422)
    assert [one["code"] for one in document["errors"]] == ["not-available"]
    scrap = {"mass": "10 g", "metal": "gold-585-yellow"}
    result = posted(web, lots=[sweeps, scrap], terms=TERMS, prices=PRICES)
    assert [len(one["contents"]) for one in result["lots"]] == [0, 2]
    assert any("by assay only" in note for note in result["lots"][0]["notes"])
    assert [one["lots"] for one in result["settlements"][0]["lots"]] == [["clean-scrap"]]
    assayed = posted(web, lots=[{"kind": "sweeps", "mass": "2 kg", "assay": {"Au": "1.8", "Ag": "5.2"}}])
    assert assayed["contents"]["Au"]["value"] == 3.6


def test_silver_in_karat_scrap_is_paid_only_if_the_terms_say_so(web: Web) -> None:
    pays = [{"metal": "Au", "paid": 1}, {"metal": "Ag", "paid": 1}]
    lots = [{"mass": "100 g", "assay": {"Au": 585, "Ag": 205}, "recovery": 1}]
    lots.append({"mass": "100 g", "assay": {"Ag": 925}, "recovery": 1})
    payable = []
    for paid in (False, True):
        terms = [{"name": "one", "pays": pays, "silver_in_karat_scrap": paid, "lots": "together", "rounding": "none"}]
        (lot,) = posted(web, lots=lots, terms=terms)["settlements"][0]["lots"]
        payable.append({one["metal"]: one["payable"]["value"] for one in lot["metals"]})
    assert payable == [{"Au": 58.5, "Ag": 92.5}, {"Au": 58.5, "Ag": 113.0}]


@pytest.mark.parametrize(
    ("change", "told"),
    [({}, True), ({"silver_in_karat_scrap": True}, False), ({"pays": [{"metal": "Au", "paid": 1}]}, False)],
)
def test_silver_that_an_offer_names_and_does_not_pay_for_is_told(
    web: Web, change: dict[str, Any], told: bool
) -> None:
    terms = {"name": "one", "pays": [{"metal": "Au", "paid": 1}, {"metal": "Ag", "paid": 1}], **change}
    lots = [{"mass": "100 g", "assay": {"Au": 585, "Ag": 205}}]
    (lot,) = posted(web, lots=lots, terms=[terms])["settlements"][0]["lots"]
    assert any("silver_in_karat_scrap" in note for note in lot["notes"]) is told


def test_charges_by_hand(web: Web) -> None:
    """50 g at 700 permille, 0.99 found, 0.5 % loss, 98 % paid: 33.78 g; each charge reckoned by hand."""
    terms = {
        "name": "all charges",
        "pays": [{"metal": "Au", "paid": "0.98", "refining_charge": "0.25", "per": "g"}],
        "refining_loss": "0.005",
        "fee": "0.01",
        "lot_charge": 30,
        "treatment_charge": 400,
        "minimum_charge": 70,
        "sending_cost": 25,
        "rounding": "none",
    }
    lots = [{"mass": "50 g", "assay": {"Au": 700}, "recovery": "0.99"}]
    (one,) = posted(web, lots=lots, terms=[terms], prices=[{**PRICES[0], "price": "100"}])["settlements"]
    (lot,) = one["lots"]
    payable = 50 * 0.7 * 0.99 * 0.995 * 0.98
    assert lot["metals"][0]["payable"]["value"] == pytest.approx(payable, abs=1e-4)
    money = {key: lot[key]["value"] for key in ("worth", "fee", "lot_charge", "treatment_charge", "refining_charge")}
    assert money == {
        "worth": round(payable * 100, 2),
        "fee": 33.79,
        "lot_charge": 30,
        "treatment_charge": 20,
        "refining_charge": 8.45,
    }
    assert lot["to_minimum"]["value"] == 11.55
    net = round(money["worth"] - 33.79 - 70, 2)
    assert (lot["net"]["value"], one["settlement"]["value"]) == (net, round(net - 25, 2))


def test_a_lot_under_the_least_is_not_taken(web: Web) -> None:
    terms = [{"name": "large lots", "pays": [{"metal": "Au", "paid": 1}], "minimum_lot": "50 g", "sending_cost": 20}]
    lots = [{"mass": "49.9 g", "assay": {"Au": 750}, "recovery": 1}]
    result = posted(web, lots=lots, terms=terms, prices=PRICES)
    (one,) = result["settlements"]
    assert (one["lots"][0]["taken"], one["settlement"]["value"]) == (False, 0)
    assert (one["break_even"]["decision"], one["break_even"]["from_mass"]["value"]) == ("hold", 50)


@pytest.mark.parametrize(
    ("lot", "token"),
    [
        ({"kind": "sweeps", "assay": {"Au": 2}}, "silica"),
        ({"stamp": "14K"}, "mercury"),
        ({"stamp": "14K", "soldered": True}, "cadmium"),
        ({"metal": "gold-585-yellow"}, "refiner"),
    ],
)
def test_cautions(web: Web, lot: dict[str, Any], token: str) -> None:
    answer = web("POST", PATH, json={"lots": [{"mass": "10 g", **lot}]}).json()
    assert any(token in one["text"] for one in answer["cautions"])
    assert all(one["refer"] for one in answer["cautions"])


LOT = {"mass": "10 g", "metal": "gold-585-yellow"}
OFFER = TERMS[0]
REFUSED = [
    ({}, "/lots", "missing"),
    ({"lots": [{"mass": "10 g"}]}, "/lots/0/metal", "missing"),
    ({"lots": [{"mass": "10 g", "metal": "gold-585-yelow"}]}, "/lots/0/metal", "unknown-metal"),
    ({"order_returns": [{"mass": "10 g", "metal": "nothing"}]}, "/order_returns/0/metal", "unknown-metal"),
    ({"lots": [{**LOT, "mass": "0 g"}]}, "/lots/0/mass", "out-of-range"),
    ({"lots": [{**LOT, "mass": {"value": 1, "unit": "g", "low": 1}}]}, "/lots/0/mass/low", "unknown-field"),
    ({"lots": [{**LOT, "stamp": "14K"}]}, "/lots/0/stamp", "contradiction"),
    ({"lots": [{"mass": "10 g", "stamp": "950"}]}, "/lots/0/stamp", "missing"),
    ({"lots": [{**LOT, "composition": {"Au": 1000}}]}, "/lots/0/composition", "contradiction"),
    ({"lots": [{**LOT, "kind": "stones-set"}]}, "/lots/0/stones", "missing"),
    ({"lots": [{**LOT, "stones": [{"mass": "50 ct"}]}]}, "/lots/0/stones", "contradiction"),
    ({"lots": [{**LOT, "other_matter": "11 g"}]}, "/lots/0/other_matter", "contradiction"),
    ({"lots": [{**LOT, "assay": {"Au": 1001}}]}, "/lots/0/assay/Au", "out-of-range"),
    ({"lots": [{**LOT, "assay": {"Au": 800, "Ag": 300}}]}, "/lots/0/assay", "composition-sum"),
    ({"lots": [{**LOT, "assay": {"Xx": 1}}]}, "/lots/0/assay/Xx", "unknown-element"),
    ({"lots": [{**LOT, "assay": {"Au": "x"}}]}, "/lots/0/assay/Au", "not-a-quantity"),
    ({"lots": [{**LOT, "assay": []}]}, "/lots/0/assay", "not-an-object"),
    ({"lots": [{**LOT, "uncertainty": 1}]}, "/lots/0/assay", "missing"),
    ({"lots": [{**LOT, "assay": {"Au": 585}, "umpire_assay": {"Au": 585}}]}, "/lots/0/their_assay", "missing"),
    ({"lots": [{**LOT, "recovery": "1.1"}]}, "/lots/0/recovery", "out-of-range"),
    ({"lots": [{**LOT, "kind": "scrap"}]}, "/lots/0/kind", "not-an-option"),
    ({"lots": [LOT] * 41}, "/lots", "too-many"),
    ({"lots": [LOT], "terms": [OFFER, OFFER]}, "/terms/1/name", "duplicate"),
    ({"lots": [LOT], "terms": [{"name": "a", "pays": []}]}, "/terms/0/pays", "missing"),
    ({"lots": [LOT], "terms": [{"name": "a"}]}, "/terms/0/pays", "missing"),
    (
        {"lots": [LOT], "terms": [{"name": "a", "pays": [{"metal": "Au", "paid": 1}] * 2}]},
        "/terms/0/pays/1/metal",
        "duplicate",
    ),
    (
        {"lots": [LOT], "terms": [{"name": "a", "pays": [{"metal": "Cu", "paid": 1}]}]},
        "/terms/0/pays/0/metal",
        "not-an-option",
    ),
    (
        {"lots": [LOT], "terms": [{"name": "a", "pays": [{"metal": "Au", "paid": 98}]}]},
        "/terms/0/pays/0/paid",
        "out-of-range",
    ),
    ({"lots": [LOT], "terms": [{**OFFER, "lot_charge": -1}]}, "/terms/0/lot_charge", "out-of-range"),
    ({"lots": [LOT], "prices": [{**PRICES[0], "metal": "gold-585-yellow"}]}, "/prices/0/metal", "not-fine"),
    ({"lots": [LOT], "prices": [PRICES[0], PRICES[0]]}, "/prices/1/metal", "duplicate"),
    (
        {"lots": [LOT], "prices": [PRICES[0], {**PRICES[0], "metal": "Ag", "currency": "USD"}]},
        "/prices/1/currency",
        "mixed-currencies",
    ),
]


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: f"{case[1]}-{case[2]}")
@pytest.mark.usefixtures("no_new_fault")
def test_a_refusal_names_the_place(web: Web, problem_of: Any, case: tuple[Any, str, str]) -> None:
    asked, pointer, code = case
    issues = problem_of(web("POST", PATH, json=asked), 422)["errors"]
    assert (pointer, code) in [(one["pointer"], one["code"]) for one in issues], issues


@pytest.mark.parametrize(
    ("terms", "said"), [({"rounding": "down"}, True), ({"rounding": "none"}, False), ({}, False)]
)
def test_ounces_are_rounded_only_where_an_offer_says_so(web: Web, terms: dict[str, str], said: bool) -> None:
    asked = {"lots": [LOT], "terms": [{**OFFER, **terms}], "prices": PRICES}
    answer = web("POST", PATH, json=asked).json()
    assert ("fine-ounces" in [one["id"] for one in answer["assumptions"]]) is said


@pytest.mark.parametrize(("kind", "says_sweeps"), [("clean-scrap", False), ("sweeps", True)])
def test_a_lot_without_precious_metal_is_told_why(web: Web, problem_of: Any, kind: str, says_sweeps: bool) -> None:
    lot = {"mass": "10 g", "kind": kind, "metal": "Pb"}
    problem = problem_of(web("POST", PATH, json={"lots": [lot], "terms": TERMS, "prices": PRICES}), 422)
    detail = problem["errors"][0]["detail"]
    assert "No lot here is known to hold gold" in detail
    assert ("sweeps" in detail) is says_sweeps
