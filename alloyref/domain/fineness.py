"""A fineness as it was given, exactly, and the mark that a plan must reach."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.calculation import Assumption
from alloyref.domain.errors import InvalidInput
from alloyref.domain.mark_name import Mark
from alloyref.domain.marks.rules import MARK, TOLERANCE, Place
from alloyref.domain.metal import KARATS, FinenessMark
from alloyref.domain.numbers import fraction_to_decimal, plain
from alloyref.domain.provenance import Property, Status
from alloyref.domain.purity import METALS
from alloyref.domain.reference import Reference

NAMES = {symbol: name for name, symbol in METALS.items()}
"""What the tables of marks call the metals that are marked."""
KARAT, PERMILLE = "karat", "permille"
ARTICLE = frozenset({"jewellery"})
"""Rules for watch cases, flatware and other special articles are not what a charge is planned by."""
SHOWN_DECIMALS = 3


@dataclass(frozen=True, slots=True)
class Fineness:
    """A purity on the scale it was given in, and the exact share (fraction of one) that it is."""

    value: Decimal
    scale: str
    share: Fraction

    def __str__(self) -> str:
        given = f"{plain(self.value)} {self.scale}"
        return given if self.scale == PERMILLE else f"{given} ({permille_text(self.share)})"


def permille_text(share: Fraction) -> str:
    """A share as a person reads it, in permille to three decimals.

    >>> permille_text(Fraction(14, 24))
    '583.333 permille'
    """
    return f"{plain(fraction_to_decimal(share * 1000, SHOWN_DECIMALS))} permille"


def refuse_karat_of(base: str, fineness: Fineness | None, pointer: str) -> None:
    """Karat counts gold: `InvalidInput` for a karat of anything else."""
    if fineness is not None and fineness.scale == KARAT and base != "Au":
        detail = f"Karat is a scale for gold; give the fineness of {NAMES.get(base, base)} in permille."
        raise InvalidInput.of("karat-of-gold", detail, pointer, (PERMILLE, "percent"))


@dataclass(frozen=True, slots=True)
class PlannedMark:
    """The share (fraction of one) that a plan must reach for a mark, and the rule that says so."""

    text: str
    share: Fraction
    row: FinenessMark

    @property
    def assumption(self) -> Assumption:
        """Which mark is aimed at, by whose law, and that its tolerance is not planned with."""
        row, permille = self.row, fraction_to_decimal(self.share * 1000, SHOWN_DECIMALS)
        tolerance = (
            f" The {plain(row.minus_tolerance)} permille that an assay there may fall short is not planned with."
            if row.minus_tolerance
            else ""
        )
        note = f" Note: {row.note}." if row.note else ""
        if row.requires is not None:
            asked = f"{', '.join(row.requires.symbols)} to come to {plain(row.requires.least)} permille in all"
            note = f" It also asks for {asked}, which this plan does not see to: check the mark of the result.{note}"
        text = (
            f"The mark {self.text} asks for {plain(permille)} permille ({row.jurisdiction}, {row.instrument}, "
            f"{row.article}): law, not a karat by arithmetic; the assay office or regulator decides.{tolerance}{note}"
        )
        return Assumption(
            "mark-by-law", text, Property(permille, PERMILLE, permille, permille, row.status, row.source)
        )


def planned_mark(
    base: str, mark: Mark, jurisdiction: str | None, reference: Reference, pointers: tuple[str, str]
) -> PlannedMark:
    """What a mark asks of a plan, where a place is named there; `pointers` are those of mark and jurisdiction.

    A karat or a word means what the place says (14K is 585 in the UK), and where the law writes a higher figure than
    the mark (916.6 for 916) the plan reaches that. A tolerance is for the assay of finished work, not for plans.
    Raises `InvalidInput` for a mark that is not known there, and for a karat or word without a place.
    """
    metal = NAMES[base]
    if mark.metal not in ("", metal):
        raise InvalidInput.of("contradiction", f"{mark.text!r} is a mark for {mark.metal}, not {metal}.", pointers[0])
    names = tuple(dict.fromkeys(row.jurisdiction for row in reference.marks))
    if mark.word and jurisdiction is None:
        detail = f"What {mark.text!r} promises differs from place to place: say whose mark it is."
        raise InvalidInput.of("missing", detail, pointers[1], names)
    places = [Place.of_table(name, metal, reference.marks, ARTICLE) for name in names if jurisdiction in (None, name)]
    found = [(place.meaning(mark), row) for place in places for row in place.tests(place.meaning(mark).permille)]
    found = [(meant, row) for meant, row in found if row.kind != TOLERANCE and (jurisdiction or row.fineness)]
    if not found:
        marks = sorted({row.fineness for place in places for row in place.rows if row.kind == MARK and row.fineness})
        known = tuple(plain(one) for one in marks)
        where = f" in {jurisdiction}" if jurisdiction else ""
        detail = f"{mark.text} is not a mark for {metal}{where} known here. Known: {', '.join(known) or 'none'}."
        raise InvalidInput.of("unknown-mark", detail, pointers[0], known)
    asked = [(_asked(meant, row), -list(Status).index(row.status), place) for place, (meant, row) in enumerate(found)]
    share, _, place = max(asked, key=lambda one: one[:2])
    return PlannedMark(mark.text, share, found[place][1])


def _asked(mark: Mark, row: FinenessMark) -> Fraction:
    """The share that a rule asks for; a karat that no table changes is exact."""
    if row.fineness is None and mark.is_karat and mark.permille % 1:
        return Fraction(mark.word.removesuffix("K")) / int(KARATS)
    promised = row.fineness if row.fineness is not None else mark.permille
    return Fraction(max(promised, row.limit or promised)) / 1000


KARAT_BY_ARITHMETIC = Assumption(
    "karat-by-arithmetic",
    "Karat is arithmetic here, 24ths by mass: 14 karat is 583.333 permille, not the stamp 585. Give a mark to reach "
    "what a stamp promises.",
    Property(Decimal(24), KARAT, Decimal(24), Decimal(24), Status.COMMON_PRACTICE, "common-practice"),
)
FINE_IS_PURE = Assumption(
    "fine-is-pure",
    "Fine metal is counted as pure. Metal sold as 999.9 brings in 0.1 permille less: leave room above a mark.",
    Property(Decimal(1000), PERMILLE, Decimal("999.9"), Decimal(1000), Status.COMMON_PRACTICE, "common-practice"),
)
NOTHING_BURNS_OFF = Assumption(
    "nothing-burns-off",
    "Masses are as weighed in. What burns off in melting, mostly base metal, is not counted: assay before marking.",
    Property(Decimal(0), "1", Decimal(0), Decimal(0), Status.CALCULATED, "definition"),
)
