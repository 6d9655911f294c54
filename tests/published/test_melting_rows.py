"""Solidus and liquidus of brazing alloys against the printed table, of silver-copper against the eutectic.

AWS A5.8-1981 as printed in Machinery's Handbook, 31st edition, Table 1a, converted there or here from
Fahrenheit to whole degrees: agreement within 5 C.
"""

from __future__ import annotations

import pytest

from alloyref.domain.provenance import Status
from alloyref.domain.reference import Reference

AWS = [
    ("solder-silver-bag-3", 632, 688),
    ("solder-silver-bag-5", 677, 743),
    ("solder-silver-bag-13", 718, 857),
    ("solder-silver-bag-18", 602, 718),
    ("solder-silver-bag-19", 779, 891),
    ("solder-silver-bag-21", 691, 802),
    ("solder-silver-bag-24", 660, 707),
    ("silver-720", 779, 779),  # BAg-8, the eutectic, 1435 F
]
EUTECTIC = 779.0
"""Silver-copper: 779 C (BAg-8, AWS A5.8); 778 C (Roberts-Austen 1900)."""
MELTING = {"Ag": 961.78, "Cu": 1084.62}  # ITS-90


@pytest.mark.parametrize(("alloy", "solidus", "liquidus"), AWS)
def test_the_served_range_is_the_printed_one(reference: Reference, alloy: str, solidus: int, liquidus: int) -> None:
    metal = reference.metal(alloy)
    assert metal.solidus is not None
    assert metal.liquidus is not None
    assert float(metal.solidus.value) == pytest.approx(solidus, abs=5)
    assert float(metal.liquidus.value) == pytest.approx(liquidus, abs=5)
    # The standard was read as a handbook prints it.
    assert {metal.solidus.status, metal.liquidus.status} == {Status.HANDBOOK}


AWS_COMPOSITIONS = [
    ("solder-silver-bag-3", {"Ag": 500, "Cu": 155, "Ni": 30, "Zn": 155, "Cd": 160}),
    ("solder-silver-bag-5", {"Ag": 450, "Cu": 300, "Zn": 250}),
    ("solder-silver-bag-13", {"Ag": 540, "Cu": 400, "Ni": 10, "Zn": 50}),
    ("solder-silver-bag-18", {"Ag": 600, "Cu": 300, "Sn": 100}),
    ("solder-silver-bag-19", {"Ag": 925, "Cu": 73, "Li": 2}),
    ("solder-silver-bag-21", {"Ag": 630, "Cu": 285, "Ni": 25, "Sn": 60}),
    ("solder-silver-bag-24", {"Ag": 500, "Cu": 200, "Ni": 20, "Zn": 280}),
    ("silver-720", {"Ag": 720, "Cu": 280}),
]


@pytest.mark.parametrize(("alloy", "permille"), AWS_COMPOSITIONS)
def test_the_served_composition_is_the_printed_one(
    reference: Reference, alloy: str, permille: dict[str, int]
) -> None:
    assert dict(reference.metal(alloy).composition.parts) == permille


def test_the_eutectic(reference: Reference) -> None:
    """One temperature, not a range, and within 1 C of both measurements."""
    eutectic = reference.metal("silver-720")
    assert eutectic.solidus is not None
    assert eutectic.liquidus is not None
    assert eutectic.solidus.value == eutectic.liquidus.value
    assert abs(float(eutectic.solidus.value) - 778) <= 1


def test_sterling(reference: Reference) -> None:
    """Read in print: liquidus 891 (AWS BAg-19, with 0.2 % lithium; a supplier page), solidus 779 and 788.

    Served are the supplier page's 788 and 891, its labels put in order; the remembered 802 and 893 only widen
    the range. What must hold: the liquidus within 5 C of print, the solidus not below the eutectic, and the
    scatter of print within 25 C of it.
    """
    sterling = reference.metal("sterling-silver")
    assert sterling.solidus is not None
    assert sterling.liquidus is not None
    assert float(sterling.liquidus.value) == pytest.approx(891, abs=5)
    assert float(sterling.liquidus.low) <= 891 <= float(sterling.liquidus.high)
    assert EUTECTIC <= float(sterling.solidus.value) <= EUTECTIC + 25
    assert float(sterling.solidus.low) <= 788 <= float(sterling.solidus.high)
    assert {sterling.solidus.status, sterling.liquidus.status} == {Status.COMMON_PRACTICE}


def test_swapped_labels_are_not_taken_over(reference: Reference) -> None:
    """A supplier page on sterling prints "liquidus 788, solidus 891": nothing served is that way round."""
    for alloy in reference.alloys.values():
        solidus, liquidus = alloy.metal.solidus, alloy.metal.liquidus
        if solidus is not None and liquidus is not None:
            assert solidus.value <= liquidus.value, alloy.id


def test_no_silver_copper_melts_below_the_eutectic_or_above_copper(reference: Reference) -> None:
    """A binary with a eutectic: solidus at or above it, liquidus at or below the higher melting point."""
    checked = 0
    for alloy in reference.alloys.values():
        metal = alloy.metal
        if set(metal.composition.elements) != {"Ag", "Cu"} or metal.solidus is None or metal.liquidus is None:
            continue
        checked += 1
        assert float(metal.solidus.value) >= EUTECTIC - 1, alloy.id
        assert float(metal.liquidus.value) <= max(MELTING.values()), alloy.id
    assert checked >= 5


def test_loebe_of_1908_is_not_served(reference: Reference) -> None:
    """Loebe, Journal der Goldschmiedekunst 1908: 866 C for silver 800, 45 to 50 C above the liquidus."""
    silver = reference.metal("silver-800")
    assert silver.liquidus is not None
    assert float(silver.liquidus.value) < 850
