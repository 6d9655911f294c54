"""The whole story in the pages without a script: trial, order, returns, settlement; and the same as a command."""

from __future__ import annotations

import html
import json
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Callable
from html.parser import HTMLParser
from typing import Any

import pytest
import requests

Web = Callable[..., requests.Response]
ORDER = {
    "/name": "reed band",
    "/final_metal": "gold-585-yellow",
    "/trial/metal": "sterling-silver",
    "/trial/mass": "6.31 g",
    "/pieces": "2",
    "/spares/count": "1",
    "/allowances/sprue_share": "40 percent",
    "/on_hand/0/metal": "gold-585-yellow",
    "/on_hand/0/mass": "3.2 g",
    "/purchase/increment": "0.5 g",
    "/prices/0/metal": "Au",
    "/prices/0/price": "104.50",
    "/prices/0/currency": "EUR",
    "/prices/0/date": "2026-11-20",
}
LOTS = {
    "/lots/0/name": "old chain's rest",
    "/lots/0/mass": "18.35 g",
    "/lots/0/assay/Au": "583.1",
    "/lots/1/mass": "3 g",
    "/lots/1/metal": "gold-585-yellow",
    "/terms/0/name": "by the lot",
    "/terms/0/pays/0/metal": "Au",
    "/terms/0/pays/0/paid": "0.985",
    "/terms/0/lot_charge": "60",
    "/prices/0/metal": "Au",
    "/prices/0/price": "104.50",
    "/prices/0/currency": "EUR",
}
RING = {
    "/weighings/0/in_air": "4.870 g",
    "/weighings/0/in_liquid": "4.511 g",
    "/readability": "0.001 g",
    "/temperature": "20 C",
}


class _Forms(HTMLParser):
    """The forms of a page: their address, their filled fields, and the buttons that send them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[dict[str, Any]] = []
        self._select = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.forms.append({"action": given["action"], "fields": {}, "buttons": []})
        elif tag == "input" and given.get("type") == "checkbox" and "checked" not in given:
            return  # a browser does not send a box that is not ticked
        elif tag == "input" and "name" in given and self.forms:
            self.forms[-1]["fields"][given["name"]] = given.get("value", "")
        elif tag == "select":
            self._select = given["name"]
        elif tag == "option" and "selected" in given and self._select:
            self.forms[-1]["fields"][self._select] = given.get("value", "")
        elif tag == "button" and given.get("name") and self.forms:
            self.forms[-1]["buttons"].append((given["name"], given["value"]))

    def to(self, action: str) -> list[dict[str, Any]]:
        """The forms that go to an address."""
        return [one for one in self.forms if one["action"] == action]


def text_of(page: requests.Response) -> str:
    """What a page says, less its markup."""
    return html.unescape(re.sub(r"<[^>]+>", " ", page.text))


@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("trial", [False, True])
def test_returns_go_from_the_order_to_the_refiner(web: Web, decimal: str, trial: bool) -> None:
    written = {name: value if "date" in name else value.replace(".", decimal) for name, value in ORDER.items()}
    sheet = web("POST", "/order", data={**written, "decimal": decimal})
    assert sheet.status_code == 200
    carried = _Forms(sheet.text).to("/recovery")[int(trial)]
    ((name, value),) = carried["buttons"]
    filled = web("POST", carried["action"], data={**carried["fields"], name: value})
    assert filled.status_code == 200
    (form,) = _Forms(filled.text).to("/recovery")
    result = web(
        "POST",
        "/v1/order",
        json={
            "name": "reed band",
            "final_metal": "gold-585-yellow",
            "trial": {"metal": "sterling-silver", "mass": "6.31 g"},
            "pieces": 2,
            "spares": {"count": 1},
            "allowances": {"sprue_share": 0.4},
            "on_hand": [{"metal": "gold-585-yellow", "mass": "3.2 g"}],
            "purchase": {"increment": "0.5 g"},
            "prices": [{"metal": "Au", "price": "104.50", "per": "g", "currency": "EUR", "date": "2026-11-20"}],
        },
    ).json()["result"]
    lots = result["returns"]["items"]
    assert [form["fields"][f"/lots/{row}/kind"] for row in range(len(lots))] == [one["kind"] for one in lots]
    assert form["fields"]["decimal"] == decimal
    offer = {"/terms/0/name": "by the lot", "/terms/0/pays/0/metal": "Au", "/terms/0/pays/0/paid": f"0{decimal}985"}
    settled = web("POST", form["action"], data={**form["fields"], **offer})
    assert settled.status_code == 200
    asked: dict[str, Any] = {
        "order_returns": lots,
        "lots": [{"kind": "trial-casting", "mass": "6.31 g", "metal": "sterling-silver"}] if trial else [],
        "terms": [{"name": "by the lot", "pays": [{"metal": "Au", "paid": "0.985"}]}],
        "prices": [{"metal": "Au", "price": "104.50", "currency": "EUR"}],
    }
    settlement = web("POST", "/v1/recovery", json=asked).json()["result"]["settlements"][0]["settlement"]
    for end in ("low", "high"):
        assert f"{settlement[end]:.2f}".replace(".", decimal) in text_of(settled)


def test_a_return_of_no_name_goes_as_its_composition(web: Web) -> None:
    own = {**ORDER, "/final_metal": "Au 585.5; Ag 204.5; Cu 210"}
    carried = _Forms(web("POST", "/order", data=own).text).to("/recovery")[0]
    assert carried["fields"]["/lots/0/composition"] == "Au 585.5, Ag 204.5, Cu 210"
    assert web("POST", "/recovery", data=carried["fields"]).status_code == 200


def test_a_comma_is_understood_where_it_is_clear_and_refused_where_not(web: Web) -> None:
    point = text_of(web("POST", "/order", data=ORDER))
    clear = web("POST", "/order", data={**ORDER, "/trial/mass": "6,31 g"})
    assert text_of(clear).replace("6,31", "6.31") == point.replace("6,31", "6.31")
    unclear = web("POST", "/order", data={**ORDER, "/trial/mass": "6,310 g"})
    assert unclear.status_code == 422
    assert "6.310 or 6310" in text_of(unclear)
    assert web("POST", "/order", data={**ORDER, "/trial/mass": "6,310 g", "decimal": ","}).status_code == 200
    assert web("POST", "/order", data={**ORDER, "/trial/mass": "6,31 g", "decimal": "."}).status_code == 422


@pytest.fixture
def run_shown(server: Any) -> Callable[[str], dict[str, Any] | list[Any]]:
    """Run the command that a page shows, as a shell would, and read its answer."""

    def run(page: str) -> Any:
        (shown,) = re.findall(r'aria-label="Command">([^<]*)</pre>', page)
        program, *words = shlex.split(html.unescape(shown))
        assert program == "alloyref"
        command = [sys.executable, "-m", "alloyref", *words, "--json"]
        environment = {**os.environ, "ALLOYREF_DATA_DIR": str(server.log.parent / "data")}
        done = subprocess.run(command, capture_output=True, env=environment, timeout=60, check=False)
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)

    return run


@pytest.mark.parametrize("decimal", [".", ","])
def test_the_command_on_a_page_gives_the_figures_of_the_page(
    web: Web, run_shown: Callable[[str], Any], decimal: str
) -> None:
    def figure(value: float, decimals: int = 2) -> str:
        return f"{value:.{decimals}f}".replace(".", decimal)

    def asked(path: str, fields: dict[str, str]) -> tuple[str, dict[str, Any]]:
        written = {name: value if "date" in name else value.replace(".", decimal) for name, value in fields.items()}
        page = web("POST", path, data={**written, "decimal": decimal})
        assert page.status_code == 200
        return text_of(page), run_shown(page.text)["result"]

    text, order = asked("/order", ORDER)
    for mass in (order["charge"], order["to_buy"], order["piece_mass"], order["finished_mass"], order["returns"]):
        assert figure(mass["display"]["g"]) in text
        assert figure(mass["display"]["ozt"], 4) in text
    assert figure(order["cost"]["per_piece"]["value"]) in text
    text, recovery = asked("/recovery", LOTS)
    for end in ("low", "high"):
        assert figure(recovery["settlements"][0]["settlement"][end]) in text
        assert figure(recovery["contents"]["Au"][end], 3) in text
    text, density = asked("/density-test", RING)
    assert f"{figure(density['density']['value'])} g/cm³" in text
    assert [one["id"] for one in density["candidates"] if one["name"] not in text] == []


def test_the_command_of_the_finder_finds_the_same_alloys(web: Web, run_shown: Callable[[str], Any]) -> None:
    page = web("GET", "/alloys?base=Au&karat=14&free_of=Ni,Cd&fineness_min=584,5&sort=-density&colour=")
    assert page.status_code == 200
    found = run_shown(page.text)
    assert len(found) > 3
    assert re.findall(r'name="id" value="([^"]+)"', page.text) == [one["id"] for one in found]


def test_terms_are_explained_on_the_sheet(web: Web) -> None:
    sheet = text_of(web("POST", "/order", data=ORDER))
    for term in ("net a piece", "lemel", "button", "solidus", "liquidus", "charge"):
        assert re.search(rf"\b{term}\b +[A-Z]", sheet), term


def test_the_sheet_warns_before_it_tells_money_and_has_names_not_ids(web: Web) -> None:
    page = web("POST", "/order", data={**ORDER, "/purchase/form": "fine-and-master"})
    said = text_of(page).partition("Change it")[0]
    assert said.index("Cautions") < said.index("Not priced, so not counted: Ag, Cu.") < said.index("Net metal")
    tables = " ".join(re.findall(r"<tbody>.*?</tbody>|<dl class=\"pairs\">.*?</dl>", page.text, re.DOTALL))
    assert "14 ct yellow" in tables
    for code in ("gold-585-yellow", "sprue-and-button", "spare-castings", "from-memory", "`"):
        assert f">{code}<" not in tables
        assert f"{code} " not in re.sub(r"<[^>]+>", " ", tables)


def test_a_recovery_says_what_is_not_counted_before_what_is_paid(web: Web) -> None:
    page = web("POST", "/recovery", data={**LOTS, "/lots/2/mass": "6 g", "/lots/2/metal": "sterling-silver"})
    assert page.status_code == 200
    said = text_of(page)
    assert said.index("Not priced, so not counted: Ag") < said.index("by the lot pays")
    assert said.index("Cautions") < said.index("Fee and charges")


@pytest.mark.parametrize(
    ("more", "stones"),
    [({}, "0.51 g"), ({"/trial/finished_mass": "5.9 g"}, "")],
    ids=["weighed with its stones", "weighed before they were set"],
)
def test_the_stones_of_a_trial_are_not_sold_as_silver(web: Web, more: dict[str, str], stones: str) -> None:
    """Three of 0.85 ct, or 0.17 g, lay on the balance with the casting unless it was weighed again when finished."""
    set_in = {"/stones/0/mass": "0.85 ct", "/stones/0/count": "3", "/stones/0/kind": "garnet-almandine"}
    page = web("POST", "/order", data={**ORDER, **set_in, **more}, headers={"Accept": "text/html"})
    assert page.status_code == 200, page.text
    (carried,) = (form["fields"] for form in _Forms(page.text).forms if "/lots/3/kind" in form["fields"])
    assert carried["/lots/3/mass"] == "6.31 g"
    assert carried.get("/lots/3/other_matter", "") == stones
