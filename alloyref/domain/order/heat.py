"""How hot to pour a metal, into which investment, and how hot the flask.

All of it follows from what the metal is made of and from its melting range, never from its name, so that a
composition is told the same as the catalogue alloy that is made of it. Where that is not enough, the figure is left
out with the reason.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import Assumption
from alloyref.domain.estimate import ZERO, Estimate
from alloyref.domain.figures import degrees
from alloyref.domain.melting import HARMLESS, TRACE
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference

PHOSPHATE = "phosphate"
MUCH_PLATINUM = Decimal(200)
"""Permille of platinum and palladium from which phosphate is always taken (common practice, no source)."""
PLATINUM_METALS = ("Pt", "Pd", "Rh", "Ir", "Ru")
"""With more than a trace of these a gold or silver is none of those that the superheats were published for."""
TRADE_BASES = ("Au", "Ag")
PLAIN = ("Au", "Ag", "Cu", "Zn")
"""What the golds and silvers are made of that the flask temperatures were published for (common practice, no source).
None of it melts far above 1000 C, and together they melt lower still."""
MUCH_ZINC = Decimal(100)
MUCH_ZINC_WITH_SILVER = Decimal(50)
MUCH_SILVER = Decimal(100)
"""Permille of zinc, less beside much silver, past which a metal may melt in a hot flask (a judgement, by solders)."""
LOWERING = ("Si",)
"""What melts high itself but makes a liquid far below gold, silver and copper (from memory of binary diagrams)."""
LEAST_WINDOW = Decimal(10)
"""Degrees C that a pouring window must span to be of use at the bench (common practice, no source)."""
FAR_BELOW = Decimal(300)
"""A liquidus so many degrees C below the limit of gypsum leaves the investment in no doubt (a judgement)."""
LARGE_PIECE = Decimal(15)
"""From about this mass in g a casting is taken as large, for the flask temperature (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Findings:
    """What turns up while a slip is filled in: what stays blank and why, and the trade figures it rests on."""

    blanks: list[str]
    assumed: list[Assumption]


@dataclass(frozen=True, slots=True)
class Pouring:
    """How hot a metal is poured, in C. `window` has the stated superheat wherever in its range the liquidus lies.

    For the choice of the investment `usual` is what it is poured at, at least, and `most` what it may be poured at.
    """

    window: Estimate | None
    usual: Decimal
    most: Decimal


def is_plain(metal: Metal, reference: Reference) -> bool:
    """Whether a gold or silver is made of gold, silver, copper and zinc, but for traces."""
    return metal.base in TRADE_BASES and not _beside_plain(metal, reference)


def pouring_of(metal: Metal, method: str, reference: Reference, found: Findings) -> Pouring | None:
    """Liquidus plus the superheat of the method; None where no superheat is published for such a metal.

    The window is narrowed by the doubt of the liquidus: at its low end the highest liquidus still has the least
    superheat, at its high end the lowest liquidus has no more than the most. Where nothing is left there is none.
    """
    liquidus = metal.liquidus
    if metal.solidus is None:
        whose = "every alloy of this name" if metal.is_trade_name else "this metal"
        found.blanks.append(f"solidus: none published here for {whose}; ask its maker.")
    if liquidus is None:
        found.blanks.append(_no_liquidus(metal, reference))
        return None
    reason = _why_no_superheat(metal, reference)
    if reason:
        found.blanks.append(f"pouring window: {reason}")
        return None
    superheat = reference.rules[f"superheat-{method}"].figure
    found.assumed.append(Assumption(f"superheat-{method}", f"Superheat above the liquidus, {method}.", superheat))
    low, high = liquidus.high + superheat.low, liquidus.low + superheat.high
    if high - low < LEAST_WINDOW:
        found.blanks.append(_too_uncertain(metal, liquidus, superheat, reference))
        return Pouring(None, low, liquidus.high + superheat.high)
    usual = (low + high) / 2
    gypsum = reference.rules["gypsum-limit"].figure
    limit = gypsum.low if usual <= gypsum.low else gypsum.high
    if usual <= limit < high and limit - low >= LEAST_WINDOW:
        high = limit  # gypsum is told for it, which bears no more
    return Pouring(Estimate((low + high) / 2, low, high), min(usual, high), liquidus.low + superheat.high)


def investment_for(metal: Metal, pouring: Pouring | None, reference: Reference, found: Findings) -> str:
    """Gypsum-bonded where the metal is poured below the limit of gypsum, else phosphate-bonded, and why.

    Begins with the kind of investment. Where the liquidus is not known, what the metal holds decides.
    """
    limit = reference.rules["gypsum-limit"].figure
    if _always_phosphate(metal):
        return f"{PHOSPHATE}-bonded: always for platinum and palladium alloys"
    found.assumed.append(Assumption("gypsum-limit", "Metal temperature a gypsum-bonded investment bears.", limit))
    raising = _raising(metal, limit, reference)
    if raising and (metal.liquidus is None or metal.is_trade_name):
        until, whose = "its liquidus is known", "it holds"
        if metal.is_trade_name:
            until, whose = "one alloy is named", "an alloy of this name may hold"
        return (
            f"{PHOSPHATE}-bonded until {until}: {whose} {raising}, and metal that melts above {degrees(limit.high)} "
            f"raises the melting range; gypsum-bonded only if the supplier has it poured below {degrees(limit.low)}"
        )
    if metal.liquidus is None:
        return f"not known without a liquidus: gypsum-bonded only if the metal is poured below {degrees(limit.low)}"
    if pouring is None:
        return _by_liquidus(metal.liquidus, limit)
    return _by_pouring(pouring, limit)


def flask_temperature(
    metal: Metal, investment: str, heaviest: Decimal, reference: Reference, found: Findings
) -> Property | None:
    """The trade's figure for gold or silver in gypsum, in C; `heaviest` casting in g. None for other metals."""
    reason = _why_no_flask(metal, investment, reference)
    if reason:
        found.blanks.append(f"flask temperature: {reason}")
        return None
    if metal.base == "Ag":
        rule, text = "flask-silver", "Flask temperature, gypsum-bonded investment."
    else:
        size = "large" if heaviest >= LARGE_PIECE else "small"
        shown = plain(round_to(heaviest, 2))
        rule = f"flask-gold-{size}"
        text = f"Flask temperature for {size} pieces (heaviest {shown} g), gypsum-bonded investment."
    figure = reference.rules[rule].figure
    found.assumed.append(Assumption(rule, text, figure))
    return figure


def _above_traces(metal: Metal, counted: Collection[str]) -> tuple[str, ...]:
    """Which of these elements the metal holds, or may hold by its trade name, if in all more than a trace.

    In the order of their symbols: in what order a composition was told makes no difference.
    """
    shares = {symbol: share for symbol, share in metal.composition.parts if symbol in counted}
    perhaps = [symbol for symbol in metal.may_hold if symbol in counted and symbol not in shares]
    return tuple(sorted((*shares, *perhaps))) if perhaps or sum(shares.values(), ZERO) > TRACE else ()


def _beside_plain(metal: Metal, reference: Reference) -> tuple[str, ...]:
    """What it holds beside gold, silver, copper and a little zinc; in any amount what melts far below them."""
    others = (reference.elements.keys() - set(PLAIN)) & HARMLESS
    zinc = {"Zn"} if metal.composition.fineness("Zn") > _most_zinc(metal) else set[str]()
    return tuple(sorted({*_harmful(metal, reference), *_above_traces(metal, others), *zinc}))


def _most_zinc(metal: Metal) -> Decimal:
    return MUCH_ZINC_WITH_SILVER if metal.composition.fineness("Ag") > MUCH_SILVER else MUCH_ZINC


def _harmful(metal: Metal, reference: Reference) -> tuple[str, ...]:
    """What it holds, in any amount, that melts far below gold, silver and copper with them, or makes them crack."""
    others = reference.elements.keys() - set(PLAIN) - HARMLESS
    return tuple(sorted(symbol for symbol in others if metal.may_contain(symbol)))


def _raising(metal: Metal, limit: Property, reference: Reference) -> str:
    """The names of what it holds that melts above all that gypsum bears, and raises its melting range."""
    elements = reference.elements.values()
    high = {one.symbol for one in elements if one.melting_point.low > limit.high} - set(LOWERING)
    return _names(_above_traces(metal, high), reference)


def _names(symbols: Sequence[str], reference: Reference) -> str:
    return " and ".join(reference.elements[symbol].name.lower() for symbol in symbols)


def _no_liquidus(metal: Metal, reference: Reference) -> str:
    """Why there is neither liquidus nor window, and under which id the catalogue has a published one."""
    if metal.is_trade_name:
        return "liquidus and pouring window: several alloys bear this name; name one by its id, or ask the supplier."
    blank = "liquidus and pouring window: no liquidus is published here for this metal; ask its maker."
    known = _better_known(metal, Decimal("Infinity"), reference)
    instead = f"The catalogue has a published one for this composition as {known}." if known else ""
    return " ".join(part for part in (blank, instead, reference.why_no_melting(metal.composition)) if part)


def _better_known(metal: Metal, width: Decimal, reference: Reference) -> str:
    """The ids of the alloys made of the very same, whose liquidus is known to less than a width in C."""
    ends = [(alloy.id, alloy.metal.liquidus) for alloy in reference.alloys_made_of(metal.composition)]
    return " and ".join(id_ for id_, end in ends if end is not None and end.high - end.low < width)


def _why_no_superheat(metal: Metal, reference: Reference) -> str:
    """Why the published superheats do not hold for a metal; empty where they do."""
    held = "the superheats held here are published for gold and silver alloys"
    if metal.base not in TRADE_BASES:
        name = _names([metal.base], reference)
        return f"{held}, and none for {name} alloys; ask the supplier how hot to pour it."
    platinum = _names(_above_traces(metal, PLATINUM_METALS), reference)
    return f"{held} without {platinum}; ask the supplier how hot to pour it." if platinum else ""


def _too_uncertain(metal: Metal, liquidus: Property, superheat: Property, reference: Reference) -> str:
    """Why the doubt of the liquidus leaves no window, and what would narrow it."""
    least, most = plain(superheat.low), plain(superheat.high)
    why, narrowed = "the liquidus is too uncertain", "the supplier's liquidus"
    closer = _better_known(metal, liquidus.high - liquidus.low, reference)
    if metal.is_trade_name:
        why, narrowed = "several alloys bear this name", f"the id of one of them, or {narrowed},"
    elif closer:
        narrowed += f", or that of the same composition as {closer},"
    return (
        f"pouring window: {why}: it may be {degrees(liquidus.low, liquidus.high)}, and no temperature is {least} to "
        f"{most} C above all of that; {narrowed} would narrow it."
    )


def _always_phosphate(metal: Metal) -> bool:
    """Platinum and palladium alloys, and gold with so much of them that it melts as they do."""
    platinum = metal.composition.fineness("Pt") + metal.composition.fineness("Pd")
    return metal.base in ("Pt", "Pd") or platinum >= MUCH_PLATINUM


def _by_pouring(pouring: Pouring, limit: Property) -> str:
    low, high = degrees(limit.low), degrees(limit.high)
    if pouring.most <= limit.low:
        return f"gypsum-bonded: the metal is poured below {low}"
    if pouring.usual <= limit.low:
        return f"gypsum-bonded: do not pour above {low}, though the superheat would allow it"
    if pouring.usual <= limit.high:
        return (
            f"borderline: the metal is usually poured above {low}, where gypsum begins to break down; "
            f"{PHOSPHATE}-bonded is the safe choice, gypsum-bonded never above {high}"
        )
    return f"{PHOSPHATE}-bonded: the metal is poured above {high}, where gypsum breaks down"


def _by_liquidus(liquidus: Property, limit: Property) -> str:
    """Where no superheat is known: the metal is poured above its liquidus, nobody here knows how far."""
    low, molten = degrees(limit.low), degrees(round_to(liquidus.high, 0))
    if liquidus.high < limit.low - FAR_BELOW:
        return f"gypsum-bonded: it is molten at {molten}; how much hotter to pour is for the supplier to say"
    if liquidus.high < limit.low:
        return (
            f"gypsum-bonded only if it is poured below {low}: its liquidus is up to {molten}, and how much hotter to "
            "pour is for the supplier to say"
        )
    return (
        f"{PHOSPHATE}-bonded: it is poured above its liquidus of up to {molten}, and gypsum begins to break down at "
        f"{low}"
    )


def _why_no_flask(metal: Metal, investment: str, reference: Reference) -> str:
    """Why no published flask temperature holds; empty where one does."""
    if investment.startswith(PHOSPHATE):
        return "no trade figure is held for phosphate-bonded investment; follow the investment's sheet."
    if metal.base not in TRADE_BASES:
        return "no trade figure is held for this metal; follow the investment's sheet."
    doubtful = _above_traces(metal, PLATINUM_METALS) or _harmful(metal, reference)
    if metal.liquidus is None:
        doubtful = _beside_plain(metal, reference)
    if doubtful:
        much = f"more than {_most_zinc(metal)} permille of "  # a little zinc is in those alloys too
        names = " and ".join((much if one == "Zn" else "") + _names([one], reference) for one in doubtful)
        return f"the trade figures held are for gold and silver alloys without {names}; ask the supplier."
    return ""
