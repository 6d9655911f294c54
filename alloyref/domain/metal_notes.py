"""What an answer says of its metals: what a trade name leaves open, a given density that looks like a slip."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from decimal import Decimal

from alloyref.domain.calculation import Assumption
from alloyref.domain.errors import NotAvailable
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference

MOST_NAMED = 6
BEYOND = Decimal("0.01")
"""Part by which a given density may lie beyond what is expected before it is questioned (a judgement)."""


def metal_notes(inputs: object, reference: Reference) -> tuple[Assumption, ...]:
    """What each trade name among the inputs leaves open, and each given density that looks like a slip."""
    metals = list(dict.fromkeys(metals_in(inputs)))
    left_open = (_left_open(metal) for metal in metals if metal.is_trade_name)
    questioned = (
        Assumption("density-questioned", text, metal.density)
        for metal in metals
        if (text := density_doubt(metal, reference))
    )
    return (*left_open, *questioned)


def metals_in(inputs: object) -> Iterator[Metal]:
    """Every metal that the inputs of a calculation name, at any depth."""
    if isinstance(inputs, Metal):
        yield inputs
    elif isinstance(inputs, tuple):
        for part in inputs:
            yield from metals_in(part)
    elif is_dataclass(inputs):
        for field in fields(inputs):
            yield from metals_in(getattr(inputs, field.name))


def density_doubt(metal: Metal, reference: Reference) -> str:
    """Why a given density (g/cm3) looks like a slip; empty if it does not, or nothing tells."""
    if metal.density.status is not Status.GIVEN:
        return ""
    expected = _expected(metal, reference)
    if expected is None or expected.low * (1 - BEYOND) <= metal.density.value <= expected.high * (1 + BEYOND):
        return ""
    whose = "the alloys of this name have" if metal.is_trade_name else "its composition lets one expect"
    given, low, high = (plain(round_to(one, 3)) for one in (metal.density.value, expected.low, expected.high))
    return f"The density given for {metal.name}, {given} g/cm3, is not near the {low} to {high} that {whose}."


def _expected(metal: Metal, reference: Reference) -> Property | None:
    if metal.is_trade_name:
        return reference.trade_names[metal.id].density
    try:
        return reference.estimated_density(metal.composition)
    except NotAvailable:
        return None


def _left_open(metal: Metal) -> Assumption:
    if metal.density.status is Status.GIVEN:
        text = f"{metal.name!r} is a trade name; the density is as given, what else it holds is not known."
    else:
        text = (
            f"{metal.name!r} is a trade name, not an alloy: the range covers all that bears it here and what is "
            f"printed for it. An id ({', '.join(metal.members[:MOST_NAMED])}"
            f"{', ...' if len(metal.members) > MOST_NAMED else ''}), or your supplier's own density, narrows it."
        )
    return Assumption("trade-name", text, metal.density)
