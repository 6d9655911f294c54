"""Contained metal against printed figures."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from alloyref.domain.contents import CONTENTS
from alloyref.domain.numbers import Rounding, fraction_to_decimal
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension


def test_the_printed_bar_of_401_125_ounces(ask: Callable[..., Any], reference: Reference) -> None:
    # Source: good-delivery-annex-c, worked example: 401.125 oz at 995.8 permille are 399.440 fine oz, rounded down.
    result = ask(CONTENTS, {"mass": "401.125 ozt", "metal": "Au 995.8, Ag 4.2"}).result
    ounces = reference.units.convert(result.gold, "g", "ozt", Dimension.MASS)
    assert fraction_to_decimal(ounces, 3, Rounding.DOWN) == Decimal("399.440")


@pytest.mark.parametrize(
    ("metal", "field", "grams"),
    [
        # Source: definition (permille are thousandths by mass).
        ("Au 750, Ag 125, Cu 125", "gold", "7.5"),
        ("Au 750, Ag 125, Cu 125", "silver", "1.25"),
        ("Au 750, Ag 125, Cu 125", "precious", "8.75"),
        ("Pt 950, Ir 50", "iridium", "0.5"),
        ("Cu", "precious", "0"),
    ],
)
def test_ten_grams_hold_their_share(ask: Callable[..., Any], metal: str, field: str, grams: str) -> None:
    result = ask(CONTENTS, {"mass": "10 g", "metal": metal}).result
    assert getattr(result, field) == Decimal(grams)


@pytest.mark.parametrize(
    ("metal", "status", "source"),
    [("Ag", "calculated", "definition"), ("Au 750, Cu 250", "given", "caller")],
)
def test_the_answer_says_what_the_shares_rest_on(
    ask: Callable[..., Any], metal: str, status: str, source: str
) -> None:
    (basis,) = ask(CONTENTS, {"mass": "10 g", "metal": metal}).assumptions
    assert (basis.basis.status.value, basis.basis.source) == (status, source)


def test_an_alloy_of_the_catalogue_counts_by_its_nominal_composition(
    ask: Callable[..., Any], reference: Reference
) -> None:
    (basis,) = ask(CONTENTS, {"mass": "10 g", "metal": "sterling-silver"}).assumptions
    alloy = reference.alloys["sterling-silver"]
    assert basis.basis.value == alloy.metal.composition.fineness("Ag")
    assert basis.basis.source == alloy.composition_source
    assert "nominal" in basis.text
