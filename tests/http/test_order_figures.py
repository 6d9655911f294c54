"""Orders with an impossible figure or a wrong type: refused in its place, however absurd."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Case = tuple[str, dict[str, Any], str, str, str | None]
pytestmark = pytest.mark.usefixtures("no_new_fault")
GOLD = {"composition": {"Au": 750, "Ag": 125, "Cu": 125}}
EUR = {"metal": "Au", "price": "104.50", "per": "g", "currency": "EUR"}
# What it is, what is changed in a sound order (`...` takes a field away), and then the pointer, the code and
# a suggestion that the answer must hold.
MAGNITUDES: list[Case] = [
    ("negative mass", {"/trial/mass": "-6.31 g"}, "/trial/mass", "out-of-range", None),
    ("zero mass", {"/trial/mass": "0 g"}, "/trial/mass", "out-of-range", None),
    ("minus zero mass", {"/trial/mass": {"value": -0.0, "unit": "g"}}, "/trial/mass", "out-of-range", None),
    ("two tonnes", {"/trial/mass": "2000 kg"}, "/trial/mass", "out-of-range", None),
    ("a speck", {"/trial/mass": "0.0000000001 g"}, "", "too-small", None),
    ("1e30", {"/trial/mass": "1e30 g"}, "/trial/mass", "out-of-range", None),
    ("1e31", {"/trial/mass": "1e31 g"}, "/trial/mass", "number-out-of-range", None),
    ("1e400", {"/trial/mass": "1e400 g"}, "/trial/mass", "number-out-of-range", None),
    (
        "1e400 apart",
        {"/trial/mass": {"value": "1e400", "unit": "g"}},
        "/trial/mass/value",
        "number-out-of-range",
        None,
    ),
    ("1e-300", {"/trial/mass": "1e-300 g"}, "", "too-small", None),
    ("1e-400", {"/trial/mass": "1e-400 g"}, "/trial/mass", "number-out-of-range", None),
    ("1e1000", {"/trial/mass": {"value": "1e1000", "unit": "g"}}, "/trial/mass/value", "not-a-number", None),
    (
        "1e300 as a number",
        {"/trial/mass": {"value": 1e300, "unit": "g"}},
        "/trial/mass/value",
        "number-out-of-range",
        None,
    ),
    (
        "70 digits",
        {"/trial/mass": {"value": "1." + "3" * 69, "unit": "g"}},
        "/trial/mass/value",
        "number-too-long",
        None,
    ),
    ("70 digits in a string", {"/trial/mass": "1." + "3" * 69 + " g"}, "/trial/mass", "number-too-long", None),
    ("NaN as text", {"/trial/mass": {"value": "NaN", "unit": "g"}}, "/trial/mass/value", "not-a-number", None),
    ("Infinity as text", {"/trial/mass": "Infinity g"}, "/trial/mass", "not-a-quantity", None),
    ("underscores", {"/pieces": "1_000"}, "/pieces", "not-a-number", None),
    ("other digits", {"/pieces": "٣"}, "/pieces", "not-a-number", None),
    ("zero density", {"/final_metal": {**GOLD, "density": "0 g/cm3"}}, "/final_metal/density", "out-of-range", None),
    (
        "negative density",
        {"/final_metal": {**GOLD, "density": "-15 g/cm3"}},
        "/final_metal/density",
        "out-of-range",
        None,
    ),
    (
        "impossible density",
        {"/final_metal": {**GOLD, "density": "155 g/cm3"}},
        "/final_metal/density",
        "out-of-range",
        None,
    ),
    ("no pieces", {"/pieces": 0}, "/pieces", "out-of-range", None),
    ("half a piece", {"/pieces": 1.5}, "/pieces", "not-whole", None),
    ("too many pieces", {"/pieces": 10_001}, "/pieces", "out-of-range", None),
    ("all is lost", {"/allowances": {"melt_loss": 1}}, "/allowances/melt_loss", "out-of-range", None),
    (
        "percent for a share",
        {"/allowances": {"finishing_loss": 10}},
        "/allowances/finishing_loss",
        "out-of-range",
        None,
    ),
    ("negative share", {"/allowances": {"melt_loss": -0.01}}, "/allowances/melt_loss", "out-of-range", None),
    ("no step", {"/purchase": {"increment": "0 g"}}, "/purchase/increment", "out-of-range", None),
    ("negative price", {"/prices": [{**EUR, "price": -1}]}, "/prices/0/price", "out-of-range", None),
    (
        "sure beyond doubt",
        {"/spares": {"success_rate": 0.5, "confidence": 1}},
        "/spares/confidence",
        "out-of-range",
        None,
    ),
    ("less than hardly ever", {"/spares": {"success_rate": "1e-17"}}, "/spares/success_rate", "out-of-range", None),
    (
        "a counterweight at the axle",
        {"/casting": {"method": "centrifugal", "arm_radius": "20 cm", "counterweight_radius": "1e-60 mm"}},
        "/casting/counterweight_radius",
        "out-of-range",
        None,
    ),
    (
        "a price per microgram",
        {"/prices": [{"metal": "Au", "price": 10**6, "per": "ug", "currency": "EUR"}]},
        "/prices/0/price",
        "out-of-range",
        None,
    ),
    (
        "a day that is none",
        {"/prices": [{"metal": "Au", "price": 1, "currency": "EUR", "date": "2026-02-31"}]},
        "/prices/0/date",
        "wrong-form",
        None,
    ),
    ("never succeeds", {"/spares": {"success_rate": 0}}, "/spares/success_rate", "out-of-range", None),
    ("hardly ever succeeds", {"/spares": {"success_rate": 0.0001}}, "/spares/success_rate", "no-answer", None),
    ("too many others", {"/others": [{"volume": "1 cm3"}] * 101}, "/others", "too-many", None),
]
TYPES: list[Case] = [
    ("pieces true", {"/pieces": True}, "/pieces", "not-a-number", None),
    ("share false", {"/allowances": {"melt_loss": False}}, "/allowances/melt_loss", "not-a-number", None),
    ("value true", {"/trial/mass": {"value": True, "unit": "g"}}, "/trial/mass/value", "not-a-number", None),
    ("pieces list", {"/pieces": [2]}, "/pieces", "not-a-number", None),
    ("pieces object", {"/pieces": {}}, "/pieces", "not-a-number", None),
    ("name number", {"/name": 7}, "/name", "not-a-string", None),
    ("trial string", {"/trial": "6.31 g"}, "/trial", "not-an-object", None),
    ("trial list", {"/trial": []}, "/trial", "not-an-object", None),
    ("others object", {"/others": {}}, "/others", "not-a-list", None),
    ("others string", {"/others": "pendant"}, "/others", "not-a-list", None),
    ("an other that is a number", {"/others": [3]}, "/others/0", "not-an-object", None),
    ("metal number", {"/final_metal": 585}, "/final_metal", "not-a-metal", None),
    ("metal list", {"/final_metal": ["Au"]}, "/final_metal", "not-a-metal", None),
    ("metal empty object", {"/final_metal": {}}, "/final_metal/composition", "missing", None),
    ("metal empty string", {"/final_metal": ""}, "/final_metal", "unknown-metal", None),
    ("mass list", {"/trial/mass": ["6.31 g"]}, "/trial/mass", "unit-missing", None),
    ("mass true", {"/trial/mass": True}, "/trial/mass", "unit-missing", None),
    ("mass empty string", {"/trial/mass": ""}, "/trial/mass", "not-a-quantity", None),
    ("stage number", {"/trial/stage": 1}, "/trial/stage", "not-an-option", None),
    ("stage list", {"/trial/stage": ["as-cast"]}, "/trial/stage", "not-an-option", None),
    ("kind object", {"/stones": [{"mass": "1 ct", "kind": {}}]}, "/stones/0/kind", "not-an-option", None),
    ("composition list", {"/final_metal": {"composition": [750]}}, "/final_metal/composition", "not-an-object", None),
    ("composition empty", {"/final_metal": {"composition": {}}}, "/final_metal/composition", "not-an-object", None),
    (
        "share true",
        {"/final_metal": {"composition": {"Au": True}}},
        "/final_metal/composition/Au",
        "not-a-number",
        None,
    ),
    (
        "share null",
        {"/final_metal": {"composition": {"Au": None}}},
        "/final_metal/composition/Au",
        "not-a-number",
        None,
    ),
    ("name too long", {"/name": "a" * 121}, "/name", "too-long", None),
    ("name on two lines", {"/name": "reed\nband"}, "/name", "wrong-form", None),
    ("currency in words", {"/prices": [{**EUR, "currency": "euro"}]}, "/prices/0/currency", "wrong-form", None),
    ("date the other way round", {"/prices": [{**EUR, "date": "20.11.2026"}]}, "/prices/0/date", "wrong-form", None),
]


@pytest.mark.parametrize("case", [*MAGNITUDES, *TYPES], ids=lambda case: case[0])
def test_it_is_refused_in_its_place(refused_order: Callable[..., None], case: Case) -> None:
    refused_order(*case[1:])
