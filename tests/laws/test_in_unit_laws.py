"""Laws of the unit that was asked in: what was typed is shown so, and every mass of the answer is told in it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import ListOf, Quantity, Record, items
from alloyref.domain.errors import InvalidInput
from alloyref.domain.reference import Reference
from alloyref.domain.units import STONE_UNITS, Dimension
from alloyref.services.calculations import CALCULATIONS
from alloyref.web.schemas.document import parse
from alloyref.web.schemas.load import Loaders
from tests.laws.conftest import Answered, Plain

LAW = settings(max_examples=12, derandomize=True, deadline=None)
numbers = st.integers(1, 90_000).map(lambda whole: f"{Decimal(whole) / 1000:f}")
TRIAL = {"metal": "sterling-silver", "stage": "as-cast"}


def questions(mass: str) -> dict[str, Plain]:
    """Each calculation that a mass of metal is asked with, asked with this one."""
    return {
        "transfer": {"mass": mass, "from_metal": "sterling-silver", "to_metal": "gold-585-yellow"},
        "contents": {"mass": mass, "metal": "gold-585-yellow"},
        "alter-fineness": {"mass": mass, "fineness": "10 karat", "target": "14 karat"},
        "stock": {"form": "round-wire", "diameter": "1.3 mm", "metal": "sterling-silver", "mass": mass},
        "order": {
            "final_metal": "gold-585-yellow",
            "trial": {**TRIAL, "mass": mass},
            "stones": [{"mass": "0.000001 ct", "kind": "diamond"}],
            "on_hand": [{"metal": "gold-585-yellow", "mass": "0.1 g"}],
            "purchase": {"form": "fine-and-master"},
        },
        "recovery": {"lots": [{"mass": mass, "metal": "gold-585-yellow", "kind": "lemel"}]},
        "charge": {"target": {"mass": mass, "alloy": "sterling-silver"}, "shelf": [{"metal": "Ag"}, {"metal": "Cu"}]},
    }


def quantities(document: Any) -> Iterator[Plain]:
    """Every mass in g in a document."""
    if isinstance(document, list):
        for one in document:
            yield from quantities(one)
    elif isinstance(document, dict):
        if document.get("unit") == "g" and "value" in document:
            yield document
        for inner in document.values():
            yield from quantities(inner)


@pytest.mark.parametrize("name", questions(""))
@LAW
@given(number=numbers, data=st.data())
def test_every_mass_is_told_in_the_unit_of_the_question(
    name: str, number: str, data: st.DataObject, answered: Answered, reference: Reference
) -> None:
    """The same mass, to the digits that both are rounded to; with the same ends."""
    metals = [one for one in reference.units.symbols(Dimension.MASS) if one not in (*STONE_UNITS, "g", "ug", "mg")]
    unit = data.draw(st.sampled_from(metals))
    factor = reference.units.factor(reference.units.find(unit, Dimension.MASS))
    try:
        document = parse(answered(name, questions(f"{number} {unit}")[name]))
    except InvalidInput:
        return  # too much or too little for the question
    # Told in the unit of `to_unit`, or no mass but one for each metre.
    others = ("in_unit", "add_in_unit", "mass_per_metre")
    masses = list(quantities([value for key, value in document["result"].items() if key not in others]))
    assert masses or not document["result"].get("possible", True)
    for mass in masses:
        inside = mass["in_unit"]
        assert inside["unit"] == unit
        for part in ("value", "low", "high"):
            if mass.get(part) is not None:
                # Half a step of each: four decimals in g, and no fewer in the unit.
                off = abs(Fraction(inside[part]) * factor - Fraction(mass[part]))
                assert off <= Fraction("0.00005001") * (1 + factor), (mass, part)


@pytest.mark.parametrize("name", questions(""))
def test_a_mass_in_g_is_told_in_g_only(name: str, answered: Answered) -> None:
    question = {key: value for key, value in questions("8.05 g")[name].items() if key != "stones"}
    document = parse(answered(name, question))
    assert not any("in_unit" in mass for mass in quantities([document["inputs"], document["result"]]))


@LAW
@given(number=numbers, data=st.data())
def test_what_was_typed_is_shown_as_typed(
    number: str, data: st.DataObject, answered: Answered, reference: Reference
) -> None:
    """Read again, it is the mass in g beside it, in every unit."""
    unit = data.draw(st.sampled_from([one for one in reference.units.symbols(Dimension.MASS) if one != "g"]))
    mass = f"{number} {unit}"
    asked = {"final_metal": "fine-gold", "volume": "1 cm3", "stones": [{"mass": mass, "kind": "diamond"}]}
    try:
        shown = parse(answered("order", asked))["inputs"]["stones"][0]["mass"]
    except InvalidInput:
        return  # more stone than the piece has room for
    typed = shown["in_unit"]
    assert (typed["value"], typed["unit"]) == (Decimal(number), unit)
    assert reference.units.to_base(Decimal(typed["value"]), unit, Dimension.MASS) == shown["value"]


@LAW
@given(number=numbers, other=numbers, unit=st.sampled_from(["dwt", "ozt", "tola", "kg"]))
def test_one_changed_counts_or_is_refused_and_never_passed_over(
    number: str, other: str, unit: str, answered: Answered
) -> None:
    question = {"mass": f"{number} {unit}", "metal": "fine-gold"}
    first = json.loads(answered("contents", question))
    if float(number) == float(other):
        return
    changed = json.loads(json.dumps(first["inputs"]))
    changed["mass"]["value"] = float(other)
    meant = json.loads(answered("contents", {**question, "mass": f"{other} g"}))
    assert _or_faults(answered, changed) in (meant, {"/mass/in_unit/value"})
    stale = json.loads(json.dumps(first["inputs"]))
    stale["mass"]["in_unit"]["value"] = float(other)
    assert _or_faults(answered, stale) == {"/mass/in_unit/value"}


def _or_faults(answered: Answered, question: Plain) -> Any:
    """The answer, or the places of what is refused."""
    try:
        return json.loads(answered("contents", question))
    except InvalidInput as refused:
        return {one.pointer for one in refused.issues}


def masses_of(type_: type, mass: str) -> Iterator[tuple[tuple[str, ...], Quantity, Plain]]:
    """Every declared mass of an input, with the way to it, and the input that has this mass there and no more."""
    for one in items(type_).values():
        if isinstance(one.kind, Quantity) and one.kind.dimension is Dimension.MASS:
            yield (one.name,), one.kind, {one.name: mass}
        elif isinstance(one.kind, (Record, ListOf)):
            record = one.kind.record if isinstance(one.kind, ListOf) else one.kind
            for way, kind, data in masses_of(record.type, mass):
                yield (one.name, *way), kind, {one.name: [data] if isinstance(one.kind, ListOf) else data}


@pytest.mark.parametrize("name", CALCULATIONS)
@pytest.mark.parametrize("unit", STONE_UNITS)
def test_carats_weigh_stones_and_no_metal(name: str, unit: str, reference: Reference) -> None:
    """Whatever is no stone, nor what is taken off with the stones, is refused in carats and points."""
    loaders, inputs = Loaders(reference), CALCULATIONS[name].inputs
    for way, kind, data in masses_of(inputs, f"5.92 {unit}"):
        of_stones = bool({"stones", "stones_to_set"} & set(way)) or way[-1] == "other_matter"
        assert kind.stones == of_stones, way
        told: set[str] = set()
        try:
            loaders.load(inputs, data)
        except InvalidInput as refused:
            told = {one.code for one in refused.issues if one.pointer.endswith(f"/{way[-1]}")}
        assert ("unit-ambiguous" in told) != of_stones, way
