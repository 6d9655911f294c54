"""Colour designations: the nominal compositions quoted from ISO 8654:1987, and the karat they must have."""

from __future__ import annotations

from decimal import Decimal

import pytest

from alloyref.domain.metal import KARATS
from alloyref.domain.reference import Reference

NOMINAL = {
    "0N": {"Au": 585, "Ag": 340, "Cu": 75},
    "1N": {"Au": 585, "Ag": 260, "Cu": 155},
    "2N": {"Au": 750, "Ag": 160, "Cu": 90},
    "3N": {"Au": 750, "Ag": 125, "Cu": 125},
    "4N": {"Au": 750, "Ag": 90, "Cu": 160},
    "5N": {"Au": 750, "Ag": 45, "Cu": 205},
}
"""Permille; forum thread on gold colours quoting ISO 8654:1987 (`colour-designation-thread`)."""


def test_nominal_compositions(reference: Reference) -> None:
    shown = {one.designation: one.composition for one in reference.colour_designations}
    assert shown.pop("8N") is None
    assert {name: dict(one.parts) for name, one in shown.items() if one is not None} == NOMINAL


@pytest.mark.parametrize(
    ("designation", "karat"), [*((f"{n}N", 14) for n in (0, 1)), *((f"{n}N", 18) for n in range(2, 6))]
)
def test_the_composition_gives_the_karat_of_the_colour(reference: Reference, designation: str, karat: int) -> None:
    """0N and 1N are 14 karat colours, 2N to 5N 18 karat; 585 is the stamp of 14 karat (583.3 by arithmetic)."""
    (one,) = (one for one in reference.colour_designations if one.designation == designation)
    assert one.composition is not None
    assert abs(one.composition.fineness("Au") * KARATS / 1000 - karat) < Decimal("0.05")
    assert one.fineness.value == one.composition.fineness("Au")


def test_more_copper_is_redder(reference: Reference) -> None:
    copper = [one.composition.fineness("Cu") for one in reference.colour_designations[2:6] if one.composition]
    assert len(copper) == 4
    assert copper == sorted(copper)


def test_an_alloy_called_by_a_designation_is_of_its_composition(reference: Reference) -> None:
    known = {one.designation: one.composition for one in reference.colour_designations}
    called = [
        (alloy.metal.composition, known[alias])
        for alloy in reference.alloys.values()
        for alias in alloy.aliases
        if alias in known
    ]
    assert len(called) >= 5
    assert all(own == nominal for own, nominal in called)
