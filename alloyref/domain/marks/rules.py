"""Which rules a mark stands under in one place, and what each says of an assay."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from alloyref.domain.composition import Composition
from alloyref.domain.estimate import ZERO, Estimate
from alloyref.domain.mark_name import Mark
from alloyref.domain.marks.assayed import WHOLE, Assayed, compare
from alloyref.domain.marks.counted import counted, counted_in, requirement, together
from alloyref.domain.marks.results import RuleVerdict, Verdict
from alloyref.domain.metal import FinenessMark
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.provenance import Property, Status

MARK, AS_MARKED, LEAST, TOLERANCE, SOLDER = "mark", "as-marked", "least", "tolerance", "solder"
COMPOSITION = "composition"
"""What is tested where a rule counts metals together."""
SHOWN_DECIMALS = 3
_STATE = "US state: "
_STANDINGS = list(Status)


def holds_in(jurisdiction: str, name: str) -> bool:
    """Whether the rules of `jurisdiction` hold in the place `name`: its own, and the nation's over a state of it.

    >>> holds_in("US", "US state: Massachusetts"), holds_in("US state: Massachusetts", "US"), holds_in("UK", "US")
    (True, False, False)
    """
    return jurisdiction in (name, _STATE.partition(" ")[0] if name.startswith(_STATE) else name)


@dataclass(frozen=True)
class Place:
    """The rules of one jurisdiction for one metal; `conditions` are what special rules ask for."""

    name: str
    of: str
    rows: tuple[FinenessMark, ...]
    conditions: frozenset[str]

    @classmethod
    def of_table(cls, name: str, of: str, table: Iterable[FinenessMark], conditions: frozenset[str]) -> Place:
        """The place's own rows that are about this metal or about all."""
        return cls(
            name,
            of,
            tuple(row for row in table if row.jurisdiction == name and row.metal in (of, "all")),
            conditions,
        )

    @property
    def knows_marks(self) -> bool:
        """Whether any rule for marking this metal is known here."""
        return any(row.kind in (MARK, AS_MARKED) for row in self.rows)

    @property
    def least_standard(self) -> Decimal | None:
        """The least fineness that may be marked there, in permille; None if the law sets none."""
        ends = [
            row.mark_from if row.fineness is None else row.fineness
            for row in self.rows
            if row.kind in (MARK, AS_MARKED, LEAST) and (not row.when or row.when in self.conditions)
        ]
        known = [end for end in ends if end is not None]
        return min(known, default=None) if len(known) == len(ends) else None

    @property
    def any_fineness(self) -> bool:
        """Whether the law takes whatever fineness the article holds, rather than a list of them."""
        return any(row.kind == AS_MARKED for row in self.rows)

    def meaning(self, mark: Mark) -> Mark:
        """The mark with the fineness that this place gives its karat or word; 14K is 585 in the UK."""
        row = self.word_rule(mark)
        if row is not None:
            fineness = row.fineness if row.fineness is not None else row.limit
            return replace(mark, permille=fineness if fineness is not None else mark.permille)
        listed = {row.fineness for row in self.rows if row.kind == MARK}
        if mark.is_karat and not self.any_fineness and mark.permille // 1 in listed:
            return replace(mark, permille=mark.permille // 1)
        return mark

    def word_rule(self, mark: Mark) -> FinenessMark | None:
        """The rule that gives a karat or a word its fineness here, if there is one."""
        return next((row for row in self.rows if mark.word and row.words == mark.word), None)

    def tests(self, permille: Decimal) -> tuple[FinenessMark, ...]:
        """The rules that a mark of so many permille stands under; none if it is no mark there.

        Where only the least fineness was read, a mark above it may or may not be one.
        """
        about = [row for row in self.rows if self._is_about(row, permille)]
        marking = [row for row in about if row.kind in (MARK, AS_MARKED)] or [
            row for row in about if row.kind == LEAST
        ]
        if not marking:
            return ()
        general = [row for row in about if row.kind == TOLERANCE]
        return (*_most_special(marking), *general)

    def solder_rule(self, permille: Decimal) -> FinenessMark | None:
        """The rule for solder in an article of that mark, if there is one."""
        found = [row for row in self.rows if row.kind == SOLDER and self._is_about(row, permille)]
        return max(found, key=_special, default=None)

    def _is_about(self, row: FinenessMark, permille: Decimal) -> bool:
        if row.when and row.when not in self.conditions:
            return False
        if row.fineness is not None and permille not in (row.fineness, row.limit):
            return False
        above = row.mark_from is None or row.mark_from <= permille
        return above and (row.mark_to is None or permille <= row.mark_to)


def _special(row: FinenessMark) -> tuple[bool, bool, bool, Decimal]:
    """The special rule goes before the general one; between equals, the milder."""
    return bool(row.when), row.fineness is not None, row.mark_from is not None, -(row.limit or ZERO)


def _most_special(rows: Sequence[FinenessMark]) -> list[FinenessMark]:
    """Of each law and each thing tested the most special rule, the best read one among equals."""
    chosen: dict[tuple[str, str], FinenessMark] = {}
    for row in rows:
        key = row.instrument, row.tested
        rank = (*_special(row)[:3], -_STANDINGS.index(row.status))
        kept = chosen.get(key)
        if kept is None or rank > (*_special(kept)[:3], -_STANDINGS.index(kept.status)):
            chosen[key] = row
    return list(chosen.values())


def judge_mark(place: Place, permille: Decimal, assayed: Assayed, tolerance: bool = True) -> tuple[RuleVerdict, ...]:
    """What each rule of the place says of the assay under a mark of so many permille; nothing if it is no mark there.

    The verdict on a mark and the highest lawful mark both come from here. Without `tolerance` as work is planned.
    """
    rows = place.tests(permille)
    asked = rows if tolerance else tuple(replace(row, minus_tolerance=ZERO) for row in rows)
    verdicts = [judge(row, permille, assayed) for row in asked]
    verdicts += [judge_requirement(row, permille, assayed) for row in rows if row.requires is not None]
    solder = place.solder_rule(permille) if rows and assayed.soldered else None
    if solder is not None:
        verdicts.append(judge_solder(solder, permille, assayed.solder))
    return tuple(verdicts)


def judge(row: FinenessMark, permille: Decimal, assayed: Assayed) -> RuleVerdict:
    """What one rule says of the assay; all in permille.

    least = mark - tolerance. Where the law's own text writes a higher figure than the mark (916.6 for 916),
    an assay between the two is not certain; nor is one that other metals count with which were not named.
    """
    promised = row.fineness if row.fineness is not None else permille
    tolerance = row.minus_tolerance or ZERO
    least = promised - tolerance
    sure = max(row.limit or ZERO, promised) - tolerance
    alone, known = _measured(row.tested, assayed)
    measured = counted(row, alone, assayed.metal) if row.counts and known else alone
    if row.counts and assayed.metal is None and alone is not None and alone.low < sure:
        needed = _needed(row, least)
        says = f"{needed}. What else counts in it was not said: give the metal or its composition."
        return _verdict(replace(row, tested=COMPOSITION), promised, least, (Verdict.NOT_CERTAIN, says), None)
    if known and measured is not None:
        verdict = compare(measured, least, sure)
    elif measured is not None and measured.low >= sure:
        verdict = Verdict.MEETS
    else:
        verdict, measured = Verdict.NOT_CERTAIN, None
    margin = None if measured is None else _margin(measured, least)
    says = _says(row, verdict, least, margin) + ("" if known else _UNKNOWN[row.tested, verdict])
    if row.counts and alone is not None and verdict is Verdict.MEETS and alone.low < promised:
        says = f"{says} It holds {shown(alone.value)} of {row.metal} alone: strike no higher figure than that."
    if row.kind == LEAST and verdict is Verdict.MEETS:
        verdict, says = Verdict.NOT_CERTAIN, f"{says} Whether it is a mark there was not read: ask the regulator."
    return _verdict(row, promised, least, (verdict, says), margin)


def judge_requirement(row: FinenessMark, permille: Decimal, assayed: Assayed) -> RuleVerdict:
    """What the rule asks beside the mark itself: some metals that must come to so many permille in all."""
    alone, _ = _measured(row.tested, assayed)
    least, verdict, total, says = requirement(row, alone, assayed.metal)
    margin = None if total is None else _margin(total, least)
    asked = replace(row, minus_tolerance=None, tested=COMPOSITION)
    return _verdict(asked, permille, least, (verdict, says), margin)


def judge_solder(row: FinenessMark, permille: Decimal, solder: Composition | None) -> RuleVerdict:
    """What the rule for solder says of what it is made of; not certain without that.

    Reference: Hallmarking Act 1973 (UK), s. 4(3)(b); for platinum and palladium all precious metals count.
    """
    least = row.limit if row.limit is not None else permille
    held = None if solder is None else counted_in(row, solder)
    if held is None:
        says = f"The solder must hold at least {plain(least)} permille; it was not said what it is."
        return _verdict(row, permille, least, (Verdict.NOT_CERTAIN, says), None)
    verdict = Verdict.MEETS if held >= least else Verdict.FALLS_SHORT
    says = f"The solder holds {plain(held)} permille, at least {plain(least)} is needed."
    return _verdict(row, permille, least, (verdict, says), _margin(Estimate(held, held, held), least))


def _verdict(
    row: FinenessMark, promised: Decimal, least: Decimal, said: tuple[Verdict, str], margin: Property | None
) -> RuleVerdict:
    return RuleVerdict(
        row.article,
        row.instrument,
        row.tested or SOLDER,
        said[0].value,
        round_to(promised, SHOWN_DECIMALS),
        row.minus_tolerance,
        round_to(least, SHOWN_DECIMALS),
        margin,
        said[1],
        row.rule,
        row.status.value,
        row.source,
        row.note,
    )


def _margin(measured: Estimate, least: Decimal) -> Property:
    value, low, high = (end - least for end in (measured.value, measured.low, measured.high))
    return Property(value, "permille", low, high, Status.CALCULATED, "definition")


def _measured(tested: str, assayed: Assayed) -> tuple[Estimate | None, bool]:
    """The assay of what a rule tests, and whether it is that; else what bounds it: a part holds no less."""
    if tested == WHOLE:
        least = assayed.whole_at_least
        bound = None if least is None else Estimate(least, least, least)
        return (assayed.whole, True) if assayed.whole is not None else (bound, False)
    if assayed.part is not None:
        return assayed.part, True
    return (assayed.whole if assayed.part_holds_no_less else None), False


_UNKNOWN = {
    ("solder-free", Verdict.MEETS): " The part free of solder was not assayed; it is taken to hold no less.",
    ("solder-free", Verdict.NOT_CERTAIN): " Assay a part that is free of solder.",
    (
        "whole",
        Verdict.MEETS,
    ): " The whole was not assayed; it holds no less than the poorer of the metal and its solder.",
    ("whole", Verdict.NOT_CERTAIN): " Assay the whole article with its solder as one piece.",
}


def shown(permille: Decimal) -> str:
    """A fineness as a person reads it.

    >>> shown(Decimal("583.33333"))
    '583.333'
    """
    return plain(round_to(permille, SHOWN_DECIMALS))


def _needed(row: FinenessMark, least: Decimal) -> str:
    what = "the whole article" if row.tested == WHOLE else "a part free of solder"
    needed = f"At least {shown(least)} permille{together(row)} is needed of {what}"
    if row.minus_tolerance:
        return f"{needed}, {plain(row.minus_tolerance)} below the mark"
    return needed if row.minus_tolerance is not None else f"{needed} (no tolerance is stated: none is used)"


def _says(row: FinenessMark, verdict: Verdict, least: Decimal, margin: Property | None) -> str:
    needed = _needed(row, least)
    if margin is None:
        return f"{needed}."
    if verdict is Verdict.FALLS_SHORT:
        return f"{needed}; it misses by {shown(-margin.value)}."
    if verdict is Verdict.MEETS:
        return f"{needed}; it stands {shown(margin.value)} above that."
    if row.limit is not None and margin.low >= 0:
        return f"{needed}; the law's text writes {shown(row.limit)}: ask the assay office."
    return f"{needed}; the assay's range straddles that."
