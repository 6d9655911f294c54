"""What to mind of a ring: limits of the trade, ends of the tables, and what its stones and seams bear."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from alloyref.domain.numbers import plain
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference
from alloyref.domain.ring.inputs import Action, Method, RingEquivalent, RingInputs, RingResize, RingWarning

STRETCH_LIMIT = "ring-stretch-limit"
WIDE_BAND = "ring-wide-band"
WIDE_ALLOWANCE = "ring-wide-band-allowance"


def warnings_for(
    inputs: RingInputs, sizes: Sequence[RingEquivalent], resize: RingResize | None, reference: Reference
) -> Iterator[RingWarning]:
    """The warnings that this ring earns, each with its standing and source."""
    given = [one for one in sizes if one.system == inputs.system and one.size is None]
    if given:
        yield RingWarning(
            "beyond-table", f"{inputs.system} sizes end before this one.", given[0].status, given[0].source
        )
    wide = reference.rules[WIDE_BAND].figure
    if inputs.action == Action.BLANK and inputs.allowance is None and _at_least(inputs.width, wide):
        more = reference.rules[WIDE_ALLOWANCE].figure
        yield _warning(
            WIDE_BAND,
            f"From {plain(wide.value)} mm width a band sits tighter: an allowance of up to {plain(more.high)} mm "
            "(half a US size) is usual; none is in this length.",
            more,
        )
    if resize is not None:
        yield from _of_resizing(resize, reference)


def _of_resizing(resize: RingResize, reference: Reference) -> Iterator[RingWarning]:
    limit = reference.rules[STRETCH_LIMIT].figure
    if resize.method == Method.STRETCH:
        if resize.us_sizes > limit.value:
            yield _warning(
                STRETCH_LIMIT,
                f"A plain band usually takes {plain(limit.low)} to {plain(limit.high)} of a US size by stretching; "
                "beyond it the band thins, and seams and thin places tear: insert a piece.",
                limit,
            )
        yield _warning("stones", "Stretching loosens stones and distorts engraving: only plain bands bear it.", limit)
        return
    yield _warning("stones", "Soldering heat harms many stones: unset or protect them, and check the seats.", limit)


def _at_least(value: object, figure: Property) -> bool:
    return value is not None and value >= figure.value  # type: ignore[operator]


def _warning(code: str, text: str, basis: Property) -> RingWarning:
    return RingWarning(code, text, basis.status.value, basis.source)
