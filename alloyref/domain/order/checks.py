"""What an order should be looked at again for: several ways in that disagree, a mass that no piece has."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from alloyref.domain.calculation import Assumption
from alloyref.domain.estimate import ONE, ZERO
from alloyref.domain.numbers import EXACT, plain, round_to
from alloyref.domain.order.castings import Line, Said
from alloyref.domain.order.results import Check
from alloyref.domain.order.terms import Terms
from alloyref.domain.reference import Reference

MOST_APART = Decimal(5)
"""Percent by which two ways in may differ without a word (common practice, no source)."""
ALIKE = Decimal("0.05")
"""How near a ratio must be to that of two units to look like a unit mistaken."""
PENNYWEIGHT = Decimal("1.55517384")
LARGE, SMALL_CHARGE = "piece-large", "button-fixed"
MOST_SLIPS = 12
"""Decimal places that a point can have slipped: the largest mass taken is a tonne."""


def checks_of(lines: Sequence[Line]) -> tuple[Check, ...]:
    """What each way in says of the pieces that were given in several ways."""
    return tuple(
        Check(line.name, one.way, one is line.said[0], one.as_cast, _percent(line, one))
        for line in lines
        if len(line.said) > 1
        for one in line.said
    )


def warnings_of(lines: Sequence[Line], reference: Reference) -> tuple[str, ...]:
    """What looks wrong in what was typed: never a refusal, for it may be meant."""
    limit = reference.rules[LARGE].figure.value
    apart = [_apart(line, one) for line in lines for one in line.said[1:] if abs(_percent(line, one)) > MOST_APART]
    large = [_large(line, limit) for line in lines]
    return tuple(text for text in (*large, *apart) if text)


def button_rules(lines: Sequence[Line], terms: Terms, reference: Reference) -> tuple[Assumption, ...]:
    """Where sprue and button are a default share of little metal: what else is taught, for the share is then low."""
    fixed = reference.rules[SMALL_CHARGE]
    castings = sum((line.castings_mass for line in lines), ZERO)
    if not terms.added_share or "sprue_share" not in terms.defaults or castings >= fixed.figure.value:
        return ()
    share = reference.rules["button-at-least-pieces"].figure
    small = (
        f"The castings weigh only {plain(round_to(castings, 2))} g, for which the default share of sprue and button "
    )
    return (
        Assumption(
            "button-at-least-pieces", f"{small}is low: at least the weight of the pieces is taught too.", share
        ),
        Assumption("button-fixed", "And so is a button of a fixed mass, whatever the pieces weigh.", fixed.figure),
    )


def _percent(line: Line, one: Said) -> Decimal:
    """How much more a way in says than the one that is used, in percent."""
    return round_to((EXACT.divide(one.exact.value, line.said[0].exact.value) - ONE) * 100, 2)


def _apart(line: Line, one: Said) -> str:
    """In words how two ways in disagree, and what may be behind it."""
    used, percent = line.said[0], _percent(line, one)
    ratio = EXACT.divide(one.exact.value, used.exact.value)
    than = "more" if percent > 0 else "less"
    reasons = "porosity, a stone, sprue left on, g for dwt, another material"
    if any(abs(ratio / unit - ONE) < ALIKE for unit in (PENNYWEIGHT, ONE / PENNYWEIGHT)):
        reasons = "that is about the ratio of g to dwt: look at the units first"
    meet = one.exact.low <= used.exact.high and used.exact.low <= one.exact.high
    ranges = "; their ranges meet" if meet else ""
    return (
        f"{line.name}: the {one.way} says {_grams(one.exact.value)} g as cast, {plain(abs(percent))} % {than} than "
        f"the {_grams(used.exact.value)} g by the {used.way}, which is used{ranges}. Look for the reason ({reasons})."
    )


def _large(line: Line, limit: Decimal) -> str:
    """In words that a single piece is heavier than pieces of jewellery are, and what may have been meant."""
    piece, used = line.piece, line.said[0]
    # Of a trial its own mass is looked at, without sprue and stones; of a pattern or model the final metal's.
    each = EXACT.divide(used.exact.value, used.per_material) if used.way == "trial" else used.exact.value
    if each <= limit:
        return ""
    weighed = piece.trial if used.way == "trial" else piece.pattern if used.way == "pattern" else None
    typed, unit = (weighed.mass, "g") if weighed is not None else (piece.volume or ZERO, "cm3")
    slips = next(slips for slips in range(1, MOST_SLIPS) if each.scaleb(-slips) <= limit)
    meant = plain(typed.scaleb(-slips))
    return (
        f"{line.name}: {_grams(each)} g for one piece is unusual, more than about {plain(limit)} g. Did you mean "
        f"{meant} {unit} in place of {plain(typed)} {unit}, or another unit, or were several weighed together?"
    )


def _grams(mass: Decimal) -> str:
    return plain(round_to(mass, 2))
