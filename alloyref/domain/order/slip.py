"""The casting slip: temperatures, investment, bench notes and the load on the arm."""

from __future__ import annotations

import re
from decimal import Decimal

from alloyref.domain.calculation import Assumption
from alloyref.domain.estimate import ZERO
from alloyref.domain.metal import DEADLY_FUME, Metal
from alloyref.domain.numbers import EXACT, round_to
from alloyref.domain.order.charge import Charge
from alloyref.domain.order.heat import Findings, flask_temperature, investment_for, is_plain, pouring_of
from alloyref.domain.order.inputs import Casting
from alloyref.domain.order.results import ArmLoad, CastingSlip
from alloyref.domain.reference import Reference

NOT_CAST = "none: not to be cast"
CAST_AS = {"casting", "trial"}
"""Uses of a catalogue alloy that tell that it is cast."""


def slip_of(
    metal: Metal, charge: Charge, heaviest: Decimal, casting: Casting, reference: Reference
) -> tuple[CastingSlip, tuple[Assumption, ...]]:
    """The slip for this metal and charge, and the trade figures it rests on. `heaviest` casting in g."""
    found = Findings([], [])
    reason = _not_to_be_cast(metal, reference)
    if reason:
        return _no_slip(metal, charge, casting, reason), ()
    pouring = pouring_of(metal, casting.method, reference, found)
    investment = investment_for(metal, pouring, reference, found)
    flask = flask_temperature(metal, investment, heaviest, reference, found)
    slip = CastingSlip(
        metal=metal.id or metal.name,
        charge=charge.total,
        method=casting.method,
        solidus=metal.solidus,
        liquidus=metal.liquidus,
        pouring_window=pouring.window if pouring else None,
        flask_temperature=flask,
        investment=investment,
        bench_notes=_bench_notes(metal, investment, reference),
        not_available=tuple(found.blanks),
        arm=_arm(charge, casting) if casting.method == "centrifugal" else None,
    )
    return slip, tuple(found.assumed)


def _not_to_be_cast(metal: Metal, reference: Reference) -> str:
    """Why a metal gets no pouring instructions, told by what it is made of; empty if it may be cast."""
    fume = [name for symbol, name in DEADLY_FUME.items() if metal.may_contain(symbol)]
    if fume and metal.is_trade_name:
        return f"no slip: an alloy of this name may hold {' and '.join(fume)}, whose fume can kill: name the alloy."
    if fume:
        return f"no slip: the metal holds {' and '.join(fume)}, whose fume can kill; do not melt it in a shop."
    if metal.may_contain("Pb"):
        return (
            "no slip: the metal holds lead, which poisons by fume and dust and makes gold and silver brittle; "
            "do not melt it in a shop."
        )
    made = reference.alloys_made_of(metal.composition)
    if made and not any(CAST_AS.intersection(alloy.uses) for alloy in made):
        known = " and ".join(f"{alloy.id} ({', '.join(alloy.uses)})" for alloy in made)
        return f"no slip: the catalogue has this composition as {known}, not listed for casting; ask its maker."
    return ""


def _bench_notes(metal: Metal, investment: str, reference: Reference) -> tuple[str, ...]:
    """Flux, crucible, quench, and what the catalogue says of the alloy."""
    tokens = [investment_token(investment)]
    if is_plain(metal, reference):
        tokens.append(f"plain:{metal.base}")
    notes = [f"{note.step.capitalize()}: {note.text}" for note in reference.notes_for(metal, *tokens)]
    return (*notes, f"Note: {metal.note}") if metal.note else tuple(notes)


def investment_token(investment: str) -> str:
    """The token that cautions and bench notes know an investment by: its kind, the word it begins with.

    >>> investment_token("phosphate-bonded: always for platinum"), investment_token("borderline: ...")
    ('investment:phosphate', 'investment:borderline')
    """
    return f"investment:{re.split(r'[^a-z]', investment, maxsplit=1)[0]}"


def _no_slip(metal: Metal, charge: Charge, casting: Casting, reason: str) -> CastingSlip:
    """A slip without pouring instructions, for a metal that is not to be cast."""
    return CastingSlip(
        metal=metal.id or metal.name,
        charge=charge.total,
        method=casting.method,
        solidus=None,
        liquidus=None,
        pouring_window=None,
        flask_temperature=None,
        investment=NOT_CAST,
        bench_notes=(),
        not_available=(reason,),
    )


def _arm(charge: Charge, casting: Casting) -> ArmLoad:
    """The load, and the moment of the flask and of the crucible with the charge, each at its own distance."""
    flask, crucible = casting.flask_mass or ZERO, charge.total + (casting.crucible_mass or ZERO)
    load = flask + crucible
    complete = casting.flask_mass is not None and casting.crucible_mass is not None
    if casting.arm_radius is None:
        return ArmLoad(load, complete)
    inner = casting.crucible_radius if casting.crucible_radius is not None else casting.arm_radius
    moment = flask * casting.arm_radius + crucible * inner
    note = "" if casting.crucible_radius is not None else CRUCIBLE_AT_THE_FLASK
    balance = None
    if casting.counterweight_radius is not None:
        balance = round_to(EXACT.divide(moment, casting.counterweight_radius), 1)
    return ArmLoad(load, complete, round_to(moment / 10, 1), balance, note)


CRUCIBLE_AT_THE_FLASK = (
    "the crucible with the charge is taken to be as far from the axle as the flask: measure it, give crucible_radius"
)
