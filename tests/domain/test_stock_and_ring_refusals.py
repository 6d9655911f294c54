"""Stock and rings: what is missing, too much, or cannot be is refused where it stands, with what would do."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.errors import InvalidInput
from alloyref.domain.ring import RING
from alloyref.domain.stock import STOCK

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
WIRE = {"form": "round-wire", "metal": "Ag", "diameter": "1 mm", "mass": "10 g"}
TUBE = {"form": "tube", "metal": "Ag", "diameter": "5 mm", "mass": "10 g"}
DISC = {"form": "disc", "metal": "Ag", "diameter": "5 mm", "thickness": "1 mm", "pieces": 3}
SHEET = {"form": "sheet", "metal": "Ag", "width": "50 mm", "gauge": "18", "gauge_system": "AWG", "length": "1 m"}
BAND = {"profile": "flat", "width": "5 mm", "thickness": "1.5 mm", "metal": "Au"}
SIZE = {"size": "7", "system": "US"}
RESIZE = {"action": "resize", **SIZE, "to_size": "8", **BAND}


def without(asked: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in asked.items() if name not in names}


STOCK_REFUSALS: list[tuple[dict[str, Any], str, str]] = [
    (without(WIRE, "diameter"), "/diameter", "missing"),
    (without(SHEET, "gauge", "gauge_system"), "/thickness", "missing"),
    (without(SHEET, "width"), "/width", "missing"),
    ({**WIRE, "width": "2 mm"}, "/width", "not-needed"),
    ({**WIRE, "wall": "0.1 mm"}, "/wall", "not-needed"),
    ({**DISC, "piece_length": "2 mm"}, "/piece_length", "not-needed"),
    ({**without(DISC, "pieces"), "length": "2 mm"}, "/length", "not-needed"),
    ({**without(WIRE, "mass"), "pieces": 2}, "/piece_length", "missing"),
    (without(WIRE, "mass"), "", "missing"),
    ({**WIRE, "length": "1 m"}, "/length", "too-many"),
    ({**WIRE, "pieces": 2, "piece_length": "1 mm"}, "/pieces", "too-many"),
    (TUBE, "/wall", "one-of"),
    ({**TUBE, "wall": "1 mm", "inside_diameter": "3 mm"}, "/wall", "one-of"),
    ({**TUBE, "wall": "2.5 mm"}, "/wall", "too-thick"),
    ({**TUBE, "wall": "9 mm"}, "/wall", "too-thick"),
    ({**TUBE, "inside_diameter": "5 mm"}, "/inside_diameter", "too-wide"),
    (without(SHEET, "gauge_system"), "/gauge_system", "gauge-ambiguous"),
    (without(SHEET, "gauge"), "/gauge", "missing"),
    ({**SHEET, "thickness": "1 mm"}, "/thickness", "too-many"),
    ({**SHEET, "gauge": "57"}, "/gauge", "unknown-gauge"),
    ({**SHEET, "gauge": "7/0"}, "/gauge", "unknown-gauge"),
    ({**TUBE, "wall": "1 mm", "gauge": "18", "gauge_system": "SWG"}, "/gauge", "not-needed"),
    ({**WIRE, "form": "wire"}, "/form", "not-an-option"),
    ({**WIRE, "diameter": "1.3"}, "/diameter", "unit-missing"),
    ({**WIRE, "diameter": "0 mm"}, "/diameter", "out-of-range"),
    ({**SHEET, "gauge": "-3"}, "/gauge", "wrong-form"),
    ({"form": "granules", "metal": "Ag", "diameter": "0.001 mm", "mass": "1 kg"}, "/mass", "out-of-range"),
    ({**without(SHEET, "gauge", "gauge_system"), "thickness": "2 m", "length": "10000 m"}, "/length", "out-of-range"),
]

RING_REFUSALS: list[tuple[dict[str, Any], str, str]] = [
    ({"action": "convert", "size": "N", "system": "US"}, "/size", "not-a-ring-size"),
    ({"action": "convert", "size": "7", "system": "UK"}, "/size", "not-a-ring-size"),
    ({"action": "convert", "size": "7"}, "/system", "missing"),
    ({"action": "convert", "size": "7", "system": "us"}, "/system", "not-an-option"),
    ({"action": "convert", "size": "17.3", "system": "circumference-mm"}, "/size", "out-of-range"),
    ({"action": "convert", "size": "54", "system": "diameter-mm"}, "/size", "out-of-range"),
    ({"action": "convert", **SIZE, "metal": "Au"}, "/metal", "not-needed"),
    ({"action": "convert", **SIZE, "to_size": "8"}, "/to_size", "not-needed"),
    ({"action": "blank", **SIZE}, "/thickness", "missing"),
    ({"action": "blank", **SIZE, "thickness": "1 mm", "profile": "D"}, "/profile", "not-needed"),
    ({"action": "band-mass", **SIZE, **without(BAND, "metal")}, "/metal", "missing"),
    ({"action": "band-mass", **SIZE, **BAND, "allowance": "1 mm"}, "/allowance", "not-needed"),
    ({"action": "band-mass", **SIZE, **BAND, "profile": "D", "thickness": "2.6 mm"}, "/thickness", "too-thick"),
    (without(RESIZE, "to_size"), "/to_size", "missing"),
    (without(RESIZE, "metal"), "/metal", "missing"),
    ({**RESIZE, "to_size": "7"}, "/to_size", "no-change"),
    ({**RESIZE, "to_size": "Q"}, "/to_size", "not-a-ring-size"),
    ({**RESIZE, "method": "cut"}, "/method", "contradiction"),
    ({**RESIZE, "to_size": "6", "method": "insert"}, "/method", "contradiction"),
    ({**RESIZE, "to_size": "6", "method": "stretch"}, "/method", "contradiction"),
    ({**without(RESIZE, "width"), "method": "stretch"}, "/width", "missing"),
]


@pytest.mark.parametrize(
    ("calculation", "asked", "pointer", "code"),
    [*((STOCK, *one) for one in STOCK_REFUSALS), *((RING, *one) for one in RING_REFUSALS)],
)
def test_it_is_refused_where_it_stands(
    ask: Ask, calculation: Calculation, asked: dict[str, Any], pointer: str, code: str
) -> None:
    with pytest.raises(InvalidInput) as refused:
        ask(calculation, asked)
    assert (pointer, code) in [(issue.pointer, issue.code) for issue in refused.value.issues]


def test_an_unsaid_gauge_system_teaches_the_difference(ask: Ask) -> None:
    with pytest.raises(InvalidInput, match=r"1\.024 mm in AWG and 1\.219 mm in SWG"):
        ask(STOCK, without(SHEET, "gauge_system"))


def test_what_was_left_whole_is_answered(ask: Ask) -> None:
    """The bases of the refusals above are sound themselves."""
    for asked in (WIRE, {**TUBE, "wall": "1 mm"}, DISC, SHEET):
        assert ask(STOCK, asked).result.mass.value > 0
    assert ask(RING, RESIZE).result.resize.metal.value > 0


@pytest.mark.parametrize(
    ("asked", "codes"),
    [
        ({**RESIZE, "method": "stretch", "to_size": "7.5"}, ["stones"]),
        ({**RESIZE, "method": "stretch", "to_size": "7.75"}, ["ring-stretch-limit", "stones"]),
        (RESIZE, ["stones"]),
        ({"action": "blank", **SIZE, "thickness": "1 mm", "width": "5.9 mm"}, []),
        ({"action": "blank", **SIZE, "thickness": "1 mm", "width": "6 mm"}, ["ring-wide-band"]),
        ({"action": "blank", **SIZE, "thickness": "1 mm", "width": "6 mm", "allowance": "0 mm"}, []),
        ({"action": "convert", "size": "17", "system": "US"}, ["beyond-table"]),
        ({"action": "convert", "size": "16", "system": "US"}, []),
    ],
)
def test_what_is_to_be_minded(ask: Ask, asked: dict[str, Any], codes: list[str]) -> None:
    warnings = ask(RING, asked).result.warnings
    assert [one.code for one in warnings] == codes
    assert all(one.status == "common-practice" or one.code == "beyond-table" for one in warnings)


def test_soldering_brings_its_cautions(ask: Ask) -> None:
    soldered = {one.id for one in ask(RING, RESIZE).cautions}
    assert {"torch", "flux-fume", "acid-order", "pickle-steel", "ventilation"} <= soldered
    stretched = {one.id for one in ask(RING, {**RESIZE, "method": "stretch"}).cautions}
    assert not stretched & {"torch", "flux-fume"}
    nickel = {**RESIZE, "metal": {"composition": {"Au": 750, "Ni": 150, "Cu": 100}}}
    assert "nickel-skin" in {one.id for one in ask(RING, nickel).cautions}
