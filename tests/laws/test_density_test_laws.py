"""Laws of the density test: how density, doubt and likelihood move with what is weighed."""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import orjson
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.density_test import DENSITY_TEST
from alloyref.domain.errors import NotAvailable
from alloyref.domain.reference import Reference
from alloyref.services.calculations import answer
from alloyref.web.schemas.answer import answer_json
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.write import Writers

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
LAW = settings(max_examples=25, derandomize=True, deadline=None)
masses = st.integers(2_000, 200_000).map(lambda milligrams: Decimal(milligrams) / 1000)
# Of metals from magnesium to platinum, in what they lose in water.
losses = st.integers(47, 500).map(lambda thousandths: Decimal(thousandths) / 1000)
celsius = st.integers(10, 390).map(lambda tenths: f"{tenths / 10} C")


def plain(air: Decimal, lost: Decimal, step: str = "0.001 g", **more: Any) -> dict[str, Any]:
    """One pair of readings, in g."""
    pair = {"in_air": f"{air} g", "in_liquid": f"{air - lost} g"}
    return {"weighings": [pair], "readability": step, "temperature": "20 C", **more}


def width(result: Any) -> Decimal:
    """How wide the range is."""
    found: Decimal = result.density.high - result.density.low
    return found


@LAW
@given(air=masses, share=losses, less=st.integers(1, 99))
def test_heavier_in_water_is_denser(ask: Ask, air: Decimal, share: Decimal, less: int) -> None:
    lost = round(air * share, 4)
    smaller = round(lost * (1 - Decimal(less) / 400), 4)
    assume(smaller < lost and air / smaller < 22)
    lighter, denser = (ask(DENSITY_TEST, plain(air, one)).result for one in (lost, smaller))
    assert denser.density.value > lighter.density.value
    assert denser.volume.value < lighter.volume.value


@LAW
@given(air=masses, share=losses, scale=st.sampled_from([2, 3, 10]))
def test_only_the_ratio_of_the_readings_counts(ask: Ask, air: Decimal, share: Decimal, scale: int) -> None:
    """Everything larger alike, the step of the balance too: same density, same doubt, same candidates."""
    lost = round(air * share, 4)
    one = ask(DENSITY_TEST, plain(air, lost)).result
    other = ask(DENSITY_TEST, plain(air * scale, lost * scale, f"{Decimal('0.001') * scale} g")).result
    for name in ("density", "standard_uncertainty", "coverage_factor", "candidates", "gold"):
        first, second = getattr(one, name), getattr(other, name)
        if isinstance(first, Decimal):
            assert abs(first - second) < Decimal("1e-15")
        elif name == "density":
            assert abs(first.value - second.value) < Decimal("1e-15")
        elif name == "candidates":
            assert [candidate.id for candidate in first] == [candidate.id for candidate in second]
        else:
            assert first == second


@LAW
@given(air=masses, share=losses, scale=st.integers(2, 20))
def test_a_heavier_piece_on_the_same_balance_is_no_less_sure(
    ask: Ask, air: Decimal, share: Decimal, scale: int
) -> None:
    lost = round(air * share, 4)
    one = ask(DENSITY_TEST, plain(air, lost)).result
    assert width(ask(DENSITY_TEST, plain(air * scale, lost * scale)).result) <= width(one)


@LAW
@given(air=masses, share=losses, step=st.integers(1, 40))
def test_a_coarser_balance_never_narrows(ask: Ask, air: Decimal, share: Decimal, step: int) -> None:
    lost = round(air * share, 4)
    fine, coarse = (f"{Decimal(step * twice) / 10_000} g" for twice in (1, 2))
    try:
        wide = ask(DENSITY_TEST, plain(air, lost, coarse)).result
    except NotAvailable:
        return
    narrow = ask(DENSITY_TEST, plain(air, lost, fine)).result
    assert narrow.density.value == wide.density.value
    assert wide.density.low < narrow.density.low < narrow.density.high < wide.density.high
    assert wide.standard_uncertainty > narrow.standard_uncertainty
    assert wide.agreeing >= narrow.agreeing
    if narrow.gold is not None:
        assert wide.gold.fineness_low <= narrow.gold.fineness_low
        assert wide.gold.fineness_high >= narrow.gold.fineness_high


def test_few_candidates_leave_no_less_than_nothing(ask: Ask) -> None:
    """11.4 g that loses 0.575 g in water is near the platinum alloys alone: twelve hold all of the likelihood."""
    weighing = {"in_air": "11.4 g", "in_liquid": "10.825 g"}
    asked = {"weighings": [weighing], "temperature": "20 C", "readability": "0.001 g"}
    result = ask(DENSITY_TEST, asked).result
    assert result.candidates[0].likelihood > Decimal("0.2")
    assert 0 <= result.other_likelihood < Decimal("0.0001")


@LAW
@given(air=masses, share=losses, temperature=celsius)
def test_likelihoods_and_shares_sum_to_one(ask: Ask, air: Decimal, share: Decimal, temperature: str) -> None:
    result = ask(DENSITY_TEST, {**plain(air, round(air * share, 4)), "temperature": temperature}).result
    likelihoods = [one.likelihood for one in result.candidates]
    assert sum(likelihoods) + result.other_likelihood == 1
    assert likelihoods == sorted(likelihoods, reverse=True)
    assert all(one >= 0 for one in likelihoods)
    assert result.other_likelihood >= 0
    assert sum(one.share for one in result.uncertainty_parts) == 1
    combined = sum(one.standard**2 for one in result.uncertainty_parts).sqrt()
    assert abs(combined - result.standard_uncertainty) < Decimal("1e-20")


@LAW
@given(air=masses, share=losses)
def test_the_range_holds_the_value_and_every_karat_that_agrees(ask: Ask, air: Decimal, share: Decimal) -> None:
    result = ask(DENSITY_TEST, plain(air, round(air * share, 4))).result
    assert result.density.low < result.density.value < result.density.high
    assert result.volume.low < result.volume.value < result.volume.high
    if result.gold is None:
        return
    assert 0 <= result.gold.fineness_low <= result.gold.fineness_high <= 1000
    for line in result.gold.karats:
        assert line.density.low < line.density.high
        within = result.gold.fineness_low <= Decimal(line.karat) * 1000 / 24 <= result.gold.fineness_high
        # The field is searched in steps of 0.1 permille, the karats are asked at themselves.
        near = min(abs(Decimal(line.karat) * 1000 / 24 - end) for end in _ends(result.gold)) < Decimal("0.2")
        assert within == line.agrees or near


def _ends(gold: Any) -> tuple[Decimal, Decimal]:
    return gold.fineness_low, gold.fineness_high


@LAW
@given(air=masses, share=losses, wire=st.integers(1, 3000), count=st.integers(1, 4))
def test_a_weighed_wire_and_alike_repeats_change_no_density(
    ask: Ask, air: Decimal, share: Decimal, wire: int, count: int
) -> None:
    lost = round(air * share, 4)
    bare = plain(air, lost)
    hung = Decimal(wire) / 1000
    asked = plain(air, lost - hung, suspension=f"{hung} g")
    assume(lost > hung)
    asked["weighings"] *= count
    one, other = ask(DENSITY_TEST, bare).result, ask(DENSITY_TEST, asked).result
    assert abs(one.density.value - other.density.value) < Decimal("1e-20")
    assert other.standard_uncertainty > one.standard_uncertainty


@LAW
@given(air=masses, share=losses, apart=st.integers(1, 10))
def test_repeats_that_scatter_widen(ask: Ask, air: Decimal, share: Decimal, apart: int) -> None:
    lost, off = round(air * share, 4), Decimal(apart) / 1000
    assume(lost > 3 * off)
    asked = plain(air, lost)
    asked["weighings"] = [
        {"in_air": f"{air} g", "in_liquid": f"{air - lost + sign * off / 10} g"} for sign in (1, -1)
    ]
    try:
        scattered = ask(DENSITY_TEST, asked).result
    except NotAvailable:
        return
    steady = ask(DENSITY_TEST, plain(air, lost)).result
    assert scattered.coverage_factor >= steady.coverage_factor
    assert width(scattered) > width(steady)


def step_told(ask: Ask, *readings: Any) -> tuple[Decimal, str]:
    """The step of the balance that a test without one rests on, in g, and what is said of it."""
    pairs = [dict(zip(("in_air", "in_liquid"), pair, strict=True)) for pair in readings]
    outcome = ask(DENSITY_TEST, {"weighings": pairs, "temperature": "20 C"})
    (told,) = [one for one in outcome.assumptions if one.id == "readability"]
    return told.basis.value, told.text


@LAW
@given(air=st.integers(5_000, 90_000), share=losses, places=st.integers(2, 5), unit=st.sampled_from(["g", "dwt"]))
def test_the_last_digit_that_was_written_tells_the_step(
    ask: Ask, air: int, share: Decimal, places: int, unit: str
) -> None:
    """The doubt is what the same step gives when it is said, and a balance of more digits is no coarser."""
    digits = Decimal(1).scaleb(-places)
    heavy = (Decimal(air) / 1000).quantize(digits)
    hung = (heavy * (1 - share)).quantize(digits)
    pair = {"in_air": f"{heavy} {unit}", "in_liquid": f"{hung} {unit}"}
    asked = {"weighings": [pair], "temperature": "20 C"}
    said = ask(DENSITY_TEST, {**asked, "readability": f"{digits} {unit}"}).result
    assert ask(DENSITY_TEST, asked).result == said
    more = {name: text.replace(f" {unit}", f"0 {unit}") for name, text in pair.items()}
    if places < 5:
        assert width(ask(DENSITY_TEST, {**asked, "weighings": [more]}).result) < width(said)


def test_the_finest_reading_tells_the_step_and_nonsense_none(ask: Ask) -> None:
    usual = Decimal("0.01")
    assert step_told(ask, ("10.0000 g", "9.4834 g"))[0] == Decimal("0.0001")
    assert step_told(ask, ("10.00 g", "9.48 g"))[0] == usual
    # A program leaves noughts off: the reading that has most digits tells.
    number = {"value": 10, "unit": "g"}
    assert step_told(ask, (number, {"value": Decimal("9.4834"), "unit": "g"}))[0] == Decimal("0.0001")
    assert step_told(ask, ("10.0 g", "9.5 g"), ("10.000 g", "9.483 g"))[0] == Decimal("0.001")
    value, text = step_told(ask, ("6.43 dwt", "6.10 dwt"))
    assert (value, "0.01 dwt" in text) == (Decimal("0.0155517384"), True)
    # Worked out, not read: what the balance showed cannot be told.
    assert step_told(ask, ("10.000000000 g", "9.483412345 g"))[0] == usual


def test_whole_grams_are_refused_with_the_way_out(ask: Ask) -> None:
    with pytest.raises(NotAvailable, match=r"taken to be 1 g, by the digits given: say readability"):
        ask(DENSITY_TEST, {"weighings": [{"in_air": "10 g", "in_liquid": "9 g"}], "temperature": "20 C"})


def test_digits_survive_being_sent_back(ask: Ask, reference: Reference) -> None:
    """Also through a program that makes 10.0 of 10.0000."""
    calculation = DENSITY_TEST
    asked = {"weighings": [{"in_air": "10.0000 g", "in_liquid": "9.5000 g"}], "temperature": "20 C"}
    loaders, writers = Loaders(reference), Writers(reference.units)

    def told(data: Any) -> Any:
        found = answer(calculation, loaders.load(calculation.inputs, data), reference)
        return json.loads(orjson.dumps(answer_json(found, writers)))

    first = told(asked)
    assert first["inputs"]["weighings"][0]["in_air"]["in_unit"] == {"value": 10, "unit": "g", "step": 0.0001}
    assert told(first["inputs"]) == first
