"""The check of a mark, put together."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from alloyref.domain.calculation import Assumption, Calculation, Outcome
from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import ZERO, Estimate
from alloyref.domain.mark_name import METAL_NAMES, Mark
from alloyref.domain.marks.assayed import WHOLE, Assayed, assayed_of, refuse_contradictions
from alloyref.domain.marks.highest import highest_mark
from alloyref.domain.marks.inputs import MarkCheckInputs
from alloyref.domain.marks.limits import element_limits, exemption_of, other_rules
from alloyref.domain.marks.results import JurisdictionVerdict, MarkCheckResult, RuleVerdict, Verdict
from alloyref.domain.marks.rules import MARK, SOLDER, Place, holds_in, judge_mark, shown
from alloyref.domain.metal import Metal
from alloyref.domain.provenance import Property, Status
from alloyref.domain.purity import METALS
from alloyref.domain.reference import Reference

GRAVEST_FIRST = list(Verdict)
NOTES = (
    "Not legal advice: the assay office or the regulator decides.",
    "A tolerance is for judging the assay of finished work. Never plan an alloy or an article to fall short by it.",
)


def mark_check(inputs: MarkCheckInputs, reference: Reference) -> Outcome:
    """Judge an assay (permille), or a metal's nominal fineness, against a mark by the rules of each place.

    A rule passes an assay of at least mark - tolerance; with a range, one whose low end passes; one that
    straddles the limit is not certain. All rules of a place apply together; a state of the US is answered with the
    nation's rules beside its own, which go no further than those allow. Raises `InvalidInput` for a
    mark that cannot be read, and for inputs that contradict.
    Checks: 588 is marked 585 and 584 only 375 in Finland (Finnish Safety and Chemicals Agency); 3/1000 and
    7/1000 for gold, 4/1000 and 10/1000 for silver (15 U.S.C. 295 and 296).
    """
    refuse_contradictions(inputs)
    of = precious_of(inputs, reference)
    assayed = assayed_of(inputs, of)
    places = _places(inputs, of, reference)
    judged = tuple(_judged(place, inputs, assayed) for place in places)
    verdicts = {one.verdict for one in judged}
    result = MarkCheckResult(
        of=of,
        verdict=verdicts.pop() if len(verdicts) == 1 else "differs",
        assay=_property(assayed.whole, inputs),
        part_assay=_property(assayed.part, inputs),
        jurisdictions=judged,
        limits=element_limits(inputs, reference),
        notes=NOTES,
    )
    metals = [metal for metal in (inputs.metal, inputs.solder) if metal is not None]
    tokens = ("use:solder",) if inputs.soldered else ()
    return Outcome(
        result,
        (*_assumptions(inputs, of, assayed), *_words(places, inputs.mark)),
        reference.cautions_for(metals, *tokens),
    )


def precious_of(inputs: MarkCheckInputs, reference: Reference) -> str:
    """The precious metal to be judged: as said, as the mark names it, as the metal is, or as the mark must mean."""
    named = inputs.mark.metal if inputs.mark is not None else ""
    if inputs.of is not None and named and named != inputs.of:
        raise InvalidInput.of("contradiction", f"This is a mark of {named}, not of {inputs.of}.", "/mark")
    if inputs.of is not None or named:
        return inputs.of or named
    if inputs.metal is not None:
        return _base_of(inputs.metal)
    meant = {
        row.metal
        for row in reference.marks
        if row.kind == MARK and inputs.mark is not None and row.fineness == inputs.mark.permille
    }
    if len(meant) == 1:
        return meant.pop()
    raise InvalidInput.of("missing", "Say which precious metal was assayed.", "/of", sorted(meant) or METAL_NAMES)


def _base_of(metal: Metal) -> str:
    for name, symbol in METALS.items():
        if symbol == metal.base:
            return name
    detail = f"{metal.name} is not named for a precious metal; say which one to judge."
    raise InvalidInput.of("missing", detail, "/of", METAL_NAMES)


def _places(inputs: MarkCheckInputs, of: str, reference: Reference) -> list[Place]:
    conditions = {inputs.article}
    alloy = reference.alloys.get(inputs.metal.id) if inputs.metal is not None else None
    if inputs.white or (inputs.white is None and alloy is not None and alloy.colour == "white"):
        conditions.add("white")
    names = dict.fromkeys(row.jurisdiction for row in reference.marks)
    places = [Place.of_table(name, of, reference.marks, frozenset(conditions)) for name in names]
    if inputs.jurisdiction is not None:
        held = [place for place in places if holds_in(place.name, inputs.jurisdiction)]
        return sorted(held, key=lambda place: place.name != inputs.jurisdiction)  # what was asked for goes first
    return [place for place in places if place.knows_marks]


def _judged(place: Place, inputs: MarkCheckInputs, assayed: Assayed) -> JurisdictionVerdict:
    asked = None if inputs.mark is None else place.meaning(inputs.mark)
    rules = () if asked is None else judge_mark(place, asked.permille, assayed)
    verdict, says = _verdict(place, asked, rules)
    unjudged = _unjudged_solder(place, inputs, rules)
    if unjudged and verdict is Verdict.MEETS:
        verdict, says = Verdict.NOT_CERTAIN, f"{says} {unjudged[0]}"
    by_tolerance = verdict is Verdict.MEETS and any(_only_by_tolerance(one) for one in rules)
    return JurisdictionVerdict(
        jurisdiction=place.name,
        verdict=verdict.value,
        within_tolerance=by_tolerance,
        says=f"{says} {NO_LICENCE}" if by_tolerance else says,
        rules=rules,
        highest=tuple(highest_mark(place, assayed, soldered, asked) for soldered in (False, True)),
        exemption=exemption_of(place, inputs.mass, assayed),
        also=(*unjudged, *other_rules(place)),
    )


def _unjudged_solder(place: Place, inputs: MarkCheckInputs, rules: tuple[RuleVerdict, ...]) -> tuple[str, ...]:
    """That the solder was not judged, where no rule that is known here counts it."""
    if not inputs.soldered or not rules or any(one.tests in (SOLDER, WHOLE) for one in rules):
        return ()
    return (f"No rule of {place.name} for solder is known here, so the solder was not judged: ask its assay office.",)


NO_LICENCE = "It passes only by the tolerance, which is for judging an assay and no licence to plan short."


def _only_by_tolerance(one: RuleVerdict) -> bool:
    """Whether the assay lies below the mark itself, and passes all the same (margin and tolerance in permille)."""
    return one.margin is not None and one.minus_tolerance is not None and one.margin.value < one.minus_tolerance


def _verdict(place: Place, mark: Mark | None, rules: tuple[RuleVerdict, ...]) -> tuple[Verdict, str]:
    if not place.knows_marks:
        return Verdict.NO_RULE, f"No rule of {place.name} for marking {place.of} is known here."
    if mark is None:
        return Verdict.NOT_ASKED, "No mark was asked about; see the highest lawful mark."
    if not rules:
        return Verdict.NOT_A_MARK, _not_a_mark(place, mark)
    gravest = min((Verdict(one.verdict) for one in rules), key=GRAVEST_FIRST.index)
    telling = [one.says for one in rules if one.verdict == gravest]
    return gravest, f"{mark.text} ({gravest.value.replace('-', ' ')}): {' '.join(dict.fromkeys(telling))}"


def _not_a_mark(place: Place, mark: Mark) -> str:
    """Why it is none there; `mark` as the place means it."""
    named, least = f"{mark.text} ({shown(mark.permille)})", place.least_standard
    if least is not None and mark.permille < least:
        above = f"the least is {shown(least)}, {shown(least - mark.permille)} above it"
        return f"{named} is below every standard for {place.of} in the rules of {place.name} known here: {above}."
    listed = sorted({row.fineness for row in place.rows if row.kind == MARK and row.fineness is not None})
    known = ", ".join(shown(one) for one in listed) or "none"
    return f"{named} is not a mark for {place.of} in the rules of {place.name} known here: {known}."


def _property(one: Estimate | None, inputs: MarkCheckInputs) -> Property | None:
    if one is None:
        return None
    given = inputs.assay is not None or inputs.part_assay is not None
    status, source = (Status.GIVEN, "caller") if given else (Status.CALCULATED, "definition")
    return Property(one.value, "permille", one.low, one.high, status, source)


def _assumptions(inputs: MarkCheckInputs, of: str, assayed: Assayed) -> tuple[Assumption, ...]:
    assumed = []
    if assayed.nominal and inputs.metal is not None:
        share = inputs.metal.composition.fineness(METALS[of])
        text = f"Not an assay: the nominal share of {of} in {inputs.metal.name}. A melt may hold less; assay it."
        basis = Property(share, "permille", share, share, Status.CALCULATED, "definition")
        assumed.append(Assumption("nominal-composition", text, basis))
    if inputs.uncertainty is None and not assayed.nominal:
        assumed.append(EXACT_ASSAY)
    if assayed.soldered and assayed.part is None:
        assumed.append(PART_HOLDS_NO_LESS)
    return tuple(assumed)


def _words(places: list[Place], mark: Mark | None) -> Iterator[Assumption]:
    """What each place takes a karat or a word for, where its table says so."""
    for place in places:
        row = place.word_rule(mark) if mark is not None else None
        if mark is not None and row is not None:
            permille = place.meaning(mark).permille
            text = f"{mark.text} is {shown(permille)} permille by the table of {place.name}, {row.instrument}."
            basis = Property(permille, "permille", permille, permille, row.status, row.source)
            yield Assumption(f"meaning:{place.name}", text, basis)


EXACT_ASSAY = Assumption(
    "exact-assay",
    "No uncertainty of the assay was given, so its figure is taken as exact. Give the laboratory's own figure.",
    Property(ZERO, "permille", ZERO, ZERO, Status.GIVEN, "caller"),
)
PART_HOLDS_NO_LESS = Assumption(
    "part-holds-no-less",
    "Solder is taken to be no finer than the metal it joins: a part free of it then holds no less than the whole.",
    Property(Decimal(1), "1", Decimal(1), Decimal(1), Status.COMMON_PRACTICE, "common-practice"),
)

MARK_CHECK = Calculation(
    name="mark-check",
    title="Is this assay fit for this mark, there?",
    doc="An assay or a metal against a fineness mark: a verdict for each rule with its article, by how much it "
    "misses, and the highest lawful mark. Not legal advice; the assay office or regulator decides.",
    inputs=MarkCheckInputs,
    result=MarkCheckResult,
    run=mark_check,
    query=True,
    example={"assay": "584.2", "uncertainty": "0.5", "of": "gold", "mark": "585", "jurisdiction": "UK"},
)
