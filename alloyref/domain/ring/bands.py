"""The metal of a ring: its blank, its band by Pappus, and what resizing adds or takes off. Lengths in mm."""

from __future__ import annotations

from decimal import Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import Estimate, Spread
from alloyref.domain.given import there
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import EXACT, PI, fraction_to_decimal
from alloyref.domain.ring.inputs import PROFILES, Method, RingBand, RingBlank, RingInputs, RingResize
from alloyref.domain.ring_sizes import SYSTEMS, Inside, inside_of
from alloyref.domain.sections import Section, rectangle
from alloyref.domain.stock.forms import blank_length

MM3_PER_CM3 = Decimal(1000)


def mass_of(volume: Decimal, metal: Metal) -> Estimate:
    """Mass in g of a volume in mm3, with the range of the density."""
    return Estimate.widened(EXACT.multiply(volume, metal.density.value) / MM3_PER_CM3, Spread.of(metal.density))


def section_of(inputs: RingInputs) -> Section | None:
    """The section of the band, if profile, width and thickness are given."""
    if inputs.profile is None or inputs.width is None or inputs.thickness is None:
        return None
    return PROFILES[inputs.profile](inputs.width, inputs.thickness)


def centroid_diameter(inside: Inside, section: Section) -> Decimal:
    """Diameter in mm of the circle that the centroid of the section runs on."""
    return inside.diameter + 2 * section.centroid


def blank_of(inputs: RingInputs, inside: Inside) -> RingBlank:
    """The strip for a ring: pi x (inside diameter + thickness), and the allowance asked for."""
    thickness, allowance = there(inputs.thickness), inputs.allowance or Decimal(0)
    length = blank_length(inside.diameter, thickness) + allowance
    mass = None
    if inputs.width is not None and inputs.metal is not None:
        mass = mass_of(EXACT.multiply(rectangle(inputs.width, thickness).area, length), inputs.metal)
    return RingBlank(length, allowance, mass)


def band_of(inside: Inside, section: Section, metal: Metal) -> RingBand:
    """The band by Pappus: area of the section times the way of its centroid.

    V = A pi (d + 2 c), exact for a section that is turned about the axis of the ring.
    """
    across = centroid_diameter(inside, section)
    volume = EXACT.multiply(EXACT.multiply(section.area, PI), across)
    return RingBand(mass_of(volume, metal), volume / MM3_PER_CM3, section.area, across)


def resize_of(inputs: RingInputs, inside: Inside, section: Section | None) -> RingResize:
    """What it takes to bring a ring to another size."""
    wanted = inside_of(inputs.to_system or inputs.system, there(inputs.to_size), "/to_size")
    change = wanted.diameter - inside.diameter
    if not change:
        raise InvalidInput.of("no-change", "The ring has that size already.", "/to_size")
    method = inputs.method or (Method.INSERT if change > 0 else Method.CUT)
    if (change < 0) != (method == Method.CUT):
        way = "larger: insert or stretch" if change > 0 else "smaller: cut"
        raise InvalidInput.of("contradiction", f"To {method} does not make a ring {way}.", "/method")
    us_sizes = EXACT.divide(change, fraction_to_decimal(SYSTEMS["US"].step, None))
    length = EXACT.multiply(PI, abs(change))
    if method == Method.STRETCH:
        height = section.centroid if section is not None else there(inputs.thickness) / 2
        strain = EXACT.divide(change, inside.diameter + 2 * height)
        return RingResize(method, us_sizes, length, None, strain, EXACT.divide(Decimal(1), 1 + strain))
    mass = mass_of(EXACT.multiply(there(section).area, length), there(inputs.metal))
    return RingResize(method, us_sizes, length, mass, None, None)
