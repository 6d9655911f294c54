"""Laws of amounts: steps are bought as they are needed, ranges hold what was left open, ways in are compared."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.order.results import OrderResult
from alloyref.domain.reference import Reference
from alloyref.domain.units import STONE_UNITS, Dimension, Units

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Orders = st.SearchStrategy[dict[str, Any]]
LAW = settings(max_examples=100, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
NOTHING_LOST = {"sprue_share": 0, "melt_loss": 0, "finishing_loss": 0}
SILVER = "sterling-silver"
STEPS = st.sampled_from(["0.01", "0.05", "0.1", "0.25", "0.3", "0.5", "1", "2.5", "5"])
LEAST_STEP = Fraction(1, 10_000)


def in_grams(units: Units, text: str) -> Fraction:
    """A mass in text, in g."""
    number, unit = text.split()
    return units.convert(Fraction(number), unit, "g", Dimension.MASS)


@st.composite
def steps(draw: st.DrawFn, units: Units) -> tuple[str, str]:
    """A step that a supplier may sell by, as number and unit."""
    weighing_metal = [symbol for symbol in units.symbols(Dimension.MASS) if symbol not in STONE_UNITS]
    number, unit = draw(STEPS), draw(st.sampled_from(weighing_metal))
    assume(LEAST_STEP <= in_grams(units, f"{number} {unit}") <= 1000)
    return number, unit


@LAW
@given(st.data())
def test_so_many_steps_needed_are_so_many_bought(ask: Ask, units: Units, data: st.DataObject) -> None:
    """In any unit, whatever the pieces and the sprue that make up the need, and less what is on hand."""
    number, unit = data.draw(steps(units))
    count, pieces, share = (data.draw(st.integers(*ends)) for ends in ((1, 300), (1, 30), (0, 2)))
    on_hand = data.draw(st.integers(0, count * (1 + share)))
    weighed = f"{Decimal(number) * count} {unit}"
    lot = {"metal": SILVER, "mass": f"{Decimal(number) * on_hand} {unit}", "kind": "fresh"}
    asked = {
        "trial": {"metal": SILVER, "mass": weighed, "pieces_weighed": pieces},
        "final_metal": SILVER,
        "pieces": pieces,
        "allowances": {**NOTHING_LOST, "sprue_share": share},
        "on_hand": [lot] if on_hand else [],
        "purchase": {"increment": f"{number} {unit}"},
    }
    result: OrderResult = ask(ORDER, asked).result
    expected = (count * (1 + share) - on_hand) * in_grams(units, f"{number} {unit}")
    assert abs(Fraction(result.to_buy.mass.value) - expected) < Fraction(1, 10**9)


@pytest.mark.parametrize(
    ("mass", "step"), [*((f"{count} dwt", "1 dwt") for count in (1, 4, 5, 8, 9, 20, 100)), ("2.0 ozt", "0.1 ozt")]
)
def test_what_is_a_whole_number_of_steps_buys_no_step_more(ask: Ask, units: Units, mass: str, step: str) -> None:
    asked = {"trial": {"metal": SILVER, "mass": mass}, "final_metal": SILVER, "allowances": NOTHING_LOST}
    result: OrderResult = ask(ORDER, {**asked, "purchase": {"increment": step}}).result
    assert Fraction(result.to_buy.mass.value) == in_grams(units, mass)


@LAW
@given(st.data())
def test_never_below_the_need_nor_a_whole_step_above(ask: Ask, units: Units, data: st.DataObject) -> None:
    number, unit = data.draw(steps(units))
    mass = data.draw(st.integers(1, 5_000_000))
    share, loss, safety = (data.draw(st.integers(0, most)) for most in (2000, 400, 300))
    shares = {"sprue_share": share, "melt_loss": loss, "safety": safety}
    asked = {
        "trial": {"metal": SILVER, "mass": f"{mass / 10_000:.4f} g"},
        "final_metal": SILVER,
        "allowances": {name: f"{one / 1000:.3f}" for name, one in shares.items()},
        "purchase": {"increment": f"{number} {unit}"},
    }
    result: OrderResult = ask(ORDER, asked).result
    poured = Fraction(mass, 10_000) * Fraction(1000 + share, 1000) * Fraction(1000 + safety, 1000)
    exact = poured / Fraction(1000 - loss, 1000)
    over = Fraction(result.to_buy.mass.value) - exact
    assert -Fraction(1, 10**9) <= over < in_grams(units, f"{number} {unit}")
    assert 0 <= Fraction(result.charge.value) - exact < Fraction(1, 10_000)


DEFAULTS = {"sprue_share": ("0.25", "1"), "melt_loss": ("0.005", "0.01"), "finishing_loss": ("0.05", "0.17")}


@LAW
@given(st.data())
def test_a_range_holds_whatever_was_left_open(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    """Who leaves an allowance open may mean any of what is taught: the charge, and the pieces, span all of it."""
    open_ = data.draw(orders)
    open_["final_metal"] = {"composition": {"Au": 750, "Ag": 125, "Cu": 125}}
    for name in (*DEFAULTS, "sprue_mass", "button_mass"):
        open_["allowances"].pop(name, None)
    closed = deepcopy(open_)
    # A trial that was weighed with a sprue of known mass tells the share itself: nothing is left open there.
    known = "sprue_mass" in open_.get("trial", {})
    for name, ends in DEFAULTS.items():
        if known and name == "sprue_share":
            continue
        low, high = (Decimal(end) * 10_000 for end in ends)
        closed["allowances"][name] = f"{data.draw(st.integers(int(low), int(high))) / 10_000:.4f}"
    for one in (closed, *closed["others"]):
        if "density" not in one.get("pattern", {"density": ""}):
            one["pattern"].setdefault("material", data.draw(st.sampled_from(["injection-wax", "castable-resin"])))
    spanned, meant = (ask(ORDER, one).result for one in (open_, closed))
    assert spanned.charge.low <= meant.charge.value <= spanned.charge.high
    for wide, narrow in zip(spanned.lines, meant.lines, strict=True):
        assert wide.piece_mass.low <= narrow.piece_mass.value <= wide.piece_mass.high
        assert wide.finished_mass.low - Decimal("0.0001") <= narrow.finished_mass.value
        assert narrow.finished_mass.value <= wide.finished_mass.high + Decimal("0.0001")


def test_the_ends_of_a_charge_are_those_of_its_defaults(ask: Ask) -> None:
    """A ring of one metal, so that only sprue and button (25 to 100 %) and melt loss (0.5 to 1 %) are in doubt."""
    asked = {"trial": {"metal": "gold-585-yellow", "mass": "6 g"}, "final_metal": "gold-585-yellow"}
    charge = ask(ORDER, asked).result.charge
    for end, exact in (("low", 6 * 1.25 / 0.995), ("value", 6 * 1.5 / 0.99), ("high", 6 * 2 / 0.99)):
        assert float(getattr(charge, end)) == pytest.approx(exact, abs=1e-4)


@LAW
@given(st.data())
def test_to_be_sure_is_what_the_high_end_would_buy(
    ask: Ask, units: Units, orders: Orders, data: st.DataObject
) -> None:
    asked = data.draw(orders)
    asked["on_hand"] = []
    result: OrderResult = ask(ORDER, asked).result
    step = in_grams(units, asked["purchase"]["increment"])
    sure = Fraction(result.to_buy.to_be_sure)
    assert sure == sum(Fraction(one.to_be_sure) for one in result.to_buy.items)
    assert (sure / step).denominator == 1
    assert sure > Fraction(result.charge.high) - Fraction(1, 10_000)
    assert sure >= Fraction(result.to_buy.mass.value)


@LAW
@given(st.integers(4000, 100_000))
def test_a_pattern_of_no_material_spans_wax_and_resin(ask: Ask, reference: Reference, tenths: int) -> None:
    pattern = {"mass": f"{tenths / 10_000:.4f} g"}

    def asked(**material: str) -> Outcome:
        return ask(ORDER, {"pattern": {**pattern, **material}, "final_metal": SILVER})

    outcome = asked()
    spanned = outcome.result.piece_mass
    for material in reference.patterns.values():
        for density in (material.density.low, material.density.value, material.density.high):
            of_it = asked(density=f"{density} g/cm3").result.piece_mass
            assert spanned.low <= of_it.low <= of_it.high <= spanned.high
    (told,) = (one for one in outcome.assumptions if one.id == "pattern-density")
    assert "neither material nor density was said" in told.text
    assert "wax and resin" in told.text


@LAW
@given(st.data(), st.sampled_from(["volume", "pattern"]), st.integers(100, 20_000))
def test_a_second_way_in_is_a_check_and_changes_nothing_else(
    ask: Ask, orders: Orders, data: st.DataObject, way: str, thousandths: int
) -> None:
    asked = data.draw(orders)
    assume("trial" in asked and not asked["stones"])
    for name in ("volume", "pattern"):
        asked.pop(name, None)
    pattern = {"mass": f"{thousandths / 1000:.3f} g", "density": "1 g/cm3"}
    second = pattern if way == "pattern" else f"{thousandths} mm3"
    alone: OrderResult = ask(ORDER, asked).result
    both: OrderResult = ask(ORDER, {**asked, way: second}).result
    assert replace(both, checks=(), warnings=()) == replace(alone, checks=(), warnings=())
    used, check = (one for one in both.checks if one.line == both.lines[0].name)
    assert (used.way, used.used, check.way, check.used) == ("trial", True, way, False)
    assert both.lines[0].way == "trial"
    of_it = ask(ORDER, {**{name: one for name, one in asked.items() if name != "trial"}, way: second}).result
    assert check.piece_mass == of_it.piece_mass
    off = (float(check.piece_mass.value) / float(used.piece_mass.value) - 1) * 100
    assert float(check.difference_percent) == pytest.approx(off, abs=0.02 + abs(off) * 1e-3)
    told = [one for one in both.warnings if f"the {way} says" in one and one not in alone.warnings]
    assert bool(told) == (abs(check.difference_percent) > 5)


@LAW
@given(st.data(), st.integers(1, 500))
def test_stones_still_to_be_set_count_in_the_gross_mass_only(
    ask: Ask, orders: Orders, data: st.DataObject, points: int
) -> None:
    asked = data.draw(orders)
    asked.pop("stones_to_set", None)
    without: OrderResult = ask(ORDER, asked).result
    stone = {"mass": f"{points / 100} ct", "count": 2}
    having: OrderResult = ask(ORDER, {**asked, "stones_to_set": [stone]}).result
    assert having.lines[0].gross_mass == without.lines[0].gross_mass + Decimal(points) / 250
    assert replace(having, lines=()) == replace(without, lines=())
    assert [replace(one, gross_mass=0) for one in having.lines] == [
        replace(one, gross_mass=0) for one in without.lines
    ]


@LAW
@given(st.data(), st.integers(0, 500_000))
def test_a_button_in_the_final_metal_adds_its_own_mass(
    ask: Ask, orders: Orders, data: st.DataObject, tenths: int
) -> None:
    asked = data.draw(orders)
    asked["allowances"] = {"sprue_share": "0.3", "melt_loss": "0.02", "safety": "0.1"}
    without: OrderResult = ask(ORDER, asked).result
    asked["allowances"]["button_mass"] = f"{tenths / 10_000:.4f} g"
    having: OrderResult = ask(ORDER, asked).result
    assert having.piece_mass == without.piece_mass
    more = Decimal(tenths) / 10_000 * Decimal("1.1") / Decimal("0.98")
    for end in ("low", "value", "high"):
        assert abs(getattr(having.charge, end) - getattr(without.charge, end) - more) <= Decimal("0.0002")
    assert having.charge_parts.sprue_and_button >= without.charge_parts.sprue_and_button
