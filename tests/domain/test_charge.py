"""Charges by hand: recipes, marks, whole lots, weighing steps, savings, changes, and what is refused."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from copy import deepcopy
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.charge import CHARGE
from alloyref.domain.charge.highs import least
from alloyref.domain.charge.solve import ALL_SECONDS
from alloyref.domain.errors import InvalidInput, NotAvailable
from alloyref.domain.span import AtLeast

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Plain = dict[str, Any]


def gold(au: int, **rest: int) -> Plain:
    """Gold in copper and whatever else."""
    return {"composition": {"Au": au, **rest, "Cu": 1000 - au - sum(rest.values())}}


# 100 g at 585 from a lot of 500 at 50 a gram and fine gold at 100: x + y = 100, 0.5 x + y = 58.5: x = 83, y = 17.
SMALL: Plain = {
    "target": {"mass": "100 g", "mark": 585, "jurisdiction": "UK"},
    "lots": [{"id": "rings", "mass": "200 g", "metal": gold(500), "price": 50}],
    "shelf": [{"metal": "Au", "price": 100}],
    "currency": "EUR",
}


def changed(asked: Plain = SMALL, **changes: Any) -> Plain:
    """A question with some of its parts replaced, by path with double underscores; ... takes a part away."""
    out = deepcopy(asked)
    for path, value in changes.items():
        *way, last = path.split("__")
        place: Any = out
        for step in way:
            place = place[int(step)] if step.isdigit() else place[step]
        if value is ...:
            del place[last]
        else:
            place[last] = value
    return out


def result_of(ask: Ask, asked: Plain) -> Any:
    """The result of a question."""
    return ask(CHARGE, asked).result


def recipe_of(ask: Ask, asked: Plain) -> dict[str, Decimal]:
    """The masses of a recipe."""
    return {line.id: line.mass for line in result_of(ask, asked).recipe}


def test_a_charge_by_hand(ask: Ask) -> None:
    result = result_of(ask, SMALL)
    assert recipe_of(ask, SMALL) == {"rings": 83, "Au": 17}
    assert result.cost == (Decimal("5850.00"), "EUR") == result.least_cost
    assert result.fineness == (Decimal(585), "permille")
    assert result.composition == {"Au": 585, "Cu": 415}
    assert result.elements == {"Au": Decimal("58.5"), "Cu": Decimal("41.5")}
    assert [line.left for line in result.recipe] == [117, None]
    assert result.nearest_marks[0].difference == 0


def test_what_the_mark_costs_by_hand(ask: Ask) -> None:
    """A permille more: 0.2 g of gold for 0.2 g of rings, 0.2 x (100 - 50) = 10."""
    (mark,) = (one for one in result_of(ask, SMALL).limits if one.rule == "mark")
    assert (mark.saves, mark.unit) == (10, "EUR per permille")
    assert mark.words == "A least fineness of 584 permille instead of the 585 permille of the mark would save 10 EUR."
    assert (mark.by, mark.to, mark.to_unit) == (1, 584, "permille")


def test_what_a_gram_more_saves_by_hand(ask: Ask) -> None:
    """40 g of rings: with a gram more the charge needs 0.5 g less gold; the other 0.5 g of gold becomes copper.

    One gram of rings at 10 and half a gram less of gold at 100, half a gram less of copper at 2: saves 41.
    """
    copper = {"metal": "Cu", "price": 2}
    asked = changed(lots__0__mass="40 g", lots__0__price=10, shelf=[*SMALL["shelf"], copper])
    (there,) = (one for one in result_of(ask, asked).limits if one.rule == "available")
    assert there.words == "One gram more of rings would save 41 EUR."
    assert there.pointer == "/lots/0/mass"


def test_a_permille_more_of_scrap_by_hand(ask: Ask) -> None:
    copper = {"metal": "Cu", "price": 2}
    asked = changed(max_scrap_share="0.3", lots__0__price=10, shelf=[*SMALL["shelf"], copper])
    (scrap,) = (one for one in result_of(ask, asked).limits if one.rule == "scrap-share")
    assert scrap.saves == 41
    assert "One percent more scrap than the 30 % allowed" in scrap.words
    assert recipe_of(ask, asked)["rings"] == 30


def test_karat_and_mark_are_two_targets(ask: Ask) -> None:
    by_karat = changed(target={"mass": "100 g", "fineness": "14 karat"})
    outcome = ask(CHARGE, by_karat)
    assert outcome.result.fineness[0] < 585
    assert outcome.result.elements["Au"] * 24 >= 14 * outcome.result.mass
    assert "karat-by-arithmetic" in [one.id for one in outcome.assumptions]
    assert "mark-by-law" in [one.id for one in ask(CHARGE, SMALL).assumptions]


def test_the_tolerance_of_a_law_is_never_planned_with(ask: Ask) -> None:
    outcome = ask(CHARGE, changed(target__jurisdiction="US"))
    assert outcome.result.fineness[0] >= 585
    assert "not planned with" in outcome.assumptions[0].text


def test_a_karat_as_a_mark_means_what_the_place_says(ask: Ask) -> None:
    assert result_of(ask, changed(target__mark="14K")).fineness[0] == 585
    assert result_of(ask, changed(target__mark="916")).fineness[0] == Decimal("916.6")


@pytest.mark.parametrize("step", ["0.01 g", "0.1 g", "1 g", "0.1 dwt", "7 g"])
def test_a_coarse_balance_never_falls_short(ask: Ask, step: str) -> None:
    asked = changed(target__mass="43.21 g", step=step)
    result = result_of(ask, asked)
    assert result.possible
    assert result.fineness[0] >= 585
    assert result.mass >= Decimal("43.21")
    assert result.cost[0] >= result.least_cost[0]


def test_a_lot_used_up_needs_no_weighing(ask: Ask) -> None:
    """With its last 5.4 mg the charge needs no more than 100.0054 g, not 100.01."""
    copper = {"metal": "Cu", "price": 2}
    asked = changed(lots__0__mass="20.1254 g", lots__0__price=0, shelf=[*SMALL["shelf"], copper])
    recipe = recipe_of(ask, changed(asked, target__mass="100.005 g"))
    assert recipe["rings"] == Decimal("20.1254")
    assert sum(recipe.values()) == Decimal("100.0054")


def test_a_whole_lot_is_all_or_nothing(ask: Ask) -> None:
    whole = changed(lots__0__use="whole", shelf=[*SMALL["shelf"], {"metal": "Cu", "price": 2}])
    assert "rings" not in recipe_of(ask, whole)
    smaller = changed(whole, lots__0__mass="60 g")
    assert recipe_of(ask, smaller)["rings"] == 60


def test_a_whole_lot_left_out_is_said_with_what_it_would_cost(ask: Ask) -> None:
    """60 g of rings at 60 with 28.5 g of gold and 11.5 of copper cost 6473; 58.5 g and 41.5 without them, 5933."""
    copper = {"metal": "Cu", "price": 2}
    asked = changed(lots__0__use="whole", lots__0__mass="60 g", lots__0__price=60, shelf=[*SMALL["shelf"], copper])
    result = result_of(ask, asked)
    (left,) = result.left_out
    must = result_of(ask, changed(asked, lots__0__use="must"))
    assert (left.id, left.mass, left.unit) == ("rings", 60, "EUR")
    assert left.more == must.cost[0] - result.cost[0] == 540
    assert left.words == "rings was left out: with all of it the charge would take 540 EUR more."
    assert result.summary.endswith("Left out: rings.")
    assert (must.left_out, recipe_of(ask, changed(asked, lots__0__use="must"))["rings"]) == ((), 60)


def test_a_whole_lot_that_cannot_go_in_is_said_with_the_reason(ask: Ask) -> None:
    copper = {"metal": "Cu", "price": 2}
    heavy = changed(lots__0__use="whole", shelf=[*SMALL["shelf"], copper])
    (left,) = result_of(ask, heavy).left_out
    assert left.words == "rings was left out: it weighs more than the whole charge."
    nickel = {"id": "white", "mass": "5 g", "metal": gold(750, Ni=100), "price": 1, "use": "whole"}
    (left,) = result_of(ask, changed(lots=[*SMALL["lots"], nickel], target__free_of="Ni")).left_out
    assert left.words == "white was left out: with all of it no recipe keeps every limit."


def test_what_must_go_in_and_cannot_is_an_answer_with_its_reasons(ask: Ask) -> None:
    """200 g of 500 are 585 with 40.97 g of gold."""
    result = result_of(ask, changed(lots__0__use="must"))
    assert not result.possible
    assert result.summary.endswith("Let it weigh up to 240.97 g instead of 100 g.")
    solder = {"id": "old solder", "mass": "5 g", "metal": gold(750, Cd=50), "price": 0, "use": "must"}
    with pytest.raises(InvalidInput, match="must go in, but holds metal that is not to be melted"):
        ask(CHARGE, changed(lots=[*SMALL["lots"], solder]))


def test_base_metal_without_a_quote_is_not_counted_as_free(ask: Ask) -> None:
    """The rings' copper has no quote: their cost and the whole are at least what their gold comes to."""
    quote = {"metal": "Au", "price": 100, "per": "g", "currency": "EUR"}
    asked = changed(lots__0__price=..., shelf__0__price=..., prices=[quote])
    result = result_of(ask, asked)
    assert isinstance(result.cost, AtLeast)
    assert result.cost == (Decimal("5850.00"), "EUR")
    assert [isinstance(line.cost, AtLeast) for line in result.recipe] == [True, False]
    assert "No quote for Cu: what it is worth in rings is not counted." in result.notes
    copper = {"metal": "Cu", "price": 1, "per": "g", "currency": "EUR"}
    assert not isinstance(result_of(ask, changed(asked, prices=[quote, copper])).cost, AtLeast)


def test_more_may_be_melted_to_use_a_whole_lot(ask: Ask) -> None:
    asked = changed(lots__0__use="whole", lots__0__mass="90 g", lots__0__price=1, target__most_mass="130 g")
    recipe = recipe_of(ask, asked)
    assert recipe["rings"] == 90
    assert sum(recipe.values()) > 108


def test_an_alloy_gives_windows(ask: Ask) -> None:
    asked = changed(
        target={"mass": "50 g", "alloy": "gold-750-yellow", "tolerance": 10},
        shelf=[{"metal": symbol, "price": price} for symbol, price in (("Au", 100), ("Ag", 1), ("Cu", 2), ("Zn", 0))],
    )
    result = result_of(ask, asked)
    windows = {one.element: (one.least, one.most) for one in result.windows}
    assert windows == {"Au": (750, 760), "Ag": (115, 135), "Cu": (115, 135), "Zn": (0, 0)}
    assert result.fineness[0] == 750
    assert "Zn" not in result.composition
    # The copper of the rings costs nothing, silver costs: as much of the one as may be, as little of the other.
    assert (result.composition["Ag"], result.composition["Cu"]) == (115, 135)
    # With a window of its own zinc may come in, and does where it is cheaper than the copper of the rings.
    overridden = changed(asked, target__windows=[{"elements": "Zn", "most": 20}], lots__0__price=51)
    assert result_of(ask, overridden).composition["Zn"] == 20


def test_an_alloy_of_its_own_elements_wants_a_quote_for_all_of_them_or_for_none(ask: Ask) -> None:
    gold_quote = {"metal": "Au", "price": 100, "per": "g", "currency": "EUR"}
    asked = {"target": {"mass": "10 g", "alloy": "gold-585-yellow"}, "prices": [gold_quote]}
    with pytest.raises(InvalidInput, match="no quote is given for Ag, Cu"):
        ask(CHARGE, asked)
    others = [{**gold_quote, "metal": symbol, "price": 1} for symbol in ("Ag", "Cu")]
    result = result_of(ask, {**asked, "prices": [gold_quote, *others]})
    assert result.cost == (Decimal("589.15"), "EUR")
    assert result.composition == {"Au": 585, "Ag": 205, "Cu": 210}


def test_a_mark_that_the_alloy_falls_short_of_widens_it(ask: Ask) -> None:
    """Marked 916 in the UK it must reach 916.6; the alloy's own 916 does not."""
    shelf = [{"metal": "Au"}, {"metal": "Ag"}, {"metal": "Cu"}]
    target = {"mass": "100 g", "alloy": "gold-916-yellow-4-4"}
    assert result_of(ask, {"target": target, "shelf": shelf}).fineness[0] == 916
    marked = {**target, "mark": 916, "jurisdiction": "UK"}
    assert result_of(ask, {"target": marked, "shelf": shelf}).fineness[0] == Decimal("916.6")


def test_an_element_kept_out_and_what_that_costs(ask: Ask) -> None:
    white = {"id": "white", "mass": "50 g", "metal": gold(750, Ni=100), "price": 5}
    asked = changed(lots=[*SMALL["lots"], white])
    assert "white" in recipe_of(ask, asked)
    free = changed(asked, target__free_of="Ni,Pd")
    result = result_of(ask, free)
    assert "Ni" not in result.composition
    (kept_out,) = (one for one in result.limits if one.rule == "free-of")
    assert kept_out.words.startswith("1 permille of Ni instead of none would save ")
    assert "nickel-skin" in {one.id for one in ask(CHARGE, asked).cautions}
    assert "nickel-skin" not in {one.id for one in ask(CHARGE, free).cautions}


def test_metal_with_cadmium_is_left_out_and_said_so(ask: Ask) -> None:
    solder = {"id": "old solder", "mass": "50 g", "metal": gold(750, Cd=50), "price": 0}
    result = result_of(ask, changed(lots=[*SMALL["lots"], solder]))
    assert "old solder" not in [line.id for line in result.recipe]
    assert "old solder: it holds cadmium" in result.notes[0]
    with pytest.raises(InvalidInput) as refused:
        ask(CHARGE, changed(target={"mass": "5 g", "alloy": "gold-750-green-cd4"}))
    assert refused.value.issues[0].pointer == "/target/alloy"


def test_without_prices_the_least_fine_metal_is_bought(ask: Ask) -> None:
    asked = changed(lots__0__price=..., shelf__0__price=..., currency=...)
    result = result_of(ask, asked)
    assert (result.cost, result.least_cost) == (None, None)
    assert result.least.startswith("No prices were given")
    assert recipe_of(ask, asked) == {"rings": 83, "Au": 17}
    (mark,) = (one for one in result.limits if one.rule == "mark")
    assert mark.unit == "g of fine metal bought per permille"
    assert mark.saves == Decimal("0.2")


def test_estimates_are_given_or_their_absence_is_said(ask: Ask) -> None:
    result = result_of(ask, SMALL)
    assert result.density.low < result.density.value < result.density.high
    if result.solidus is None:
        assert any(note.startswith("solidus and liquidus: ") for note in result.notes)
    else:
        assert result.solidus.value <= result.liquidus.value
    pure = changed(target={"mass": "10 g", "fineness": "1000 permille"})
    assert result_of(ask, pure).solidus.value == result_of(ask, pure).liquidus.value > 1060


class TestImpossible:
    """What is said where nothing can be weighed in."""

    def test_more_of_a_lot(self, ask: Ask) -> None:
        """Only rings of 600: 100 g of 585 wants 100 g of them, and 60 are there; or the charge is 60 g."""
        asked = changed(lots__0__metal=gold(600), lots__0__mass="70 g", shelf=[], currency="EUR")
        (change,) = result_of(ask, asked).changes
        assert change.words in {
            "Have 30 g more of rings: 100 g instead of 70 g.",
            "Let it weigh 70 g instead of 100 g.",
        }
        assert not ask(CHARGE, asked).answered

    def test_a_mark_out_of_reach_is_not_bent(self, ask: Ask) -> None:
        (change,) = result_of(ask, changed(shelf=[])).changes
        assert (change.rule, change.to) == ("mark", 500)
        assert "Add metal richer in Au, or aim at a lower mark" in change.words

    def test_a_window_moves_before_a_mark(self, ask: Ask) -> None:
        """585 gold with at most 10 permille of copper, from gold and copper alone."""
        asked = changed(
            target__windows=[{"elements": "Cu", "most": 10}, {"elements": "Au", "most": 600}],
        )
        changes = result_of(ask, asked).changes
        assert changes
        assert {one.rule for one in changes} == {"element"}

    def test_a_finer_balance_is_advised_where_that_is_all(self, ask: Ask) -> None:
        asked = changed(
            target={"mass": "10 g", "windows": [{"elements": "Au", "least": "586", "most": "586.4"}]}, step="0.1 g"
        )
        (change,) = result_of(ask, asked).changes
        assert (change.rule, change.to) == ("step", Decimal("0.01"))
        assert "Weigh to 0.01 g" in change.words
        assert result_of(ask, changed(asked, step="0.01 g")).possible

    def test_nickel_that_cannot_be_kept_out(self, ask: Ask) -> None:
        asked = changed(lots__0__metal=gold(600, Ni=50), shelf=[], target__free_of="Ni")
        (change,) = result_of(ask, asked).changes
        assert (change.rule, change.of, change.to) == ("free-of", "Ni", 50)

    def test_it_is_never_made_nothing(self, ask: Ask) -> None:
        for one in result_of(ask, changed(shelf=[], lots__0__mass="1 g")).changes:
            assert one.rule != "mass" or one.to >= 50


CONTRADICTION = "contradiction"
KARAT = "karat-of-gold"
NO_SILVER, NICKEL = {"elements": "Ag", "most": 0}, {"elements": "Ni", "least": 5}


@pytest.mark.parametrize(
    ("change", "pointer", "code"),
    [
        ({"lots__0__mass": "-1 g"}, "/lots/0/mass", "out-of-range"),
        ({"lots__0__price": -1}, "/lots/0/price", "out-of-range"),
        ({"lots__0__price": ...}, "/lots/0/price", "missing"),
        ({"shelf__0__price": ...}, "/shelf/0/price", "missing"),
        ({"currency": ...}, "/currency", "missing"),
        ({"shelf__0__price": 10**9, "shelf__0__per": "mg"}, "/shelf/0/price", "out-of-range"),
        ({"lots__0__metal": "unobtainium"}, "/lots/0/metal", "unknown-metal"),
        ({"shelf__0__id": "rings"}, "/shelf/0/id", "duplicate"),
        ({"lots": [SMALL["lots"][0]] * 2}, "/lots/1/id", "duplicate"),
        ({"lots": [SMALL["lots"][0]] * 501}, "/lots", "too-many"),
        ({"lots": [], "shelf": []}, "/lots", "missing"),
        ({"lots__0__least_share": "0.5", "lots__0__most_share": "0.4"}, "/lots/0/least_share", CONTRADICTION),
        ({"target__most_mass": "99 g"}, "/target/most_mass", CONTRADICTION),
        ({"target": {"mass": "5 g"}}, "/target/alloy", "missing"),
        ({"target__windows": [{"elements": "Ag"}]}, "/target/windows/0/least", "missing"),
        ({"target__windows": [{"elements": "Ag", "least": 9, "most": 8}]}, "/target/windows/0/least", CONTRADICTION),
        ({"target__windows": [NO_SILVER, NO_SILVER]}, "/target/windows/1/elements", "duplicate"),
        ({"target__windows": [{"elements": "Xx", "most": 8}]}, "/target/windows/0/elements", "unknown-element"),
        ({"target__windows": [{"elements": "Ag,Cu,Zn", "least": 400}]}, "/target/windows", CONTRADICTION),
        ({"target__windows": [{"elements": "Au", "most": 500}]}, "/target/mark", CONTRADICTION),
        ({"target__windows": [NICKEL], "target__free_of": "Ni"}, "/target/free_of", CONTRADICTION),
        ({"target__mark": 586}, "/target/mark", "unknown-mark"),
        ({"target__mark": ..., "target__fineness": "1 permille"}, "/target/mark", "missing"),
        ({"target__jurisdiction": "Atlantis"}, "/target/jurisdiction", "not-an-option"),
        ({"target__base": "Ag", "target__fineness": "14 karat", "target__mark": 925}, "/target/fineness", KARAT),
        ({"target__mark": "14K", "target__jurisdiction": ...}, "/target/jurisdiction", "missing"),
        ({"max_scrap_share": "1.2"}, "/max_scrap_share", "out-of-range"),
        ({"step": "0 g"}, "/step", "out-of-range"),
        ({"target__mass": "1e9 kg"}, "/target/mass", "out-of-range"),
    ],
)
def test_a_wrong_question_is_refused_in_its_place(ask: Ask, change: Plain, pointer: str, code: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        ask(CHARGE, changed(**change))
    assert (pointer, code) in [(one.pointer, one.code) for one in refused.value.issues]


def test_two_hundred_lots(ask: Ask) -> None:
    lots = [
        {"id": f"lot {n}", "mass": f"{1 + n % 9}.37 g", "metal": gold(350 + 3 * n, Ag=n % 50), "price": 30 + n * 0.3}
        for n in range(200)
    ]
    result = result_of(ask, changed(lots=lots))
    assert result.possible
    assert result.fineness[0] >= 585
    assert result.cost[0] < 5850


def test_the_solver_waits_for_the_first_charge() -> None:
    """The service starts without it."""
    code = "import sys, alloyref.web.app, alloyref.cli; sys.exit('highspy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def many_whole_lots() -> Plain:
    """Sixty lots, each whole or not at all, and narrow windows: more choices than can be looked at."""
    lots = [
        {
            "id": f"lot {one}",
            "mass": f"{7 + one * 37 % 101 / 100} g",
            "metal": gold(400 + one * 61 % 300, Ag=100),
            "use": "whole",
        }
        for one in range(60)
    ]
    windows = [{"elements": "Au", "least": 549.9, "most": 550.1}]
    return {"target": {"mass": "200 g", "most_mass": "210 g", "windows": windows}, "lots": lots}


def test_a_search_cut_short_never_says_that_there_is_no_recipe(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    assert result_of(ask, many_whole_lots()).possible
    monkeypatch.setattr("alloyref.domain.charge.solve.SECONDS", 0.0)
    with pytest.raises(NotAvailable, match="not found in the time there is"):
        ask(CHARGE, many_whole_lots())


def test_steps_that_could_not_be_tried_are_not_called_impossible(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("alloyref.domain.charge.rounding.SECONDS", 0.0)
    with pytest.raises(NotAvailable, match="give a finer step"):
        ask(CHARGE, SMALL)


class Clock:
    """A clock that goes on by as much as each search may take, and what that was."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.now, self.allowed = 0.0, list[float]()
        monkeypatch.setattr("alloyref.domain.charge.solve.monotonic", lambda: self.now)
        for module in ("solve", "rounding"):
            monkeypatch.setattr(f"alloyref.domain.charge.{module}.least", self.search)

    def search(self, columns: Any, rows: Any, options: Plain, *given: Any) -> Any:
        """The search, which then has taken all of its time."""
        try:
            return least(columns, rows, options, *given)
        finally:
            if "time_limit" in options:
                self.allowed.append(options["time_limit"])
                self.now += options["time_limit"]


def test_all_searches_of_a_charge_share_their_time(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock(monkeypatch)
    result = result_of(ask, changed(many_whole_lots(), target__windows=[{"elements": "Au", "least": 720}]))
    assert not result.possible
    assert len(clock.allowed) > 3
    assert sum(clock.allowed) <= ALL_SECONDS
