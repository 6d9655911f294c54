"""The assays that rules are tested on: of a part without solder and of the whole, known or only bounded."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.errors import InvalidInput, Issue
from alloyref.domain.estimate import ZERO, Estimate
from alloyref.domain.marks.inputs import MarkCheckInputs
from alloyref.domain.marks.results import Verdict
from alloyref.domain.metal import Metal
from alloyref.domain.purity import METALS

SOLDER_FREE, WHOLE = "solder-free", "whole"


@dataclass(frozen=True, slots=True)
class Assayed:
    """What is known of an article's fineness, in permille; `part` is free of solder, `whole` has it.

    `metal` and `solder` are what the metal and the solder are made of, if that was said.
    """

    part: Estimate | None
    whole: Estimate | None
    soldered: bool
    nominal: bool
    metal: Composition | None = None
    solder: Composition | None = None
    part_holds_no_less: bool = True
    whole_at_least: Decimal | None = None

    @property
    def best(self) -> Estimate:
        """The whole if it was assayed, else the part."""
        found = self.whole if self.whole is not None else self.part
        if found is None:
            raise ValueError("neither part nor whole was assayed")
        return found

    def without_solder(self) -> Assayed:
        """The same assay, of an article that is one piece."""
        known = self.part if self.part is not None else self.whole
        return replace(self, part=known, whole=known, soldered=False)

    def with_solder(self) -> Assayed:
        """The same metal in an article that is soldered: what the whole will hold is not known yet."""
        return self if self.soldered else replace(self, whole=None, soldered=True)


def assayed_of(inputs: MarkCheckInputs, of: str) -> Assayed:
    """The assays given, or the nominal composition of the metal as the part free of solder.

    The whole is reckoned where solder and its share are given: (1 - share) x part + share x solder, in
    permille.
    """
    width = inputs.uncertainty or ZERO
    nominal = inputs.assay is None and inputs.part_assay is None
    whole = None if inputs.assay is None else _range(inputs.assay, width)
    part = None if inputs.part_assay is None else _range(inputs.part_assay, width)
    if nominal and inputs.metal is not None:
        part = _nominal(inputs.metal, of, width)
    # What a trade name holds beside the metal that it is named for is not known.
    metal = None if inputs.metal is None or inputs.metal.is_trade_name else inputs.metal.composition
    if not inputs.soldered:
        known = whole if whole is not None else part
        return Assayed(known, known, False, nominal, metal)
    if whole is None and part is not None and inputs.solder is not None and inputs.solder_share is not None:
        added = inputs.solder_share * inputs.solder.composition.fineness(METALS[of])
        whole = Estimate(*(end * (1 - inputs.solder_share) + added for end in (part.value, part.low, part.high)))
    solder = None if inputs.solder is None else inputs.solder.composition
    if solder is None:
        return Assayed(part, whole, True, nominal, metal)
    # A part free of solder holds at least what the whole does, as long as the solder is no finer; however much solder
    # there is, the whole holds at least what the poorer of the two does.
    held = solder.fineness(METALS[of])
    no_less = whole is None or held <= whole.low
    return Assayed(part, whole, True, nominal, metal, solder, no_less, None if part is None else min(part.low, held))


def _nominal(metal: Metal, of: str, width: Decimal) -> Estimate:
    """The nominal fineness in permille; of a trade name from what it promises to its richest alloy."""
    known = _range(metal.composition.fineness(METALS[of]), width)
    most = metal.most_fine if METALS[of] == metal.base else None
    return known if most is None else replace(known, high=min(most + width, THOUSAND))


def _range(value: Decimal, width: Decimal) -> Estimate:
    return Estimate(value, max(value - width, ZERO), min(value + width, THOUSAND))


def refuse_contradictions(inputs: MarkCheckInputs) -> None:
    """`InvalidInput` where nothing tells a fineness, or where two inputs contradict."""
    issues = []
    if inputs.metal is None and inputs.assay is None and inputs.part_assay is None:
        issues.append(Issue("missing", "A metal or an assay is needed.", "/assay"))
    if not inputs.soldered:
        text = "This is for a soldered article: set soldered to true."
        for name in ("part_assay", "solder", "solder_share"):
            if getattr(inputs, name) is not None:
                issues.append(Issue("contradiction", text, f"/{name}"))
    if inputs.solder_share is not None and inputs.solder is None:
        issues.append(Issue("missing", "A share of solder needs the solder itself.", "/solder"))
    if inputs.solder_share is not None and inputs.assay is not None:
        issues.append(Issue("contradiction", "The whole was assayed; its solder needs no share.", "/solder_share"))
    if issues:
        raise InvalidInput(*issues)


def compare(measured: Estimate, least: Decimal, sure: Decimal) -> Verdict:
    """Passed from `sure` up, failed below `least`, and not certain between or where the range straddles."""
    if measured.low >= sure:
        return Verdict.MEETS
    return Verdict.FALLS_SHORT if measured.high < least else Verdict.NOT_CERTAIN
