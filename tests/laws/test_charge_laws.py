"""Laws of the charge: it is lawful as weighed, no solver finds a cheaper one, and a stated change does what it says.

The other solver is GLPK, by CVXOPT: it shares no code with HiGHS, and its model is written from the plain input.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from cvxopt import glpk, matrix
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from alloyref.catalogue.files import data_folder
from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.charge import CHARGE
from alloyref.domain.charge.results import BindingLimit, Change, ChargeResult

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Plain = dict[str, Any]
ELEMENTS = ("Au", "Ag", "Cu", "Zn")
LAW = settings(max_examples=40, derandomize=True, deadline=None)
QUIET = {"glpk": {"msg_lev": "GLP_MSG_OFF"}}


@st.composite
def compositions(draw: st.DrawFn) -> Plain:
    """Shares of up to four elements in tenths of a permille, often with much gold."""
    cuts = sorted([draw(st.integers(0, 9500)), *draw(st.lists(st.integers(3000, 10_000), min_size=2, max_size=2))])
    parts = [after - before for before, after in zip([0, *cuts], [*cuts, 10_000], strict=True)]
    return {symbol: f"{part / 10:.1f}" for symbol, part in zip(ELEMENTS, parts, strict=True) if part}


@st.composite
def lots(draw: st.DrawFn, whole: bool) -> Plain:
    """A lot with everything a lot may have."""
    lot: Plain = {
        "mass": f"{draw(st.integers(100, 8000)) / 100:.2f} g",
        "metal": {"composition": draw(compositions())},
        "kind": draw(st.sampled_from(["scrap", "fresh"])),
        "price": f"{draw(st.integers(0, 9000)) / 100:.2f}",
    }
    if whole and draw(st.booleans()):
        lot["use"] = "whole"
    elif draw(st.integers(0, 3)) == 0:
        lot["most_share"] = draw(st.sampled_from(["0.1", "0.25", "0.5"]))
    return lot


@st.composite
def questions(draw: st.DrawFn, whole: bool = False) -> Plain:
    """A charge of some lots and shelf metals towards a fineness and a window or two."""
    found = [{"id": f"lot {n}", **draw(lots(whole))} for n in range(draw(st.integers(1, 6)))]
    shelf = [
        {"metal": symbol, "price": f"{draw(st.integers(0, 12_000)) / 100:.2f}"}
        for symbol in draw(st.sampled_from([("Au", "Ag", "Cu"), ("Au", "Cu"), ("Zn", "Cu"), ("Ag",), ()]))
    ]
    target: Plain = {
        "mass": f"{draw(st.integers(1000, 10_000)) / 100:.2f} g",
        "fineness": f"{draw(st.sampled_from([0, 333, 375, 585, 750, 916]))} permille",
    }
    windows = []
    for symbol in draw(st.lists(st.sampled_from(ELEMENTS[1:]), unique=True, max_size=2)):
        least = draw(st.integers(0, 200))
        windows.append({"elements": symbol, "least": least, "most": least + draw(st.sampled_from([1, 20, 300]))})
    if windows:
        target["windows"] = windows
    asked: Plain = {"target": target, "lots": found, "shelf": shelf, "currency": "EUR"}
    asked["step"] = draw(st.sampled_from(["0.01 g", "0.01 g", "0.1 g", "1 g"]))
    if draw(st.booleans()):
        asked["max_scrap_share"] = draw(st.sampled_from(["0", "0.3", "0.5", "0.8"]))
    return asked


def charged(ask: Ask, asked: Plain) -> ChargeResult:
    """The result of a question."""
    result: ChargeResult = ask(CHARGE, asked).result
    return result


def items_of(asked: Plain) -> list[Plain]:
    """Lots and shelf metals alike: id, shares as fractions, available g or None, price."""
    found = []
    for one in [*asked["lots"], *asked["shelf"]]:
        metal = one["metal"]
        shares = (
            {metal: Fraction(1)}
            if isinstance(metal, str)
            else {symbol: Fraction(share) / 1000 for symbol, share in metal["composition"].items()}
        )
        available = Fraction(one["mass"].removesuffix(" g")) if "mass" in one else None
        found.append({**one, "id": one.get("id", metal), "shares": shares, "available": available})
    return found


def windows_of(asked: Plain) -> dict[str, tuple[Fraction, Fraction]]:
    """Least and most of each element as fractions."""
    target = asked["target"]
    found = {"Au": (Fraction(target["fineness"].removesuffix(" permille")) / 1000, Fraction(1))}
    for one in target.get("windows", ()):
        least, most = Fraction(one.get("least", 0)), Fraction(one.get("most", 1000))
        found[one["elements"]] = (least / 1000, most / 1000)
    return found


def columns_of(asked: Plain, in_steps: bool) -> list[tuple[int, Fraction, bool]]:
    """Columns for GLPK: which item, how many g at a time, and whether only a whole number of times.

    A lot in steps has a column for its steps and one for all of it.
    """
    step = Fraction(asked["step"].removesuffix(" g"))
    columns: list[tuple[int, Fraction, bool]] = []
    for place, one in enumerate(items_of(asked)):
        there, whole = one["available"], one.get("use") == "whole"
        if not whole:
            columns.append((place, step if in_steps else Fraction(1), in_steps))
        if whole or (in_steps and there is not None and there % step):
            columns.append((place, there, True))
    return columns


def cheapest_by_glpk(asked: Plain, in_steps: bool = False) -> float | None:
    """The least cost by GLPK, or None where it finds the question infeasible; of recipes in whole steps if asked."""
    items, mass = items_of(asked), float(asked["target"]["mass"].removesuffix(" g"))
    step, columns = float(asked["step"].removesuffix(" g")), columns_of(asked, in_steps)
    rows: list[list[float]] = []
    right: list[float] = []

    def at_most(parts: list[float], bound: float) -> None:
        rows.append([parts[place] * float(unit) for place, unit, _ in columns])
        right.append(bound)

    every = [1.0] * len(items)
    at_most(every, mass + step * 0.9999)
    at_most([-one for one in every], -mass)
    for column, (place, unit, _) in enumerate(columns):
        rows.append([-float(other == column) for other in range(len(columns))])
        right.append(0.0)
        if unit == items[place]["available"]:
            rows.append([float(other == column) for other in range(len(columns))])
            right.append(1.0)
    for place, one in enumerate(items):
        alone = [float(other == place) for other in range(len(items))]
        if one["available"] is not None:
            at_most(alone, float(one["available"]))
        if "most_share" in one:
            at_most([part - float(one["most_share"]) for part in alone], 0.0)
    for symbol, (least, most) in windows_of(asked).items():
        held = [one["shares"].get(symbol, 0) for one in items]
        at_most([float(part - most) for part in held], 0.0)
        at_most([float(least - part) for part in held], 0.0)
    share = float(asked.get("max_scrap_share", 1))
    at_most([float(one.get("kind") == "scrap") - share for one in items], 0.0)
    costs = matrix([float(items[place]["price"]) * float(unit) for place, unit, _ in columns])
    table = matrix([[row[column] for row in rows] for column in range(len(columns))])
    nothing = (matrix(0.0, (0, len(columns))), matrix(0.0, (0, 1)))
    whole = {column for column, (_, _, counted) in enumerate(columns) if counted}
    status, found = glpk.ilp(costs, table, matrix(right), *nothing, whole, set(), options=QUIET)
    return None if status != "optimal" else float((costs.T * found)[0])


@LAW
@given(asked=questions())
def test_no_other_solver_finds_a_cheaper_one(ask: Ask, asked: Plain) -> None:
    got, other = charged(ask, asked), cheapest_by_glpk(asked)
    if not got.possible:
        # Only the weighing steps may stand between the two.
        assert other is None or _only_by_steps(ask, asked)
        return
    assert other is not None
    assert got.least_cost is not None
    assert float(got.least_cost[0]) == pytest.approx(other, abs=0.02, rel=1e-6)


def _only_by_steps(ask: Ask, asked: Plain) -> bool:
    """Whether a question that one solver answers and the steps refuse is answered with steps of a tenth of a mg."""
    return charged(ask, {**asked, "step": "0.0001 g"}).possible


@LAW
@given(asked=questions(whole=True))
def test_whole_lots_are_chosen_as_another_solver_would(ask: Ask, asked: Plain) -> None:
    got, other = charged(ask, asked), cheapest_by_glpk(asked)
    if got.possible:
        assert other is not None
        assert got.least_cost is not None
        assert float(got.least_cost[0]) == pytest.approx(other, abs=0.02, rel=1e-6)
        whole = {one["id"]: one["available"] for one in items_of(asked) if one.get("use") == "whole"}
        assert all(Fraction(line.mass) == whole[line.id] for line in got.recipe if line.id in whole)


@LAW
@given(asked=st.booleans().flatmap(questions))
def test_no_recipe_in_steps_is_cheaper_than_the_answer_says(ask: Ask, asked: Plain) -> None:
    got = charged(ask, asked)
    if not got.possible:
        return
    other = cheapest_by_glpk(asked, in_steps=True)
    # GLPK keeps a row to a millionth: near a limit it may call a recipe what exact arithmetic refuses, or miss one.
    assume(other is not None)
    assert other is not None
    assert got.cost is not None
    assert got.within is not None
    assert float(got.cost[0] - got.within[0]) <= other + 0.006 + 1e-5 * other
    assert got.cost[0] - got.within[0] >= got.least_cost[0] - Decimal("0.01")  # type: ignore[index]


@LAW
@given(asked=questions())
def test_what_a_limit_is_said_to_save_is_saved(ask: Ask, asked: Plain) -> None:
    """The limit is moved as the answer says, and the charge asked again."""
    before = charged(ask, asked)
    for limit in before.limits:
        after = charged(ask, with_room(asked, limit))
        assert after.cost is not None
        assert before.cost is not None
        assert after.within is not None
        assert limit.saves > 0
        fall = before.cost[0] - after.cost[0]
        assert abs(fall - limit.saves) <= Decimal("0.01") + after.within[0], limit.words


def with_room(asked: Plain, limit: BindingLimit) -> Plain:
    """The question with one limit moved to where the answer moved it."""
    side = "least" if limit.rule in ("fineness", "mass") or " less of " in limit.words else "most"
    return moved(asked, limit.rule, limit.of, side, limit.to)


@LAW
@given(asked=questions(whole=True))
def test_no_whole_lot_is_left_out_unsaid(ask: Ask, asked: Plain) -> None:
    got = charged(ask, asked)
    if not got.possible:
        return
    used, left = {line.id for line in got.recipe}, {one.id: one for one in got.left_out}
    whole = {lot["id"]: lot for lot in asked["lots"] if lot.get("use") == "whole"}
    assert set(left) == set(whole) - used
    assert all(one.words.startswith(f"{one.id} was left out: ") for one in left.values())
    assert (" Left out: " in got.summary) is bool(left)
    for name, one in left.items():
        lots = [{**lot, "use": "must"} if lot["id"] == name else lot for lot in asked["lots"]]
        forced = charged(ask, {**asked, "lots": lots})
        assert forced.possible is (one.more is not None), one.words
        if one.more is not None:
            assert forced.cost is not None
            assert got.cost is not None
            assert forced.within is not None
            dearer = forced.cost[0] - got.cost[0]
            assert abs(dearer - one.more) <= Decimal("0.01") + forced.within[0], one.words


@LAW
@given(asked=questions(whole=True))
def test_what_must_go_in_goes_in_wholly(ask: Ask, asked: Plain) -> None:
    first = asked["lots"][0]
    must = {name: value for name, value in first.items() if name != "most_share"} | {"use": "must"}
    got = charged(ask, {**asked, "lots": [must, *asked["lots"][1:]]})
    if got.possible:
        (line,) = (line for line in got.recipe if line.id == first["id"])
        assert f"{line.mass:.2f} g" == first["mass"]
        assert line.left == 0


@LAW
@given(asked=questions())
def test_a_recipe_is_lawful_as_weighed_and_the_books_close(ask: Ask, asked: Plain) -> None:
    got = charged(ask, asked)
    if not got.possible:
        return
    items = {one["id"]: one for one in items_of(asked)}
    masses, step = {line.id: Fraction(line.mass) for line in got.recipe}, Fraction(asked["step"].removesuffix(" g"))
    total = sum(masses.values())
    assert got.mass is not None
    assert got.elements is not None
    assert total == Fraction(got.mass) == sum(Fraction(part) for part in got.elements.values())
    assert Fraction(asked["target"]["mass"].removesuffix(" g")) <= total
    assert total - Fraction(asked["target"]["mass"].removesuffix(" g")) < step
    for name, mass in masses.items():
        available = items[name]["available"]
        assert mass > 0
        assert available is None or mass <= available
        assert mass % step == 0 or mass == available
        if "most_share" in items[name]:
            assert mass <= Fraction(items[name]["most_share"]) * total
    for symbol, (least, most) in windows_of(asked).items():
        held = sum((mass * items[name]["shares"].get(symbol, 0) for name, mass in masses.items()), Fraction(0))
        assert Fraction(got.elements.get(symbol, Decimal(0))) == held
        assert least * total <= held <= most * total
    if "max_scrap_share" in asked:
        scrap = sum((mass for name, mass in masses.items() if items[name].get("kind") == "scrap"), Fraction(0))
        assert scrap <= Fraction(asked["max_scrap_share"]) * total
    cost = sum((mass * Fraction(items[name]["price"]) for name, mass in masses.items()), Fraction(0))
    assert got.cost is not None
    assert got.least_cost is not None
    assert abs(Fraction(got.cost[0]) - cost) <= Fraction(1, 200)
    assert got.cost[0] >= got.least_cost[0]


@LAW
@given(asked=questions(), more=lots(whole=False), loosen=st.sampled_from(["lot", "fineness", "windows", "scrap"]))
def test_cost_never_rises_with_a_lot_more_or_a_limit_looser(ask: Ask, asked: Plain, more: Plain, loosen: str) -> None:
    before = charged(ask, asked)
    if not before.possible:
        return
    changed = {**asked, "target": dict(asked["target"])}
    if loosen == "lot":
        changed["lots"] = [*asked["lots"], {"id": "one more", **more}]
    elif loosen == "fineness":
        changed["target"]["fineness"] = "300 permille" if windows_of(asked)["Au"][0] > 0 else "0 permille"
    elif loosen == "windows":
        changed["target"].pop("windows", None)
    else:
        changed.pop("max_scrap_share", None)
    after = charged(ask, changed)
    assert after.possible
    assert after.least_cost is not None
    assert before.least_cost is not None
    assert after.least_cost[0] <= before.least_cost[0] + Decimal("0.01")


def moved(asked: Plain, rule: str, of: str, side: str, to: Decimal) -> Plain:
    """The question with one limit moved, as a reader of the answer would move it."""
    target = {**asked["target"], "windows": [dict(one) for one in asked["target"].get("windows", ())]}
    made = {**asked, "target": target, "lots": [dict(lot) for lot in asked["lots"]]}
    by_id = {lot["id"]: lot for lot in made["lots"]}
    if rule == "element":
        window = next(window for window in target["windows"] if window["elements"] == of)
        window[side] = str(to)
    elif rule == "fineness":
        target["fineness"] = f"{to} permille"
    elif rule == "mass":
        target["mass" if side == "least" else "most_mass"] = f"{to} g"
    elif rule == "available":
        by_id[of]["mass"] = f"{to} g"
    elif rule == "lot-share":
        by_id[of][f"{side}_share"] = str(to)
    elif rule == "scrap-share":
        made["max_scrap_share"] = str(to)
    else:
        assert rule == "step"
        made["step"] = f"{to} g"
    return made


def with_changes(asked: Plain, changes: tuple[Change, ...]) -> Plain:
    """The question with every stated change made."""
    for one in changes:
        asked = moved(asked, one.rule, one.of, one.side, one.to)
    return asked


@settings(max_examples=60, derandomize=True, deadline=None)
@given(asked=questions())
def test_the_stated_change_makes_the_impossible_possible(ask: Ask, asked: Plain) -> None:
    got = charged(ask, asked)
    if got.possible:
        return
    assert got.changes
    assert got.recipe == ()
    assert all(one.words in got.summary for one in got.changes)
    changed = with_changes(asked, got.changes)
    assert charged(ask, changed).possible, changed
    assert all(one.by > 0 for one in got.changes)


with (data_folder() / "alloys.csv").open(encoding="utf-8", newline="") as table:
    PARTS = {row["id"]: row["composition"].split() for row in csv.DictReader(table)}
MELTED = {alloy: dict(zip(parts[::2], map(Decimal, parts[1::2]), strict=True)) for alloy, parts in PARTS.items()}
MELTED = {alloy: shares for alloy, shares in MELTED.items() if shares and not {"Cd", "Be"} & set(shares)}


@LAW
@given(
    alloy=st.sampled_from(sorted(MELTED)),
    hundredths=st.integers(100, 9999),
    prices=st.lists(st.integers(0, 12_000), min_size=12, max_size=12),
)
def test_an_alloy_made_of_shelf_metal_alone_is_that_alloy(
    ask: Ask, alloy: str, hundredths: int, prices: list[int]
) -> None:
    """Exactly, where the steps allow it, whatever its elements cost; else each element to within a step."""
    shares = MELTED[alloy]
    shelf = [{"metal": one, "price": f"{price / 100}"} for one, price in zip(shares, prices, strict=False)]
    # To the third decimal of a permille, as catalogue shares are printed, ten kilograms are whole steps.
    target = {"mass": "10 kg", "alloy": alloy}
    exact = charged(ask, {"target": target, "shelf": shelf, "currency": "EUR"})
    assert exact.composition == shares
    small = {"mass": f"{hundredths / 100} g", "alloy": alloy}
    near = charged(ask, {"target": small, "shelf": shelf, "currency": "EUR"})
    assert near.elements is not None
    assert near.mass is not None
    for symbol, share in shares.items():
        short = near.mass * share / 1000 - near.elements.get(symbol, Decimal(0))
        assert abs(short) <= Decimal("0.01")
        assert short <= 0 or symbol != "Au" or not alloy.startswith("gold-")
    unnamed = charged(ask, {"target": target})
    assert (unnamed.composition, unnamed.cost) == (shares, None)
