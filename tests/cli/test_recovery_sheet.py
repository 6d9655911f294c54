"""The printed recovery says what the answer says."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from click.testing import Result

from alloyref.cli.recovery_sheet import span
from alloyref.domain.recovery import RECOVERY

Run = Callable[..., Result]


@pytest.fixture
def both(run: Run) -> Callable[..., tuple[str, Any]]:
    """The sheet and the whole answer of the same question."""

    def asked(**changes: Any) -> tuple[str, Any]:
        text = json.dumps({**RECOVERY.example, **changes})
        printed, whole = (
            run("recovery", "--input", "-", stdin=text),
            run("recovery", "--input", "-", "--json", stdin=text),
        )
        assert (printed.exit_code, whole.exit_code) == (0, 0), printed.output
        return printed.stdout, json.loads(whole.stdout)["result"]

    return asked


def test_lots_contents_and_settlements_are_on_it(both: Callable[..., tuple[str, Any]]) -> None:
    text, result = both()
    for lot in result["lots"]:
        assert lot["name"] in text
        assert all(f"{lot['name']}: {note}" in text for note in lot["notes"])
        for one in lot["contents"]:
            assert span(one["contained"]) in text
            assert span(one["recovered"]) in text
    for one in result["settlements"]:
        assert f"OFFER: {one['offer']}" in text
        assert f"SETTLEMENT: {span(one['settlement'])} EUR" in text
        assert one["break_even"]["decision"].replace("-", " ").upper() in text
        for lot in one["lots"]:
            assert span(lot["net"]) in text
    comparison = result["comparison"]
    assert f"{comparison['best']} pays the most, by {span(comparison['lead'])} EUR" in text
    for flip in comparison["flips"]:
        assert f"{flip['mass']['value']:.2f} g gross" in text
    assert "not priced, so not counted: Ag" in text


def test_without_prices_no_money_is_shown(both: Callable[..., tuple[str, Any]]) -> None:
    text, result = both(prices=[])
    assert "No prices were given" in text
    assert "EUR" not in text
    assert result["comparison"] is None


def test_a_lot_too_light_and_a_sending_cost_are_told(both: Callable[..., tuple[str, Any]]) -> None:
    offer = {**RECOVERY.example["terms"][0], "minimum_lot": "10 g", "sending_cost": "18.40"}
    text, _ = both(terms=[offer])
    assert "bench filings: lighter than the least lot, not taken" in text
    assert "less sending: 18.40 EUR" in text


def test_codes_are_said_in_words_and_counted_rightly(both: Callable[..., tuple[str, Any]]) -> None:
    text, result = both(lots=[{"kind": "sprue-and-button", "mass": "12.4 g", "metal": "gold-585-yellow"}])
    assert text.startswith("RECOVERY: 1 lot\n")
    assert "sprue and button" in text
    assert "sprue-and-button" not in text
    assert "14 ct yellow 20.5/21 (gold-585-yellow)" in text
    assert result["lots"][0]["kind"] == "sprue-and-button"


def test_an_offer_that_pays_for_nothing_in_a_lot_says_so(run: Run) -> None:
    asked = {"lots": [{"name": "trial", "mass": "5 g", "metal": "sterling-silver"}]}
    asked["terms"] = [{"name": "gold only", "pays": [{"metal": "Au", "paid": "0.9"}]}]
    assert "trial: nothing in it is paid for." in run("recovery", "--input", "-", stdin=json.dumps(asked)).stdout


@pytest.mark.parametrize(("assay", "words"), [({"recovery": 0.99}, "at no size."), ({}, "at no size for certain.")])
def test_a_lot_that_may_pay_or_not_is_not_told_that_it_never_pays(
    both: Callable[..., tuple[str, Any]], assay: dict[str, Any], words: str
) -> None:
    """Lemel of known gold of which 90 to 97 % comes back, at 93 % of its price: less than 90 % if less comes back."""
    lot = {"name": "lemel", "kind": "lemel", "mass": "48.3 g", "assay": {"Au": 430}, **assay}
    paid = "0.88" if assay else "0.93"
    terms = [{"name": "by the ounce", "pays": [{"metal": "Au", "paid": paid}]}]
    printed, result = both(lots=[lot], terms=terms, order_returns=None)
    (settlement,) = result["settlements"]
    assert settlement["break_even"]["from_mass"] is None
    assert settlement["break_even"]["decision"] == ("hold" if assay else "not-certain")
    assert f"sending pays {words}" in printed
