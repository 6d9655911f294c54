"""Ring sizes, blanks, bands and resizing: geometry on the inside diameter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from alloyref.domain.calculation import Assumption, Calculation, Outcome
from alloyref.domain.given import require, there
from alloyref.domain.numbers import fraction_to_decimal
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.ring.advice import warnings_for
from alloyref.domain.ring.bands import band_of, blank_of, resize_of, section_of
from alloyref.domain.ring.inputs import Action, Method, RingEquivalent, RingInputs, RingResize, RingResult
from alloyref.domain.ring_sizes import (
    GIVEN_SYSTEMS,
    SYSTEMS,
    Inside,
    circumference_of,
    inside_of,
    nearest_size,
    size_number,
)
from alloyref.domain.stock.calculation import EXACT_DIMENSIONS
from alloyref.domain.transfer import density_assumption

BAND = ("profile", "width", "thickness", "metal")
NEEDS = {
    Action.CONVERT: (),
    Action.BLANK: ("thickness",),
    Action.BAND_MASS: BAND,
    Action.RESIZE: ("to_size", *BAND),
}
MAY = {
    Action.CONVERT: ("to_system",),
    Action.BLANK: ("width", "metal", "allowance"),
    Action.BAND_MASS: (),
    Action.RESIZE: ("to_system", "method"),
}
"""What each action needs and may take, beside the size and its system."""
NUMBER_DECIMALS = 4


def ring(inputs: RingInputs, reference: Reference) -> Outcome:
    """Sizes, blank, band or resizing of a ring of one size.

    Blank: L = pi (d + t) + allowance. Band: by Pappus V = A pi (d + 2 c), with the area A in mm2 of the section
    and its centroid c above the inside; m = rho V. A piece let in or cut out to change the inside diameter by
    dd is pi dd long, and weighs rho A pi dd, which is the difference of the two bands. Stretching lengthens the
    centroid line pi (d + 2 c) by pi dd. Lengths in mm, masses in g with the range of the density (about 95
    percent); dimensions are taken as exact.
    Raises `InvalidInput` for what is no size, and by name for what the action lacks or has no use for.
    References: the rules of the size systems (`/v1/ring-sizes`). Check: sections by numerical integration.
    """
    _require(inputs)
    inside = inside_of(inputs.system, inputs.size)
    sizes = tuple(_equivalent(inside, name, reference) for name in SYSTEMS)
    section = section_of(inputs)
    blank = blank_of(inputs, inside) if inputs.action == Action.BLANK else None
    band = band_of(inside, there(section), there(inputs.metal)) if inputs.action == Action.BAND_MASS else None
    resize = resize_of(inputs, inside, section) if inputs.action == Action.RESIZE else None
    if blank is not None:
        answer = (round(blank.length, 3), "mm")
    elif band is not None:
        answer = (round(band.mass.value, NUMBER_DECIMALS), "g")
    else:
        answer = _converted(inputs, inside) if resize is None else _resized(resize)
    minded = tuple(warnings_for(inputs, sizes, resize, reference))
    result = RingResult(answer, inside.diameter, inside.circumference, sizes, blank, band, resize, minded)
    metals = () if inputs.metal is None else (inputs.metal,)
    soldered = resize is not None and resize.method != Method.STRETCH
    steps = ("step:torch", "step:pickling", "use:solder") if soldered else ()
    return Outcome(result, tuple(_assumed(inputs, inside, sizes)), reference.cautions_for(metals, *steps))


def _require(inputs: RingInputs) -> None:
    """Refuse what the action lacks or has no use for."""
    action = Action(inputs.action)
    needs, may = NEEDS[action], MAY[action]
    if inputs.method == Method.STRETCH and action == Action.RESIZE:
        needs, may = ("to_size", "thickness"), (*may, "profile", "width", "metal")
        if inputs.profile is not None:
            needs = (*needs, "width")
    require(inputs, needs, may, f"The action {action}")


def _equivalent(inside: Inside, name: str, reference: Reference) -> RingEquivalent:
    """The ring in one system: exact number, and the nearest size of the table."""
    system = SYSTEMS[name]
    number = fraction_to_decimal(inside.number_in(system), NUMBER_DECIMALS)
    near = nearest_size(inside, system, reference.ring_sizes)
    if near is None:
        first = next(one for one in reference.ring_sizes if one.system == name)
        return RingEquivalent(name, number, None, None, Status.CALCULATED.value, first.circumference.source)
    off = inside.circumference - circumference_of(system, size_number(system, near.size))
    return RingEquivalent(name, number, near.size, off, near.circumference.status.value, near.circumference.source)


def _converted(inputs: RingInputs, inside: Inside) -> tuple[Decimal, str]:
    """The number in the system asked for, else the inside diameter."""
    if inputs.to_system is None:
        return round(inside.diameter, NUMBER_DECIMALS), "mm"
    wanted = GIVEN_SYSTEMS[inputs.to_system]
    unit = "1" if wanted.name in SYSTEMS else "mm"
    return fraction_to_decimal(inside.number_in(wanted), NUMBER_DECIMALS), unit


def _resized(resize: RingResize) -> tuple[Decimal, str]:
    """The mass of the piece, else the strain."""
    if resize.metal is not None:
        return round(resize.metal.value, NUMBER_DECIMALS), "g"
    return round(there(resize.strain), 5), "1"


def _assumed(inputs: RingInputs, inside: Inside, sizes: Iterable[RingEquivalent]) -> Iterator[Assumption]:
    """The rule of the size system, and the density."""
    across = round(inside.diameter, NUMBER_DECIMALS)
    for one in sizes:
        if one.system == inputs.system:
            basis = Property(across, "mm", across, across, Status.CALCULATED, one.source)
            yield Assumption(f"rule:{one.system}", f"{one.system} ring sizes: inside {inside.system.rule}.", basis)
    if inputs.metal is not None:
        yield density_assumption(inputs.metal)
        yield EXACT_DIMENSIONS


RING = Calculation(
    name="ring",
    title="Ring sizes, blanks, bands and resizing",
    doc="Converts ring sizes, and gives the length of a blank, the mass of a band, or what resizing takes.",
    inputs=RingInputs,
    result=RingResult,
    run=ring,
    query=True,
    text="answer",
    example={
        "action": "band-mass",
        "size": "7",
        "system": "US",
        "profile": "flat",
        "width": "5 mm",
        "thickness": "1.5 mm",
        "metal": "gold-585-yellow",
    },
)
