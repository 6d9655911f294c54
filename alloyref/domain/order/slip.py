"""The casting slip: temperatures, investment, bench notes and the load on the arm."""

from __future__ import annotations

from decimal import Decimal

from alloyref.domain.calculation import Assumption
from alloyref.domain.estimate import ZERO, Estimate
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import EXACT, plain, round_to
from alloyref.domain.order.charge import Charge
from alloyref.domain.order.inputs import Casting
from alloyref.domain.order.results import ArmLoad, CastingSlip
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference

LARGE_PIECE = Decimal(15)
"""From about this mass in g a casting is taken as large, for the flask temperature (common practice, no source)."""
SMALL_FLASK, LARGE_FLASK = "flask-gold-small", "flask-gold-large"


def slip_of(
    metal: Metal, charge: Charge, heaviest: Decimal, casting: Casting, reference: Reference
) -> tuple[CastingSlip, tuple[Assumption, ...]]:
    """The slip for this metal and charge, and the trade figures it rests on. `heaviest` casting in g."""
    blanks: list[str] = []
    assumed: list[Assumption] = []
    window = _pouring_window(metal, casting, reference, blanks, assumed)
    flask = _flask_temperature(metal, heaviest, reference, blanks, assumed)
    slip = CastingSlip(
        metal=metal.id or metal.name,
        charge=charge.total,
        method=casting.method,
        solidus=metal.solidus,
        liquidus=metal.liquidus,
        pouring_window=window,
        flask_temperature=flask,
        investment=_investment(metal, window, reference, assumed),
        bench_notes=tuple(f"{note.step.capitalize()}: {note.text}" for note in reference.notes_for(metal)),
        not_available=tuple(blanks),
        arm=_arm(charge, casting) if casting.method == "centrifugal" else None,
    )
    return slip, tuple(assumed)


def _pouring_window(
    metal: Metal, casting: Casting, reference: Reference, blanks: list[str], assumed: list[Assumption]
) -> Estimate | None:
    """Liquidus plus the superheat of the method, in C."""
    if metal.solidus is None:
        blanks.append("solidus: none published here for this metal; ask its maker.")
    if metal.liquidus is None:
        blanks.append("liquidus and pouring window: no liquidus is published here for this metal; ask its maker.")
        return None
    superheat = reference.rules[f"superheat-{casting.method}"].figure
    assumed.append(
        Assumption(f"superheat-{casting.method}", f"Superheat above the liquidus, {casting.method}.", superheat)
    )
    liquidus = metal.liquidus
    return Estimate(liquidus.value + superheat.value, liquidus.low + superheat.low, liquidus.high + superheat.high)


def _flask_temperature(
    metal: Metal, heaviest: Decimal, reference: Reference, blanks: list[str], assumed: list[Assumption]
) -> Property | None:
    if metal.base == "Au" and not _needs_phosphate(metal):
        rule = LARGE_FLASK if heaviest >= LARGE_PIECE else SMALL_FLASK
    elif metal.base == "Ag":
        rule = "flask-silver"
    else:
        blanks.append("flask temperature: no trade figure is held for this metal; follow the investment's sheet.")
        return None
    figure = reference.rules[rule].figure
    size = "large" if rule == LARGE_FLASK else "small"
    text = (
        "Flask temperature."
        if rule == "flask-silver"
        else f"Flask temperature for {size} pieces (heaviest {plain(round_to(heaviest, 2))} g)."
    )
    assumed.append(Assumption(rule, text, figure))
    return figure


def _needs_phosphate(metal: Metal) -> bool:
    return metal.base in ("Pt", "Pd")


def _investment(metal: Metal, window: Estimate | None, reference: Reference, assumed: list[Assumption]) -> str:
    """Gypsum-bonded up to its limit, phosphate-bonded above it and always for platinum and palladium alloys."""
    limit = reference.rules["gypsum-limit"].figure
    if _needs_phosphate(metal):
        return "phosphate-bonded: always for platinum and palladium alloys"
    assumed.append(Assumption("gypsum-limit", "Metal temperature a gypsum-bonded investment bears.", limit))
    if window is None:
        return f"not known without a liquidus: gypsum-bonded only if the metal is poured below {plain(limit.low)} C"
    if window.low > limit.high:
        return f"phosphate-bonded: the metal is poured above {plain(limit.high)} C, where gypsum breaks down"
    if window.high > limit.low:
        return (
            f"borderline: the pouring window reaches past {plain(limit.low)} C; gypsum-bonded only at its low end, "
            f"never above {plain(limit.high)} C; phosphate-bonded is the safe choice"
        )
    return f"gypsum-bonded: the whole pouring window lies below {plain(limit.low)} C"


def _arm(charge: Charge, casting: Casting) -> ArmLoad:
    load = charge.total + (casting.flask_mass or ZERO) + (casting.crucible_mass or ZERO)
    complete = casting.flask_mass is not None and casting.crucible_mass is not None
    if casting.arm_radius is None:
        return ArmLoad(load, complete)
    moment = round_to(load * casting.arm_radius / 10, 1)
    if casting.counterweight_radius is None:
        return ArmLoad(load, complete, moment)
    counterweight = EXACT.divide(load * casting.arm_radius, casting.counterweight_radius)
    return ArmLoad(load, complete, moment, round_to(counterweight, 1))
