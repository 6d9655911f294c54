"""The order sheet: every figure a caster or a bookkeeper needs stands on it, and it agrees with the JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from alloyref.catalogue.files import data_folder

Run = Callable[..., Result]
DEMO = ("order", "--input", str(data_folder() / "demo" / "order.json"))
CASTING = {"trial": {"metal": "sterling-silver", "mass": "6 g"}}


@pytest.fixture(scope="module")
def text(run: Run) -> str:
    """The sheet of the demo order."""
    return str(run(*DEMO).stdout)


@pytest.fixture(scope="module")
def answer(run: Run) -> Any:
    """The same as JSON."""
    return json.loads(run(*DEMO, "--json").stdout)


def row(text: str, label: str) -> str:
    """The line of the sheet that begins with a label."""
    return next(line for line in text.splitlines() if line.strip().startswith(label))


def test_the_parts_stand_in_order(text: str) -> None:
    parts = [
        "ORDER SHEET",
        "ONE PIECE",
        "THE CHARGE",
        "FROM THE SUPPLIER",
        "AFTER CASTING",
        "MONEY",
        "BOOKS",
        "CASTING SLIP",
        "RESTS ON",
        "CAUTIONS",
        "Dataset",
    ]
    places = [text.index(part) for part in parts]
    assert places == sorted(places)


@pytest.mark.parametrize(("label", "name"), [("CHARGE", "charge"), ("TO BUY", "to_buy"), ("COMES BACK", "returns")])
def test_a_mass_is_shown_in_g_dwt_and_ozt(text: str, answer: Any, label: str, name: str) -> None:
    shown = answer["result"][name]["display"]
    cells = row(text, label).split()
    for figure in (f"{shown['g']:.2f}", f"{shown['dwt']:.2f}", f"{shown['ozt']:.4f}"):
        assert figure in cells


def test_the_books_are_shown_for_each_element(text: str, answer: Any) -> None:
    balance = answer["result"]["balance"]
    books = text[text.index("BOOKS") : text.index("CASTING SLIP")]
    for name, account in (("all metal", balance["total"]), *balance["elements"].items()):
        cells = row(books, name).removeprefix("  " + name).split()
        assert cells == [f"{account[key]:.4f}" for key in ("in", "pieces", "returns", "loss", "difference")]
        assert cells[-1] == "0.0000"


def test_every_piece_with_its_masses(text: str, answer: Any) -> None:
    for line in answer["result"]["lines"]:
        assert f"{line['piece_mass']['display']['g']:.2f}" in row(text, f"{line['name']}, as cast")
        assert f"{line['finished_mass']['display']['g']:.2f}" in row(text, f"{line['name']}, finished")
    assert "2 x reed-pattern band" in text
    assert "1 x heron pendant" in text


def test_the_money_and_whose_it_is(text: str, answer: Any) -> None:
    cost = answer["result"]["cost"]
    assert f"{cost['total']['value']:.2f} EUR" in row(text, "to pay the supplier")
    assert f"{cost['net']['value']:.2f} EUR" in row(text, "net metal")
    assert all(quote in text for quote in cost["quotes"])
    assert "not priced, so not counted: Cu" in text


def test_the_slip_for_the_bench(text: str, answer: Any) -> None:
    slip = answer["result"]["casting_slip"]
    bench = text[text.index("CASTING SLIP") :]
    window = slip["pouring_window"]
    for label, key in (
        ("pouring window", "pouring_window"),
        ("flask", "flask_temperature"),
        ("liquidus", "liquidus"),
    ):
        warm = slip[key]["in_fahrenheit"]
        assert f"{slip[key]['low']:g} to {slip[key]['high']:g} C, {warm['low']:g} to {warm['high']:g} F" in row(
            bench, label
        )
    assert f"{slip['liquidus']['in_fahrenheit']['value']:g} F (" in row(bench, "liquidus")
    assert window["value"] == (window["low"] + window["high"]) / 2
    assert slip["investment"] in bench
    assert f"{slip['arm']['load']['value']:.1f} g" in row(bench, "load on the arm")
    assert all(note in bench for note in slip["bench_notes"])


def test_every_assumption_with_standing_and_source_and_every_caution(text: str, answer: Any) -> None:
    assert len(answer["assumptions"]) >= 5
    for one in answer["assumptions"]:
        assert f"[{one['status']}, {one['source']}]" in text
        assert one["text"] in text
    assert answer["cautions"]
    for one in answer["cautions"]:
        assert f"{one['title']}: {one['text']}" in text
    assert answer["dataset"]["hash"] in text


def test_without_prices_no_money_is_shown(run: Run) -> None:
    text = run("order", "--input", "-", "--final-metal", "gold-585-yellow", stdin=json.dumps(CASTING)).stdout
    assert "No prices were given, so no cost is shown." in text
    assert "EUR" not in text


@pytest.mark.parametrize(
    "metal", ["platinum-950-ru", "silver-958", "brass-c26000", '{"composition": {"Au": 333, "Cu": 667}}']
)
def test_a_sheet_is_printed_for_any_metal(run: Run, metal: str) -> None:
    result = run(
        "order", "--input", "-", "--final-metal", metal, "--casting-method", "centrifugal", stdin=json.dumps(CASTING)
    )
    assert result.exit_code == 0, result.output
    assert "CHARGE" in result.stdout
    assert "not given: weigh them and add" in result.stdout


def test_lines_fit_a_page(text: str) -> None:
    tables = text[: text.index("CASTING SLIP")]
    assert max(map(len, tables.splitlines())) <= 120


def test_stored_quotes_are_taken_when_asked_for(run: Callable[..., Result]) -> None:
    asked = ("order", "--final-metal", "gold-585-yellow", "--volume", "1 cm3")
    assert run("db", "upgrade").exit_code == 0
    for prices in ("stored", '{"from": "shop", "on": "2026-11-25"}'):
        refused = run(*asked, "--prices", prices)
        assert refused.exit_code == 2
        assert "--prices: No quote is stored for Au, Ag" in refused.stderr
    listed = run(*asked, "--prices", '{"metal": "Au", "price": "104.50", "currency": "EUR"}')
    assert listed.exit_code == 0
    assert "EUR" in listed.stdout


def test_a_sheet_says_what_was_weighed(run: Run) -> None:
    trial = {"metal": "sterling", "mass": "9.72 g", "stage": "finished", "pieces_weighed": 2}
    stones = [{"kind": "garnet-almandine", "mass": "0.85 ct", "count": 3}]
    order = {"final_metal": "gold-750-yellow", "trial": trial, "stones": stones}
    text = run("order", "--input", "-", stdin=json.dumps(order)).stdout
    assert "\nWeighed: 9.72 g of Sterling silver, finished, 2 together, of it 1.02 g stones\n" in text
    pattern = {"final_metal": "gold-750-yellow", "pattern": {"mass": "0.61 g", "material": "carving-wax"}}
    assert "\nWeighed: pattern, 0.61 g\n" in run("order", "--input", "-", stdin=json.dumps(pattern)).stdout


def test_a_sheet_says_what_to_buy_to_be_sure_of_enough(text: str, answer: Any) -> None:
    sure = answer["result"]["to_buy"]["to_be_sure"]
    assert sure["value"] > answer["result"]["to_buy"]["value"]
    assert f"To be sure of enough, buy {sure['display']['g']:.2f} g " in text


def test_a_sheet_shows_what_each_way_in_says_and_asks_to_look_again(run: Run) -> None:
    asked = ("order", "--trial-metal", "sterling-silver", "--trial-mass", "592 g", "--final-metal", "gold-585-yellow")
    asked += ("--volume", "580 mm3", "--casting-method", "centrifugal", "--casting-arm-radius", "21 cm")
    shown = run(*asked).stdout
    again = shown[shown.index("LOOK AGAIN") : shown.index("ONE PIECE")]
    assert "592 g for one piece is unusual" in again
    assert "Did you mean 5.92 g" in again
    assert "the volume says 7.91 g as cast" in again
    assert row(shown, "piece, by its trial").endswith("used")
    assert row(shown, "piece, by its volume").endswith(" %")
    assert "as far from the axle as the flask" in row(shown, "load on the arm")


def test_each_alloy_is_named_and_its_id_stands_with_it(text: str, answer: Any) -> None:
    (bought,), (on_hand,) = answer["result"]["to_buy"]["items"], answer["result"]["to_buy"]["on_hand"]
    assert bought["metal"] == on_hand["metal"] == answer["result"]["casting_slip"]["metal"] == "gold-585-yellow"
    for label in ("alloyed metal", "on hand, used:", "metal  "):
        assert "14 ct yellow 20.5/21 (gold-585-yellow)" in row(text, label)


def test_a_master_alloy_is_named_by_what_it_is_made_of(run: Run) -> None:
    order = {**CASTING, "final_metal": "gold-585-yellow", "purchase": {"form": "fine-and-master"}}
    text = run("order", "--input", "-", stdin=json.dumps(order)).stdout
    assert row(text, "fine Au").split()[:2] == ["fine", "Au"]
    assert "Au Au" not in text
    assert row(text, "master alloy").startswith("  master alloy (Ag 494, Cu 506) ")


def test_fine_and_master_are_told_to_be_weighed_in_and_not_all_melted(run: Run) -> None:
    """Each is bought a step too much by itself: all of it together is 583.8 permille of gold, short of the alloy."""
    asked = ("order", "--trial-metal", "sterling-silver", "--trial-mass", "4.82 g", "--pieces", "2")
    asked += ("--final-metal", "gold-585-yellow-zn", "--purchase-increment", "0.1 g", "--purchase-form")
    items = json.loads(run(*asked, "fine-and-master", "--json").stdout)["result"]["to_buy"]["items"]
    bought, needed = ([one[key]["value"] for one in items] for key in ("mass", "needed"))
    assert bought[0] / sum(bought) < 0.585 <= round(needed[0] / sum(needed), 5)
    line = row(run(*asked, "fine-and-master").stdout, "Weigh in")
    assert all(f"{one['needed']['value']} g of {one['what']}" in line for one in items)
    assert "Weigh in" not in run(*asked, "alloyed").stdout


@pytest.mark.parametrize(("mass", "unit"), [("3.8 dwt", "dwt"), ("0.5 tola", "tola"), ("0.19 OZT", "ozt")])
def test_the_sheet_is_in_the_unit_that_was_asked_in(run: Run, mass: str, unit: str) -> None:
    given = ("order", "--final-metal", "gold-585-yellow", "--trial-metal", "Ag", "--trial-mass", mass)
    sheet = str(run(*given, "--purchase-increment", "0.1 dwt").stdout)
    assert f"Weighed: {mass.lower()} of Silver" in sheet
    assert "in steps of 0.1 dwt" in sheet
    assert f"range in {unit}" in sheet
    result = json.loads(run(*given, "--json").stdout)["result"]
    inside = result["charge"]["in_unit"]
    assert inside["unit"] == unit
    decimals = {"dwt": 2}.get(unit, 4)
    shown = row(sheet, "CHARGE")
    assert f"{inside['value']:.{decimals}f}" in shown
    assert f"{inside['low']:.{decimals}f} to {inside['high']:.{decimals}f}" in shown


def test_a_short_sheet_tells_the_asked_unit_first(run: Run) -> None:
    sheet = str(run("transfer", "--mass", "3.8 dwt", "--from-metal", "Ag", "--to-metal", "Au").stdout)
    assert row(sheet, "mass").split()[2] == "dwt"
    assert "10.87 g" in row(sheet, "mass")


def test_a_mark_that_is_missed_stands_first_and_the_marks_below_the_piece(run: Run) -> None:
    asked = (
        "order",
        "--trial-metal",
        "sterling-silver",
        "--trial-mass",
        "6 g",
        "--jurisdiction",
        "UK",
        "--mark",
        "585",
    )
    short = run(*asked, "--final-metal", "gold-583-white-pd9-5").stdout
    assert short.index("falls short of the mark 585") < short.index("ONE PIECE") < short.index("MAY BE MARKED")
    assert "585: falls short by 2 permille  UK" in short
    met = run(*asked, "--final-metal", "gold-585-yellow").stdout
    assert "falls short" not in met
    assert "585  UK" in met[met.index("MAY BE MARKED") :]


def test_amounts_that_leave_something_out_read_at_least(run: Run, tmp_path: Path) -> None:
    """As the JSON marks them, on each line of money and on each thing to buy."""
    asked = json.loads((data_folder() / "demo" / "order.json").read_text(encoding="utf-8"))
    asked |= {"prices": [{"metal": "Au", "price": "100", "currency": "EUR"}], "purchase": {"form": "fine-and-master"}}
    given = tmp_path / "order.json"
    given.write_text(json.dumps(asked), encoding="utf-8")
    sheet = run("order", "--input", str(given)).stdout
    cost = json.loads(run("order", "--input", str(given), "--json").stdout)["result"]["cost"]
    assert cost["total"]["at_least"] is cost["net"]["at_least"] is cost["per_piece"]["at_least"] is True
    assert f"at least {cost['total']['value']:.2f} EUR" in row(sheet, "to pay the supplier")
    assert f"at least {cost['net']['value']:.2f} EUR" in row(sheet, "net metal: paid")
    assert f"at least {cost['returns_worth']['value']:.2f} EUR" in row(sheet, "worth of what comes back")
