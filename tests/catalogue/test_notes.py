"""A note about one property is served with that property, and with no other."""

from __future__ import annotations

import pytest

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import Dataset, read_dataset
from alloyref.catalogue.text import note_about

NOTE = "page 7; density: 0.302 lb/in3; melting: 1510 to 1780 F; composition: printed sum 99; hardness: wire; drawn"


@pytest.fixture(scope="module")
def data() -> Dataset:
    return read_dataset(data_folder())


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("density", "page 7; 0.302 lb/in3; composition: printed sum 99"),
        ("solidus", "page 7; 1510 to 1780 F; composition: printed sum 99"),
        ("liquidus", "page 7; 1510 to 1780 F; composition: printed sum 99"),
        ("melting_point", "page 7; 1510 to 1780 F; composition: printed sum 99"),
        ("hardness", "page 7; composition: printed sum 99; wire; drawn"),
    ],
)
def test_each_property_takes_its_own_part(name: str, expected: str) -> None:
    assert note_about(NOTE, name) == expected


@pytest.mark.parametrize("plain", ["", "struck coin", "printed as about 12; rounded", "ratio 3:1"])
def test_a_note_about_no_property_goes_with_all(plain: str) -> None:
    assert {note_about(plain, name) for name in ("density", "solidus", "hardness")} == {plain}


def test_of_an_element(data: Dataset) -> None:
    """The note on the density of gold says nothing of its melting point, which is a fixed point of a scale."""
    gold, iridium = data.elements["Au"], data.elements["Ir"]
    assert gold.density.note.startswith("19.32")
    assert gold.melting_point.note == ""
    assert "22.42" in iridium.density.note
    assert "2466" not in iridium.density.note
    assert "2466" in iridium.melting_point.note
    assert "22.42" not in iridium.melting_point.note


def test_of_an_alloy(data: Dataset) -> None:
    """How the hardness was measured says nothing of the melting range printed in the same row."""
    yellow = data.alloys["gold-750-yellow"]
    assert yellow.hardness is not None
    assert yellow.metal.solidus is not None
    assert yellow.hardness.note == "annealed"
    assert yellow.metal.solidus.note == ""
    assert {one.note for one in yellow.published if one.property == "liquidus"} == {""}


def test_no_note_served_names_another_property(data: Dataset) -> None:
    for alloy in data.alloys.values():
        for one in alloy.published:
            for other in ("density", "solidus", "liquidus", "hardness", "melting point"):
                assert f"{other}: " not in one.note, (alloy.id, one)
