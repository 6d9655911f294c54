"""Between which shares each element must lie: from an alloy, from windows given, from what it must be free of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.charge.inputs import ChargeInputs, ChargeTarget
from alloyref.domain.charge.model import Item
from alloyref.domain.composition import THOUSAND
from alloyref.domain.errors import InvalidInput, Issue
from alloyref.domain.fineness import NAMES, PlannedMark, planned_mark
from alloyref.domain.metal import NOT_MELTED, Metal
from alloyref.domain.numbers import EXACT, plain
from alloyref.domain.reference import Reference

ZERO, TOLERANCE = Decimal(0), Decimal(5)


@dataclass(frozen=True, slots=True)
class Span:
    """Least and most of an element in permille, where the input says so, and whether it must not be there at all."""

    least: Decimal
    most: Decimal
    pointer: str
    free: bool = False


def windows_of(target: ChargeTarget, items: Sequence[Item], tolerance: Decimal) -> dict[str, Span]:
    """The window of each element in permille; `InvalidInput` where windows contradict each other or the rest."""
    if all(one is None for one in (target.alloy, target.fineness, target.mark)) and not target.windows:
        detail = "Say what it shall be: an alloy, windows of composition, a fineness or a mark."
        raise InvalidInput.of("missing", detail, "/target/alloy")
    if target.jurisdiction is not None and target.mark is None:
        raise InvalidInput.of("missing", "A jurisdiction belongs to a mark; give the mark too.", "/target/mark")
    windows = _of_alloy(target, items, tolerance) | _given(target)
    for symbol in target.free_of:
        span = windows.get(symbol)
        if span is not None and span.least > 0:
            detail = f"It shall be free of {symbol}, and hold at least {plain(span.least)} permille of it."
            raise InvalidInput.of("contradiction", detail, "/target/free_of")
        windows[symbol] = Span(ZERO, ZERO, "/target/free_of", free=True)
    _check_sum(windows)
    return windows


def _of_alloy(target: ChargeTarget, items: Sequence[Item], wide: Decimal) -> dict[str, Span]:
    """The alloy's shares, wide by the tolerance, but never less of the metal it is marked for; nothing else."""
    alloy = target.alloy
    if alloy is None:
        return {}
    held = [symbol for symbol in NOT_MELTED if alloy.composition.fineness(symbol)]
    if held:
        detail = f"{alloy.name} holds {', '.join(held)}: it is not to be melted in a workshop."
        raise InvalidInput.of("not-melted", detail, "/target/alloy")
    windows = {}
    for symbol, share in alloy.composition.parts:
        least = share if symbol == alloy.base and symbol in NAMES else max(share - wide, ZERO)
        windows[symbol] = Span(least, min(share + wide, THOUSAND), "/target/alloy")
    for symbol in dict.fromkeys(symbol for one in items for symbol in one.metal.composition.elements):
        windows.setdefault(symbol, Span(ZERO, ZERO, "/target/alloy"))
    return windows


def _given(target: ChargeTarget) -> dict[str, Span]:
    windows: dict[str, Span] = {}
    issues = []
    for place, one in enumerate(target.windows):
        pointer = f"/target/windows/{place}"
        least = ZERO if one.least is None else one.least
        most = THOUSAND if one.most is None else one.most
        if one.least is None and one.most is None:
            issues.append(Issue("missing", "A window has a least share, a most, or both.", f"{pointer}/least"))
        if least > most:
            detail = f"The least, {plain(least)}, is above the most, {plain(most)}."
            issues.append(Issue("contradiction", detail, f"{pointer}/least"))
        for symbol in one.elements:
            if symbol in windows:
                issues.append(Issue("duplicate", f"{symbol} has two windows.", f"{pointer}/elements"))
            windows[symbol] = Span(least, most, pointer)
    if issues:
        raise InvalidInput(*issues)
    return windows


def _check_sum(windows: dict[str, Span]) -> None:
    total = sum((span.least for span in windows.values()), ZERO)
    if total > THOUSAND:
        detail = f"The least shares sum to {plain(total)} permille, more than the whole."
        raise InvalidInput.of("contradiction", detail, "/target/windows")


def tolerances(inputs: ChargeInputs, reference: Reference) -> tuple[Decimal, ...]:
    """Half-widths in permille of an alloy's windows, to be tried one after the other until one has a recipe.

    Made of lots, or where something else is asked of it too, an alloy may be off by the tolerance. Made of nothing
    but metal from the shelf it is the alloy itself, as near as steps of the balance come to it.
    """
    target = inputs.target
    if target.tolerance is not None:
        return (target.tolerance,)
    if target.alloy is None or inputs.lots or target.windows or _asks_more(target, target.alloy, reference):
        return (TOLERANCE,)
    step = EXACT.divide(inputs.step * 1000, target.mass)
    return (ZERO, step / 2, step)


def _asks_more(target: ChargeTarget, alloy: Metal, reference: Reference) -> bool:
    """Whether a mark or a fineness is asked for that an alloy does not have."""
    base = target.base or alloy.base
    asked = [] if target.fineness is None else [target.fineness.share]
    if target.mark is not None and base in NAMES:
        pointers = ("/target/mark", "/target/jurisdiction")
        asked.append(planned_mark(base, target.mark, target.jurisdiction, reference, pointers).share)
    return any(share * 1000 > Fraction(alloy.composition.fineness(base)) for share in asked)


def check_fineness(target: ChargeTarget, planned: PlannedMark | None, span: Span, base: str) -> None:
    """Refuse a mark or fineness above what the window of its metal, in permille, allows: it can never be."""
    allowed = f"above the {plain(span.most)} permille of {base} that the windows allow."
    if planned is not None and planned.share * 1000 > span.most:
        raise InvalidInput.of("contradiction", f"The mark is {allowed}", "/target/mark")
    if target.fineness is not None and target.fineness.share * 1000 > span.most:
        raise InvalidInput.of("contradiction", f"The fineness is {allowed}", "/target/fineness")
