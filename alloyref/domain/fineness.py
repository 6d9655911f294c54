"""A fineness as it was given, exactly, and the mark that a plan must reach."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.calculation import Assumption
from alloyref.domain.errors import InvalidInput, did_you_mean, nearest
from alloyref.domain.metal import FinenessMark
from alloyref.domain.numbers import fraction_to_decimal, plain
from alloyref.domain.provenance import Property, Status
from alloyref.domain.purity import METALS
from alloyref.domain.reference import Reference

NAMES = {symbol: name for name, symbol in METALS.items()}
"""What the tables of marks call the metals that are marked."""
KARAT, PERMILLE = "karat", "permille"
AS_MARKED = "as marked"
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


def planned_mark(
    base: str, mark: Decimal, jurisdiction: str | None, reference: Reference, pointers: tuple[str, str]
) -> FinenessMark:
    """The row of the marks table that a mark in permille stands for; `pointers` are those of mark and jurisdiction.

    The row's minus tolerance is for the assay of finished work. A plan aims at the mark itself.
    Raises `InvalidInput` for a jurisdiction or a mark that the table does not know.
    """
    rows = [row for row in reference.marks if row.metal == NAMES.get(base)]
    if jurisdiction is not None:
        known = tuple(dict.fromkeys(row.jurisdiction for row in reference.marks))
        if jurisdiction not in known:
            near = nearest(jurisdiction, known) or known
            detail = f"No marks of {jurisdiction[:40]!r} are held here." + did_you_mean(near[:4])
            raise InvalidInput.of("unknown-jurisdiction", detail, pointers[1], near)
        rows = [row for row in rows if row.jurisdiction == jurisdiction]
    found = [row for row in rows if row.fineness == mark] or _as_marked(rows, jurisdiction)
    if found:
        return min(found, key=lambda row: list(Status).index(row.status))
    marks = tuple(plain(one) for one in sorted({row.fineness for row in rows if row.fineness is not None}))
    place = f" in {jurisdiction}" if jurisdiction else ""
    metal = NAMES.get(base, base)
    detail = f"{plain(mark)} is not a mark for {metal}{place} known here. Known: {', '.join(marks) or 'none'}."
    raise InvalidInput.of("unknown-mark", detail, pointers[0], marks)


def _as_marked(rows: Sequence[FinenessMark], jurisdiction: str | None) -> list[FinenessMark]:
    """The rows of a law that takes any fineness as long as the metal holds what the mark says."""
    if jurisdiction is None:
        return []
    return [row for row in rows if row.fineness is None and row.rule.startswith(AS_MARKED)]


def mark_assumption(mark: Decimal, row: FinenessMark) -> Assumption:
    """Which mark was aimed at, by whose law, and that its tolerance is not planned with."""
    tolerance = (
        f" The {plain(row.minus_tolerance)} permille that an assay there may fall short is not planned with."
        if row.minus_tolerance
        else ""
    )
    note = f" Note: {row.note}." if row.note else ""
    text = (
        f"{plain(mark)} is the mark in permille ({row.jurisdiction}, {row.instrument}, {row.article}), not a karat "
        f"by arithmetic; the assay office or regulator decides.{tolerance}{note}"
    )
    return Assumption("mark-by-law", text, Property(mark, PERMILLE, mark, mark, row.status, row.source))


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
