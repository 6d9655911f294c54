"""An estimate where a model has no answer: the rest is answered all the same, and the reason is passed on."""

from __future__ import annotations

import dataclasses
from decimal import Decimal

import pytest

from alloyref.domain.composition import Composition
from alloyref.domain.errors import Issue, NotAvailable
from alloyref.domain.estimate_alloy import EstimateInputs, EstimateResult, estimate
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference

SOLIDUS = Property(Decimal(881), "C", Decimal(871), Decimal(891), Status.CALCULATED, "ideal-mixing")
LIQUIDUS = Property(Decimal(887), "C", Decimal(877), Decimal(897), Status.CALCULATED, "ideal-mixing")
WHY = "Nothing was fitted there."


class Silent(Reference):
    """Reference data whose models have no answer."""

    def estimated_density(self, composition: Composition) -> Property:
        """No density."""
        raise NotAvailable(Issue("density-not-available", WHY))

    def estimated_melting(self, composition: Composition) -> tuple[Property, Property]:
        """No melting range."""
        raise NotAvailable(Issue("melting-not-available", WHY))


class Knowing(Reference):
    """Reference data whose melting model always answers."""

    def estimated_melting(self, composition: Composition) -> tuple[Property, Property]:
        """The same range for every composition."""
        return SOLIDUS, LIQUIDUS


def asked(kind: type[Reference], reference: Reference, shares: dict[str, int], wanted: str) -> EstimateResult:
    """The estimate over one kind of reference data."""
    parts = {field.name: getattr(reference, field.name) for field in dataclasses.fields(Reference)}
    composition = Composition.from_permille({name: Decimal(share) for name, share in shares.items()}, shares)
    outcome = estimate(EstimateInputs(composition, wanted), kind(**parts))
    assert all(one.basis.low <= one.basis.value <= one.basis.high for one in outcome.assumptions)
    result: EstimateResult = outcome.result
    return result


@pytest.mark.parametrize("wanted", ["density", "solidus", "liquidus"])
def test_without_any_model_the_arithmetic_is_still_told(reference: Reference, wanted: str) -> None:
    result = asked(Silent, reference, {"Au": 585, "Ni": 100, "Cu": 315}, wanted)
    assert (result.density, result.solidus, result.liquidus, result.number) == (None, None, None, None)
    assert result.karat is not None
    assert result.karat.value == Decimal("14.04")
    assert {one.name: one.reason for one in result.not_available} == dict.fromkeys(
        ["density", "solidus", "liquidus"], WHY
    )
    assert result.why_none == WHY


def test_a_model_is_passed_on_with_range_and_standing(reference: Reference) -> None:
    result = asked(Knowing, reference, {"Au": 750, "Ag": 125, "Cu": 125}, "liquidus")
    assert (result.solidus, result.liquidus) == (SOLIDUS, LIQUIDUS)
    assert result.number == (Decimal(887), "C")
    assert result.not_available == ()
    assert result.why_none == ""


@pytest.mark.parametrize(
    ("shares", "metal", "fineness", "karat"),
    [
        ({"Ag": 925, "Cu": 75}, "Ag", 925, None),
        ({"Pt": 950, "Ru": 50}, "Pt", 950, None),
        # Below the share that names an alloy the largest precious share is still told.
        ({"Au": 250, "Cu": 750}, "Au", 250, 6),
        ({"Cu": 800, "Zn": 200}, None, None, None),
    ],
)
def test_the_metal_it_is_told_of(
    reference: Reference, shares: dict[str, int], metal: str | None, fineness: int | None, karat: int | None
) -> None:
    result = asked(Reference, reference, shares, "fineness")
    assert result.metal == metal
    assert (result.fineness and result.fineness.value) == fineness
    assert (result.karat and result.karat.value) == karat
    assert bool(result.nearest_marks) == (metal is not None)
