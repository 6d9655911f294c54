"""The casting slip: temperatures, investment, bench notes and the load on the arm."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import Assumption
from alloyref.domain.estimate import ZERO, Estimate
from alloyref.domain.metal import DEADLY_FUME, Metal
from alloyref.domain.numbers import EXACT, plain, round_to
from alloyref.domain.order.charge import Charge
from alloyref.domain.order.inputs import Casting
from alloyref.domain.order.results import ArmLoad, CastingSlip
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference

LARGE_PIECE = Decimal(15)
"""From about this mass in g a casting is taken as large, for the flask temperature (common practice, no source)."""
PHOSPHATE = "phosphate"
MUCH_PLATINUM = Decimal(200)
"""Permille of platinum and palladium from which phosphate is always taken (common practice, no source)."""
SMALL_FLASK, LARGE_FLASK = "flask-gold-small", "flask-gold-large"


@dataclass(frozen=True, slots=True)
class Findings:
    """What turns up while a slip is filled in: what stays blank and why, and the trade figures it rests on."""

    blanks: list[str]
    assumed: list[Assumption]


def slip_of(
    metal: Metal, charge: Charge, heaviest: Decimal, casting: Casting, reference: Reference
) -> tuple[CastingSlip, tuple[Assumption, ...]]:
    """The slip for this metal and charge, and the trade figures it rests on. `heaviest` casting in g."""
    found = Findings([], [])
    reason = _not_to_be_cast(metal)
    if reason:
        return _no_slip(metal, charge, casting, reason), ()
    window = _pouring_window(metal, casting, reference, found)
    investment = _investment(metal, window, reference, found)
    flask = _flask_temperature(metal, investment, heaviest, reference, found)
    slip = CastingSlip(
        metal=metal.id or metal.name,
        charge=charge.total,
        method=casting.method,
        solidus=metal.solidus,
        liquidus=metal.liquidus,
        pouring_window=window,
        flask_temperature=flask,
        investment=investment,
        bench_notes=_bench_notes(metal, investment, reference),
        not_available=tuple(found.blanks),
        arm=_arm(charge, casting) if casting.method == "centrifugal" else None,
    )
    return slip, tuple(found.assumed)


def _not_to_be_cast(metal: Metal) -> str:
    """Why a metal gets no pouring instructions; empty if it may be cast."""
    fume = [name for symbol, name in DEADLY_FUME.items() if metal.composition.fineness(symbol)]
    if fume:
        return f"no slip: the metal holds {' and '.join(fume)}, whose fume can kill; do not melt it in a shop."
    if metal.uses and not {"casting", "trial"}.intersection(metal.uses):
        return (
            f"no slip: the catalogue does not list {metal.id} for casting ({', '.join(metal.uses)}); ask its maker."
        )
    return ""


def _bench_notes(metal: Metal, investment: str, reference: Reference) -> tuple[str, ...]:
    """Flux, crucible, quench, and what the catalogue says of the alloy."""
    notes = [
        f"{note.step.capitalize()}: {note.text}" for note in reference.notes_for(metal, investment_token(investment))
    ]
    return (*notes, f"Note: {metal.note}") if metal.note else tuple(notes)


def investment_token(investment: str) -> str:
    """The token that cautions and bench notes know an investment by: its kind, before the first colon."""
    return f"investment:{investment.partition('-')[0]}"


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
        investment="none: not to be cast",
        bench_notes=(),
        not_available=(reason,),
    )


def _pouring_window(metal: Metal, casting: Casting, reference: Reference, found: Findings) -> Estimate | None:
    """Liquidus plus the superheat of the method, in C."""
    if metal.solidus is None:
        found.blanks.append("solidus: none published here for this metal; ask its maker.")
    if metal.liquidus is None:
        blank = "liquidus and pouring window: no liquidus is published here for this metal; ask its maker."
        found.blanks.append(f"{blank} {reference.why_no_melting(metal.composition)}".rstrip())
        return None
    superheat = reference.rules[f"superheat-{casting.method}"].figure
    found.assumed.append(
        Assumption(f"superheat-{casting.method}", f"Superheat above the liquidus, {casting.method}.", superheat)
    )
    liquidus = metal.liquidus
    return Estimate(liquidus.value + superheat.value, liquidus.low + superheat.low, liquidus.high + superheat.high)


def _flask_temperature(
    metal: Metal,
    investment: str,
    heaviest: Decimal,
    reference: Reference,
    found: Findings,
) -> Property | None:
    """The trade's figure for gold or silver in gypsum; nothing is published here for other metals or investments."""
    if metal.base not in ("Au", "Ag") or investment.startswith(PHOSPHATE):
        found.blanks.append(
            "flask temperature: no trade figure is held for this metal; follow the investment's sheet."
        )
        return None
    if metal.base == "Ag":
        rule, text = "flask-silver", "Flask temperature."
    else:
        rule, size = (LARGE_FLASK, "large") if heaviest >= LARGE_PIECE else (SMALL_FLASK, "small")
        text = f"Flask temperature for {size} pieces (heaviest {plain(round_to(heaviest, 2))} g)."
    figure = reference.rules[rule].figure
    found.assumed.append(Assumption(rule, text, figure))
    return figure


def _always_phosphate(metal: Metal) -> bool:
    """Platinum and palladium alloys, and gold with so much of them that it melts as they do."""
    platinum = metal.composition.fineness("Pt") + metal.composition.fineness("Pd")
    return metal.base in ("Pt", "Pd") or platinum >= MUCH_PLATINUM


def _investment(metal: Metal, window: Estimate | None, reference: Reference, found: Findings) -> str:
    """Gypsum-bonded where the middle of the pouring window is below its limit, else phosphate-bonded."""
    limit = reference.rules["gypsum-limit"].figure
    if _always_phosphate(metal):
        return f"{PHOSPHATE}-bonded: always for platinum and palladium alloys"
    found.assumed.append(Assumption("gypsum-limit", "Metal temperature a gypsum-bonded investment bears.", limit))
    low, high = plain(limit.low), plain(limit.high)
    if window is None:
        return f"not known without a liquidus: gypsum-bonded only if the metal is poured below {low} C"
    if window.high <= limit.low:
        return f"gypsum-bonded: the whole pouring window lies below {low} C"
    if window.value <= limit.low:
        return f"gypsum-bonded: do not pour above {low} C, though the top of the window reaches past it"
    if window.value <= limit.high:
        return (
            f"borderline: the middle of the pouring window lies above {low} C, where gypsum begins to break down; "
            f"{PHOSPHATE}-bonded is the safe choice, gypsum-bonded never above {high} C"
        )
    return f"{PHOSPHATE}-bonded: the metal is poured above {high} C, where gypsum breaks down"


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
