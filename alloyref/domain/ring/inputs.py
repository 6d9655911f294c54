"""What a question about a ring is asked with, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from alloyref.domain.calculation import (
    Choice,
    Exact,
    ListOf,
    Measured,
    MetalName,
    Number,
    Quantity,
    Record,
    Text,
    item,
)
from alloyref.domain.estimate import Estimate
from alloyref.domain.metal import Metal
from alloyref.domain.ring_sizes import GIVEN_SYSTEMS
from alloyref.domain.sections import ellipse, half_ellipse, rectangle, segment
from alloyref.domain.units import Dimension

PROFILES = {"flat": rectangle, "D": segment, "half-round": half_ellipse, "court": ellipse}
"""Flat: a rectangle. D: flat inside, an arc outside. Half-round: half an ellipse. Court: a whole one."""

SIZE_TEXT = Text(most=12, pattern=r"^[0-9A-Za-z.+/ ¼½¾-]+$", digits=True)
SYSTEM = Choice(tuple(GIVEN_SYSTEMS))
BAND = Quantity(Dimension.LENGTH, above=None, least=Decimal("0.1"), most=Decimal(50))
LENGTH = Measured(Dimension.LENGTH, decimals=3)
MASS = Measured(Dimension.MASS, display=True)


class Action(StrEnum):
    """What is asked of a ring."""

    CONVERT = "convert"
    BLANK = "blank"
    BAND_MASS = "band-mass"
    RESIZE = "resize"


class Method(StrEnum):
    """How a ring is resized."""

    INSERT = "insert"
    STRETCH = "stretch"
    CUT = "cut"


@dataclass(frozen=True, slots=True)
class RingInputs:
    """A ring size, what is asked of it, and as much of the band as the question needs."""

    action: str = item(
        Choice(tuple(Action)),
        "Convert the size, length of a blank, mass of a band, or resize.",
        example=Action.BAND_MASS.value,
    )
    size: str = item(SIZE_TEXT, "Ring size as its system writes it: 7 1/4, N 1/2, 54, or millimetres.", example="7")
    system: str = item(SYSTEM, "The system of the size.", example="US")
    to_size: str | None = item(SIZE_TEXT, "Resize: the size wanted.", default=None)
    to_system: str | None = item(
        SYSTEM, "Convert: the system wanted (all are given anyway). Resize: that of the size wanted.", default=None
    )
    profile: str | None = item(
        Choice(tuple(PROFILES)),
        "Section: flat; D (flat inside, an arc outside); half-round (half an ellipse); court (an ellipse).",
        default=None,
        example="flat",
    )
    width: Decimal | None = item(BAND, "Width of the band.", default=None, example="5 mm")
    thickness: Decimal | None = item(BAND, "Thickness of the band at its thickest.", default=None, example="1.5 mm")
    metal: Metal | None = item(MetalName(), "Metal of the band.", default=None, example="gold-585-yellow")
    allowance: Decimal | None = item(
        Quantity(Dimension.LENGTH, above=None, least=Decimal(0), most=Decimal(20)),
        "Blank: extra length, such as for a wide band.",
        default=None,
    )
    method: str | None = item(
        Choice(tuple(Method)),
        "Resize: insert a piece or stretch to go up, cut a piece out to go down; insert and cut unless said.",
        default=None,
    )


@dataclass(frozen=True, slots=True)
class RingEquivalent:
    """The same ring in one size system."""

    system: str = item(Text(), "Size system.")
    number: Decimal = item(Number(), "Its exact number by the rule of the system; letters count from A = 0.")
    size: str | None = item(Text(), "The nearest size there is; none beyond the end of the table.")
    off: Decimal | None = item(LENGTH, "By how much more the inside circumference is than that of the nearest size.")
    status: str = item(Text(), "Standing of the nearest size, or of the rule.")
    source: str = item(Text(), "Id of its source.")


@dataclass(frozen=True, slots=True)
class RingBlank:
    """The strip that closes to the ring."""

    length: Decimal = item(LENGTH, "Length of the strip, the allowance included.")
    allowance: Decimal = item(LENGTH, "The allowance in it.")
    mass: Estimate | None = item(MASS, "Mass of a flat strip; none unless width and metal are given.")


@dataclass(frozen=True, slots=True)
class RingBand:
    """The band."""

    mass: Estimate = item(MASS, "Mass, with the range of the density.")
    volume: Decimal = item(Measured(Dimension.VOLUME, decimals=5), "Volume.")
    section_area_mm2: Decimal = item(Number(), "Area of the section in mm2.")
    centroid_diameter: Decimal = item(LENGTH, "Diameter of the circle that the centroid of the section runs on.")


@dataclass(frozen=True, slots=True)
class RingResize:
    """What resizing takes."""

    method: str = item(Text(), "How: insert, stretch or cut.")
    us_sizes: Decimal = item(Measured(Dimension.RATIO, decimals=3), "The change in US sizes; down is negative.")
    length: Decimal = item(LENGTH, "Length of the piece to let in or to cut out, or by which the ring is stretched.")
    metal: Estimate | None = item(MASS, "Mass of that piece: to add, or that comes off; none where it is stretched.")
    strain: Decimal | None = item(
        Measured(Dimension.RATIO, decimals=5), "Stretch: lengthening of the centroid line as a share of it."
    )
    section_left: Decimal | None = item(
        Measured(Dimension.RATIO, decimals=5), "Stretch: section after over section before, the volume being kept."
    )


@dataclass(frozen=True, slots=True)
class RingWarning:
    """Something to mind about this ring."""

    code: str = item(Text(), "For programs.")
    text: str = item(Text(), "For people.")
    status: str = item(Text(), "Standing.")
    source: str = item(Text(), "Id of its source.")


@dataclass(frozen=True, slots=True)
class RingResult:
    """The ring, and what was asked of it."""

    answer: tuple[Decimal, str] = item(
        Exact(Dimension.RATIO),
        "What was asked for: the number in `to_system` (or the inside diameter), the length of the blank, the mass "
        "of the band, or of a resize the mass to add or to take off (the strain where it is stretched).",
    )
    inside_diameter: Decimal = item(Measured(Dimension.LENGTH, decimals=4), "Inside diameter.")
    inside_circumference: Decimal = item(Measured(Dimension.LENGTH, decimals=4), "Inside circumference.")
    sizes: tuple[RingEquivalent, ...] = item(ListOf(Record(RingEquivalent)), "The same ring in each system.")
    blank: RingBlank | None = item(Record(RingBlank), "The blank, if asked for.")
    band: RingBand | None = item(Record(RingBand), "The band, if asked for.")
    resize: RingResize | None = item(Record(RingResize), "The resizing, if asked for.")
    warnings: tuple[RingWarning, ...] = item(ListOf(Record(RingWarning)), "What to mind.")
