"""Orders with a field missing, misspelt or in a wrong unit: refused in its place, with what would be right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Case = tuple[str, dict[str, Any], str, str, str | None]
pytestmark = pytest.mark.usefixtures("no_new_fault")
EUR = {"metal": "Au", "price": "104.50", "per": "g", "currency": "EUR"}
# What it is, what is changed in a sound order (`...` takes a field away), and then the pointer, the code and
# a suggestion that the answer must hold.
MISSING: list[Case] = [
    ("no final metal", {"/final_metal": ...}, "/final_metal", "missing", None),
    ("null final metal", {"/final_metal": None}, "/final_metal", "null", None),
    ("no mass", {"/trial/mass": ...}, "/trial/mass", "missing", None),
    ("no trial metal", {"/trial/metal": ...}, "/trial/metal", "missing", None),
    ("empty trial", {"/trial": {}}, "/trial/mass", "missing", None),
    ("no unit", {"/trial/mass": {"value": 6.31}}, "/trial/mass/unit", "missing", None),
    ("no value", {"/trial/mass": {"unit": "g"}}, "/trial/mass/value", "missing", None),
    ("empty quantity", {"/trial/mass": {}}, "/trial/mass/value", "missing", None),
    ("no way in", {"/trial": ...}, "", "one-of", None),
    ("other without a way in", {"/others": [{"name": "pendant"}]}, "/others/0", "one-of", None),
]
MISSPELT: list[Case] = [
    ("misspelt field", {"/peices": 2}, "/peices", "unknown-field", "pieces"),
    ("misspelt nested field", {"/trial/mas": "1 g"}, "/trial/mas", "unknown-field", "mass"),
    (
        "misspelt in a list",
        {"/on_hand": [{"metal": "Au", "mass": "1 g", "knd": "scrap"}]},
        "/on_hand/0/knd",
        "unknown-field",
        "kind",
    ),
    (
        "misspelt quantity field",
        {"/trial/mass": {"value": 1, "unti": "g"}},
        "/trial/mass/unti",
        "unknown-field",
        "unit",
    ),
    ("field with a slash", {"/trial/a~1b": 1}, "/trial/a~1b", "unknown-field", None),
    ("misspelt stage", {"/trial/stage": "ascast"}, "/trial/stage", "not-an-option", "as-cast"),
    (
        "misspelt form",
        {"/purchase": {"form": "fine and master"}},
        "/purchase/form",
        "not-an-option",
        "fine-and-master",
    ),
    ("misspelt method", {"/casting": {"method": "vacum"}}, "/casting/method", "not-an-option", "vacuum"),
    ("misspelt metal", {"/final_metal": "gold-585-yelow"}, "/final_metal", "unknown-metal", "gold-585-yellow"),
    ("misspelt trial metal", {"/trial/metal": "sterling silvr"}, "/trial/metal", "unknown-metal", "sterling-silver"),
    (
        "misspelt element",
        {"/final_metal": {"composition": {"AU": 750, "Ag": 250}}},
        "/final_metal/composition/AU",
        "unknown-element",
        "Au",
    ),
    (
        "misspelt material",
        {"/trial": ..., "/pattern": {"mass": "1 g", "material": "injecton wax"}},
        "/pattern/material",
        "not-an-option",
        "injection-wax",
    ),
    (
        "misspelt stone",
        {"/stones": [{"mass": "0.1 ct", "kind": "dimond"}]},
        "/stones/0/kind",
        "not-an-option",
        "diamond",
    ),
    ("name with a tilde", {"/a~0b": 1}, "/a~0b", "unknown-field", None),
]
UNITS: list[Case] = [
    ("ounce", {"/trial/mass": "1 oz"}, "/trial/mass", "unit-ambiguous", "ozt"),
    ("ounce apart", {"/trial/mass": {"value": 1, "unit": "oz"}}, "/trial/mass/unit", "unit-ambiguous", "oz_av"),
    ("no unit in the string", {"/trial/mass": "6.31"}, "/trial/mass", "unit-missing", "g"),
    ("bare number", {"/trial/mass": 6.31}, "/trial/mass", "unit-missing", "g"),
    ("volume for mass", {"/trial/mass": "6.31 cm3"}, "/trial/mass", "unit-dimension", "g"),
    ("mass for volume", {"/trial": ..., "/volume": "6 g"}, "/volume", "unit-dimension", "cm3"),
    (
        "length for mass, apart",
        {"/trial/mass": {"value": 6, "unit": "mm"}},
        "/trial/mass/unit",
        "unit-dimension",
        "g",
    ),
    ("unknown unit", {"/trial/mass": "6.31 grms"}, "/trial/mass", "unit-unknown", "grams"),
    ("unit that is a number", {"/trial/mass": {"value": 6, "unit": 1}}, "/trial/mass/unit", "not-a-string", None),
    ("unit that is null", {"/trial/mass": {"value": 6, "unit": None}}, "/trial/mass/unit", "not-a-string", None),
    ("price per ounce", {"/prices": [{**EUR, "per": "oz"}]}, "/prices/0/per", "unit-ambiguous", "ozt"),
    ("price per millimetre", {"/prices": [{**EUR, "per": "mm"}]}, "/prices/0/per", "unit-dimension", "g"),
]


@pytest.mark.parametrize("case", [*MISSING, *MISSPELT, *UNITS], ids=lambda case: case[0])
def test_it_is_refused_in_its_place(refused_order: Callable[..., None], case: Case) -> None:
    refused_order(*case[1:])
