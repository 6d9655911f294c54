"""What every workshop knows of one metal against another, and of karats and marks.

Ratios and multipliers are common practice, no source, unless a source is named.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.purity import PURITY
from alloyref.domain.reference import Reference
from alloyref.domain.transfer import TRANSFER

Ask = Callable[[Calculation, dict[str, Any]], Outcome]

STERLING_TO = [
    ("gold-585-yellow", 1.24, 1.32),
    ("gold-585-yellow-zn", 1.24, 1.32),
    ("gold-583-yellow", 1.24, 1.32),
    ("gold-750-yellow", 1.45, 1.55),
    ("gold-750-yellow-2n", 1.45, 1.55),
    ("platinum-950-ru", 1.9, 2.1),
    ("platinum-950-co", 1.9, 2.1),
    ("platinum-950-ir", 1.9, 2.1),
]


@pytest.mark.parametrize(("metal", "least", "most"), STERLING_TO)
def test_sterling_to_final_metal(ask: Ask, metal: str, least: float, most: float) -> None:
    """Common practice, no source: 14 k yellow about 1.25 to 1.30, 18 k yellow about 1.5, Pt 950 about 2."""
    result = ask(TRANSFER, {"mass": "10 g", "from_metal": "sterling-silver", "to_metal": metal}).result
    assert least <= float(result.ratio.value) <= most
    assert 10 * least <= float(result.mass.value) <= 10 * most
    assert result.ratio.low < result.ratio.value < result.ratio.high


WAX_MULTIPLIERS = [
    ("sterling-silver", "10", "11"),
    ("gold-583-yellow", "13", "13.5"),
    ("gold-750-yellow", "15", "15.6"),
    ("platinum-950-ru", "20", "21.45"),
    ("platinum-950-co", "20", "21.45"),
]
"""Bench forum threads 15741 and 2435, wax of specific gravity 1: common practice."""


@pytest.mark.parametrize(("metal", "least", "most"), WAX_MULTIPLIERS)
def test_wax_multipliers(ask: Ask, metal: str, least: str, most: str) -> None:
    asked = {"pattern": {"mass": "1 g", "density": "1.0 g/cm3"}, "final_metal": metal}
    piece = ask(ORDER, asked).result.piece_mass
    assert Decimal(least) <= piece.value <= Decimal(most)


def test_lighter_wax_means_more_metal(ask: Ask) -> None:
    """Wax of 0.95 for 1.00 raises the metal by 5 percent: one over 0.95."""
    masses = []
    for density in ("1.00", "0.95"):
        pattern = {"mass": "2 g", "density": f"{density} g/cm3"}
        masses.append(ask(ORDER, {"pattern": pattern, "final_metal": "sterling-silver"}).result.piece_mass.value)
    assert float(masses[1] / masses[0]) == pytest.approx(1 / 0.95, rel=1e-5)


# Karats are 24ths by mass (common practice, no source); the printed permille to one decimal.
KARATS = [
    (9, "375"),
    (10, "416.7"),
    (14, "583.3"),
    (15, "625"),
    (18, "750"),
    (21, "875"),
    (22, "916.7"),
    (24, "1000"),
]


@pytest.mark.parametrize(("karat", "printed"), KARATS)
def test_the_karat_table(ask: Ask, karat: int, printed: str) -> None:
    exact = ask(PURITY, {"value": karat, "from": "karat", "to": "permille"}).result.purity[0]
    assert abs(Fraction(exact) - Fraction(karat * 1000, 24)) < Fraction(1, 10**11)
    rounded = ask(PURITY, {"value": karat, "from": "karat", "to": "permille", "decimals": 1}).result.purity[0]
    assert rounded == Decimal(printed)


def test_the_marks_nearest_to_14_karat(ask: Ask) -> None:
    """583.3 by arithmetic lies below the mark 585 (Hallmarking Act 1973 (UK)): it may not carry it."""
    marks = ask(PURITY, {"value": 14, "from": "karat", "to": "permille"}).result.nearest_marks
    below, above = marks
    assert below.fineness <= Fraction(14000, 24) < above.fineness
    assert above.fineness == 585
    assert above.difference == Decimal("-1.667")
    assert "UK" in above.jurisdictions.split(", ")


def test_585_stands_at_its_own_mark(ask: Ask) -> None:
    marks = ask(PURITY, {"value": 585, "from": "permille", "to": "karat"}).result.nearest_marks
    assert (marks[0].fineness, marks[0].difference) == (Decimal(585), 0)


# Hallmarking Act 1973 (UK), Schedule 2 Part I; and the country profile of the Hallmarking Convention.
UK_MARKS = [
    ("gold", {375, 585, 750, 916, 990, 999}),
    ("silver", {800, 925, 958, 999}),
    ("platinum", {850, 900, 950, 999}),
    ("palladium", {500, 950, 999}),
]


@pytest.mark.parametrize(("metal", "finenesses"), UK_MARKS)
def test_the_marks_of_the_uk(reference: Reference, metal: str, finenesses: set[int]) -> None:
    """No minus tolerance: an article must assay in all its parts not less than the standard (s. 4(1))."""
    marks = [one for one in reference.marks if one.jurisdiction == "UK" and one.metal == metal]
    stamped = {int(mark.fineness) for mark in marks if mark.fineness is not None}
    assert stamped == finenesses
    assert {mark.minus_tolerance for mark in marks if mark.fineness is not None} == {Decimal(0)}


@pytest.mark.parametrize(("assay", "mark"), [(588, 585), (584, 375)])
def test_the_finnish_example_of_the_highest_mark(reference: Reference, assay: int, mark: int) -> None:
    """Finnish Safety and Chemicals Agency, fineness requirements: 588 is marked 585, and 584 only 375."""
    known = {
        one.fineness
        for one in reference.marks
        if one.jurisdiction == "Finland" and one.metal == "gold" and one.fineness is not None
    }
    assert max(fineness for fineness in known if fineness <= assay) == mark
