"""What a lot holds: net metal, fineness low and high, and what is expected to be found."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.composition import LEAST_NAMING_SHARE, PRECIOUS, THOUSAND, Composition
from alloyref.domain.errors import AlloyrefError, InvalidInput, Issue
from alloyref.domain.estimate import ONE, ZERO
from alloyref.domain.mark_name import Mark
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.purity import METALS
from alloyref.domain.recovery.inputs import Scrap, ScrapLot
from alloyref.domain.reference import Reference
from alloyref.domain.typed import as_given

BOOK_DECIMALS = 10
"""A thousandth of a troy ounce is 0.0311034768 g: books kept to this hold it exactly."""
RECOVERY_RULE = {Scrap.LEMEL: "recovery-filings", Scrap.SWEEPS: None}
CLEAN_RULE = "recovery-clean-scrap"
SHORT_RULE = {
    (False, False): "scrap-short-known",
    (False, True): "scrap-short-soldered",
    (True, False): "scrap-short-stamped-gold",
    (True, True): "scrap-short-stamped-gold-soldered",
}
"""How far unassayed scrap may fall short, by whether it is stamped gold and whether it is soldered."""


@dataclass(frozen=True, slots=True)
class Ends:
    """A figure low and high."""

    low: Decimal
    high: Decimal

    @classmethod
    def exact(cls, value: Decimal) -> Ends:
        """A figure that is known."""
        return cls(value, value)

    def times(self, other: Ends) -> Ends:
        """The product, end by end (neither is negative)."""
        return Ends(self.low * other.low, self.high * other.high)

    def plus(self, other: Ends) -> Ends:
        """The sum, end by end: lots of one shop err together."""
        return Ends(self.low + other.low, self.high + other.high)


NOTHING = Ends(ZERO, ZERO)


@dataclass(frozen=True, slots=True)
class Weighed:
    """A lot with what is known of it: masses in g, fineness in permille, recovery as a share."""

    lot: ScrapLot
    name: str
    label: str
    metal: Metal | None
    composition: Composition | None
    deducted: Decimal
    fineness: Mapping[str, Ends]
    assayed: frozenset[str]
    recovery: Ends
    notes: tuple[str, ...]

    @property
    def net(self) -> Decimal:
        """The metal in it, in g."""
        return self.lot.mass - self.deducted

    def contained(self, symbol: str, fineness: Ends | None = None) -> Ends:
        """Fine metal in g, to the books' last decimal; by another fineness (permille) if one settles."""
        held = fineness if fineness is not None else self.fineness.get(symbol, NOTHING)
        return booked(held.times(Ends.exact(self.net / THOUSAND)))

    @property
    def is_karat_scrap(self) -> bool:
        """Whether it is named for its gold."""
        return self.fineness.get("Au", NOTHING).high >= LEAST_NAMING_SHARE


def booked(ends: Ends) -> Ends:
    """Masses brought to the books' last decimal."""
    return Ends(round_to(ends.low, BOOK_DECIMALS), round_to(ends.high, BOOK_DECIMALS))


def weighed(lot: ScrapLot, reference: Reference, pointer: str) -> Weighed:
    """What a lot holds (g, permille).

    An assay is taken with its uncertainty. Where nothing was assayed the nominal fineness, or the mark's, is
    the high end, and the trade's figure for falling short makes the low one. Raises `InvalidInput`, with
    pointers under `pointer`, where nothing says what it is or the deductions leave no metal.
    """
    try:
        label, metal = _taken_for(lot, reference)
        composition = lot.composition if metal is None else metal.composition
        deducted = _deducted(lot)
        fineness = dict(_nominal(lot, metal, composition, reference))
    except AlloyrefError as error:
        raise InvalidInput(*(issue.under(pointer) for issue in error.issues)) from None
    own = lot.assay if lot.assay is not None else lot.their_assay
    width = (lot.uncertainty or ZERO) if lot.assay is not None else ZERO
    for symbol, value in (own or {}).items():
        if symbol in PRECIOUS:
            fineness[symbol] = Ends(max(value - width, ZERO), min(value + width, THOUSAND))
    assayed = frozenset(own or ())
    ordered = {symbol: fineness[symbol] for symbol in PRECIOUS if symbol in fineness}
    notes = (*_notes(lot, deducted, assayed), *_left_open(metal, assayed))
    name = lot.name or lot.kind
    return Weighed(lot, name, label, metal, composition, deducted, ordered, assayed, _recovery(lot, reference), notes)


def _taken_for(lot: ScrapLot, reference: Reference) -> tuple[str, Metal | None]:
    """What to call its metal, and the metal if it is known by name."""
    metal = lot.metal
    if isinstance(metal, str) and lot.composition is None:
        try:
            metal = reference.metal(metal)
        except AlloyrefError as error:
            raise InvalidInput(*(issue.under("/metal") for issue in error.issues)) from None
    if lot.stamp is not None and (metal is not None or lot.composition is not None):
        raise InvalidInput.of("contradiction", "Give the mark it bears or the metal it is, not both.", "/stamp")
    if isinstance(metal, Metal):
        if lot.composition is not None and dict(lot.composition.parts) != dict(metal.composition.parts):
            raise InvalidInput.of("contradiction", f"This is not the composition of {metal.name}.", "/composition")
        return metal.id or metal.name, metal
    if lot.composition is not None:
        return metal or "given composition", None
    if lot.stamp is not None:
        return f"stamped {lot.stamp.text}", None
    if lot.assay is None and lot.their_assay is None and lot.kind != Scrap.SWEEPS:
        raise InvalidInput.of("missing", "Say what it is: a metal, a composition, a stamp or an assay.", "/metal")
    return "by assay" if lot.assay or lot.their_assay else "not known", None


def _deducted(lot: ScrapLot) -> Decimal:
    """Stones and other matter in g."""
    if lot.kind == Scrap.STONES_SET and not lot.stones:
        raise InvalidInput.of("missing", "Scrap with stones set needs its stones: their mass is no metal.", "/stones")
    issues = []
    for name in ("uncertainty", "umpire_assay"):
        if getattr(lot, name) is not None and lot.assay is None:
            issues.append(Issue("missing", f"{name} goes with an assay of your own.", "/assay"))
    if lot.umpire_assay is not None and lot.their_assay is None:
        issues.append(Issue("missing", "An umpire decides between two assays.", "/their_assay"))
    if issues:
        raise InvalidInput(*issues)
    stones = sum((stone.mass * stone.count for stone in lot.stones), ZERO)
    deducted = stones + (lot.other_matter or ZERO)
    if deducted >= lot.mass:
        place = "/stones" if stones else "/other_matter"
        raise InvalidInput.of("contradiction", "What is taken off leaves no metal.", place)
    return deducted


def _nominal(
    lot: ScrapLot, metal: Metal | None, composition: Composition | None, reference: Reference
) -> Iterator[tuple[str, Ends]]:
    """The fineness of what was not assayed, in permille; sweeps go by assay only."""
    if lot.kind == Scrap.SWEEPS:
        return
    if metal is not None and metal.is_trade_name:
        short = _short(False, lot.soldered, reference)
        yield metal.base, Ends(max(metal.fineness - short, ZERO), metal.most_fine or metal.fineness)
        yield from _of_members(metal, short, reference)
    elif composition is not None:
        short = _short(False, lot.soldered, reference)
        for symbol in PRECIOUS:
            share = composition.fineness(symbol)
            if share:
                yield symbol, Ends(max(share - short, ZERO), share)
    elif lot.stamp is not None:
        marked = metal_of(lot.stamp, reference)
        short = _short(marked == "gold", lot.soldered, reference)
        yield METALS[marked], Ends(max(lot.stamp.permille - short, ZERO), lot.stamp.permille)


def _of_members(metal: Metal, short: Decimal, reference: Reference) -> Iterator[tuple[str, Ends]]:
    """What precious metal the alloys of a trade name hold beside the one it is named for, in permille."""
    trade = reference.trade_names[metal.id]
    members = [alloy.metal.composition for alloy in reference.alloys_of(trade)]
    for symbol in PRECIOUS:
        shares = [composition.fineness(symbol) for composition in members]
        if symbol != metal.base and max(shares):
            yield symbol, Ends(max(min(shares) - short, ZERO), max(shares))


def _left_open(metal: Metal | None, assayed: frozenset[str]) -> Iterator[str]:
    if metal is not None and metal.is_trade_name and not assayed:
        yield f"{metal.name} is a trade name: the range covers the alloys that bear it. Its id narrows it."


def _short(stamped_gold: bool, soldered: bool, reference: Reference) -> Decimal:
    return reference.rules[SHORT_RULE[stamped_gold, soldered]].figure.high


def metal_of(mark: Mark, reference: Reference) -> str:
    """Which metal a mark is of; `InvalidInput` where it could be more than one."""
    meant = {row.metal for row in reference.marks if row.kind == "mark" and row.fineness == mark.permille}
    # 750 Pd is struck on gold that palladium whitens: a figure that is another metal's only is not taken.
    if mark.metal and (mark.metal in meant or not meant or mark.is_karat):
        return mark.metal
    if len(meant) != 1 or mark.metal:
        names = sorted(meant) or list(METALS)
        raise InvalidInput.of(
            "missing", "Say of which metal the mark is.", "/stamp", [f"{plain(mark.permille)} {one}" for one in names]
        )
    return meant.pop()


def _recovery(lot: ScrapLot, reference: Reference) -> Ends:
    """The share expected to be found: yours; all of it where the refiner assayed the melt; else the trade's range."""
    if lot.recovery is not None:
        return Ends.exact(lot.recovery)
    rule = recovery_rule(lot)
    if rule is None:
        return Ends.exact(ONE)
    figure = reference.rules[rule].figure
    return Ends(figure.low, figure.high)


def recovery_rule(lot: ScrapLot) -> str | None:
    """The trade rule that the expected recovery is taken from, if one is."""
    if lot.recovery is not None or lot.their_assay is not None:
        return None
    return RECOVERY_RULE.get(Scrap(lot.kind), CLEAN_RULE)


def _notes(lot: ScrapLot, deducted: Decimal, assayed: frozenset[str]) -> Iterator[str]:
    if lot.stones:
        carats = sum((stone.mass * stone.count for stone in lot.stones), ZERO) * 5
        yield f"Stones: {plain(carats)} ct = {plain(carats / 5)} g taken off. Refiners seldom return them: unset."
    if lot.other_matter:
        yield f"Other matter: {as_given(lot.other_matter)} taken off. Draw steel out by magnet: it spoils a melt."
    if lot.soldered and not assayed:
        yield "Solder lowers the fineness of the melt: the low end allows for it. Melt and assay to know."
    if lot.kind == Scrap.SWEEPS and not assayed:
        yield "Sweeps go by assay only: no contents are given, and nothing is settled for it."
    elif lot.stamp is not None and not assayed:
        yield "A stamp is no assay, and old or foreign work may be short of it: a range, not a number."
    elif not assayed:
        yield "Not assayed: a range, not a number."
    if lot.kind == Scrap.LEMEL:
        yield "Lemel carries grit, saw steel and other metals: draw a magnet through it, and keep metals apart."
