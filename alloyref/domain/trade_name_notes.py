"""What an answer says of the trade names among its inputs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass

from alloyref.domain.calculation import Assumption
from alloyref.domain.metal import Metal
from alloyref.domain.provenance import Status

MOST_NAMED = 6


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


def trade_name_assumptions(inputs: object) -> tuple[Assumption, ...]:
    """What each trade name among the inputs leaves open, and what would narrow it."""
    named = {metal.id: metal for metal in metals_in(inputs) if metal.is_trade_name}
    return tuple(_left_open(metal) for metal in named.values())


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
