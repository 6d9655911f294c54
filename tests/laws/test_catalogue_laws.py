"""Laws of the served catalogue: what was read goes before what is remembered, and figures of one series agree."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

import pytest

from alloyref.domain.errors import NotAvailable
from alloyref.domain.melting import SILVER_COPPER
from alloyref.domain.metal import Alloy, PublishedValue
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference

READ = (Status.STANDARD, Status.MEASURED, Status.HANDBOOK)


def of_kind(alloy: Alloy, name: str) -> list[PublishedValue]:
    """The figures held of one property."""
    return [one for one in alloy.published if one.property == name]


def measured(reference: Reference) -> Iterator[tuple[Alloy, PublishedValue, Property]]:
    """Each density read of an alloy, with the estimate of its composition."""
    for alloy in reference.alloys.values():
        if len(alloy.metal.composition.parts) > 1:
            for one in of_kind(alloy, "density"):
                if one.status in READ:
                    yield alloy, one, reference.estimated_density(alloy.metal.composition)


def test_an_estimate_agrees_with_each_density_that_was_read(reference: Reference) -> None:
    rows = list(measured(reference))
    assert len(rows) >= 40
    for alloy, one, estimate in rows:
        assert estimate.low <= one.value <= estimate.high, (alloy.id, one, estimate)


def test_gold_silver_and_copper_agree_within_six_tenths_of_a_percent(reference: Reference) -> None:
    """A composition typed in and the alloy by its id may not differ by more."""
    for alloy, one, estimate in measured(reference):
        if set(alloy.metal.composition.elements) <= {"Au", "Ag", "Cu"}:
            assert abs(estimate.value / one.value - 1) <= Decimal("0.006"), (alloy.id, one.value, estimate.value)


def test_nothing_remembered_goes_before_a_read_assessment(reference: Reference) -> None:
    """Where the melting model rests on parameters that were read, no remembered melting figure is served."""
    silver = 0
    for alloy in reference.alloys.values():
        try:
            calculated = reference.estimated_melting(alloy.metal.composition)
        except NotAvailable:
            continue
        if calculated[0].source == SILVER_COPPER.source:
            for one, model in zip((alloy.metal.solidus, alloy.metal.liquidus), calculated, strict=True):
                assert one is not None
                assert one.status is not Status.FROM_MEMORY, alloy.id
                assert one.low <= model.value <= one.high, alloy.id
                silver += 1
    assert silver >= 20


def test_a_remembered_density_or_hardness_never_goes_before_one_that_was_read(reference: Reference) -> None:
    for alloy in reference.alloys.values():
        for name, served in (("density", alloy.metal.density), ("hardness", alloy.hardness)):
            if served is not None and served.status is Status.FROM_MEMORY:
                assert not [one for one in of_kind(alloy, name) if one.status is not Status.FROM_MEMORY], alloy.id


def silver_copper(reference: Reference) -> list[Alloy]:
    """The alloys of silver and copper, copper first."""
    found = [one for one in reference.alloys.values() if set(one.metal.composition.elements) <= {"Ag", "Cu"}]
    return sorted(found, key=lambda one: one.metal.composition.fineness("Ag"))


@pytest.mark.parametrize("end", ["solidus", "liquidus"])
def test_silver_and_copper_run_as_the_assessment_does(reference: Reference, end: str) -> None:
    """Of two neighbours the one that melts higher by the assessed diagram is served higher."""
    series = silver_copper(reference)
    assert len(series) >= 18
    place = ("solidus", "liquidus").index(end)
    for first, second in pairwise(series):
        model = [reference.estimated_melting(one.metal.composition)[place].value for one in (first, second)]
        served = [getattr(one.metal, end).value for one in (first, second)]
        if model[0] < model[1]:
            assert served[0] < served[1], (first.id, second.id)
        if model[0] > model[1]:
            assert served[0] > served[1], (first.id, second.id)


def test_platinum_with_more_iridium_melts_higher(reference: Reference) -> None:
    series = [reference.alloys[f"platinum-{fineness}-ir"].metal for fineness in (950, 900, 850, 800)]
    for first, second in pairwise(series):
        for end in ("solidus", "liquidus"):
            assert getattr(first, end).value <= getattr(second, end).value
            assert getattr(first, end).low <= getattr(second, end).high


def test_every_range_holds_every_figure(reference: Reference) -> None:
    """But that of a pure metal, which the element table serves."""
    for alloy in reference.alloys.values():
        metal = alloy.metal
        served = {"density": metal.density, "solidus": metal.solidus, "liquidus": metal.liquidus}
        for name, one in {**served, "hardness": alloy.hardness}.items():
            if len(metal.composition.parts) > 1 or name == "hardness":
                for figure in of_kind(alloy, name):
                    assert one is not None
                    assert one.low <= figure.value <= one.high, (alloy.id, figure)


def test_a_hardness_has_a_width(reference: Reference) -> None:
    found = [one.hardness for one in reference.alloys.values() if one.hardness is not None]
    assert len(found) >= 40
    for one in found:
        off = Decimal("0.1") if one.status in READ else Decimal("0.2")
        assert one.low <= one.value * (1 - off)
        assert one.value * (1 + off) <= one.high


def test_melting_figures_of_hot_alloys_are_wide(reference: Reference) -> None:
    for alloy in reference.alloys.values():
        for one in (alloy.metal.solidus, alloy.metal.liquidus):
            if one is not None and one.value > 1500 and len(alloy.metal.composition.parts) > 1:
                assert min(one.value - one.low, one.high - one.value) >= 30, alloy.id
