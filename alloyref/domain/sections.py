"""Cross-sections of wire and bands: area, and how high above its flat base the centroid lies. All lengths in mm."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.numbers import EXACT, PI

HALVINGS = 5
"""How often an angle is halved before its series is summed: after five, each term is a thousandth of the last."""


@dataclass(frozen=True, slots=True)
class Section:
    """A cross-section: area in mm2, and height of the centroid above the base (a band's inside) in mm."""

    area: Decimal
    centroid: Decimal


def rectangle(width: Decimal, height: Decimal) -> Section:
    """A rectangle: area w h, centroid at h/2.

    >>> rectangle(Decimal(5), Decimal(2))
    Section(area=Decimal('10'), centroid=Decimal('1'))
    """
    return Section(EXACT.multiply(width, height), height / 2)


def ellipse(width: Decimal, height: Decimal) -> Section:
    """A whole ellipse (a circle where both are one): area pi w h/4, centroid at h/2.

    >>> round(ellipse(Decimal(2), Decimal(2)).area, 6)
    Decimal('3.141593')
    """
    return Section(EXACT.multiply(PI, width * height / 4), height / 2)


def half_ellipse(width: Decimal, height: Decimal) -> Section:
    """Half an ellipse on its flat side (half a circle where h = w/2): area pi w h/4, centroid at 4 h/(3 pi).

    Its half axes are w/2 and h. At height y it is w sqrt(1 - y^2/h^2) wide; the integral of that over y from 0
    to h is pi w h/4, and that of y times it w h^2/3, whose quotient is 4 h/(3 pi).

    >>> round(half_ellipse(Decimal(2), Decimal(1)).centroid, 6)
    Decimal('0.424413')
    """
    return Section(EXACT.multiply(PI, width * height / 4), EXACT.divide(4 * height, 3 * PI))


def segment(width: Decimal, height: Decimal) -> Section:
    """A segment of a circle on its chord w, h high: flat below, an arc above.

    The radius is R = (w^2/4 + h^2)/(2 h) and the half angle a = 2 atan(2 h/w), so that the area is that of the
    sector less the triangle below the chord, R^2 a - (R - h) w/2. The first moment of a segment about the
    circle's centre is w^3/12, so its centroid lies w^3/(12 A) - (R - h) above the chord. Higher than h = w/2 it
    would overhang: `InvalidInput` at `/thickness`.

    >>> round(segment(Decimal(2), Decimal(1)).area, 6), round(segment(Decimal(2), Decimal(1)).centroid, 6)
    (Decimal('1.570796'), Decimal('0.424413'))
    """
    if height > width / 2:
        detail = "An arc over a flat base cannot be higher than half its width: take another profile."
        raise InvalidInput.of("too-thick", detail, "/thickness")
    radius = EXACT.divide(width * width / 4 + height * height, 2 * height)
    below = radius - height
    angle = 2 * arctangent(EXACT.divide(2 * height, width))
    area = EXACT.subtract(EXACT.multiply(EXACT.multiply(radius, radius), angle), below * width / 2)
    return Section(area, EXACT.subtract(EXACT.divide(width**3, 12 * area), below))


def ring(diameter: Decimal, inside_diameter: Decimal) -> Section:
    """The wall of a round tube: area pi (D^2 - d^2)/4, centroid at D/2.

    >>> round(ring(Decimal(3), Decimal(1)).area, 6)
    Decimal('6.283185')
    """
    outer, inner = ellipse(diameter, diameter), ellipse(inside_diameter, inside_diameter)
    return Section(outer.area - inner.area, diameter / 2)


def arctangent(value: Decimal) -> Decimal:
    """The angle in radians whose tangent is `value`, from 0 to 1, to some 45 digits.

    A flat arc is the small difference of two large areas, which floating point would lose.

    >>> round(4 * arctangent(Decimal(1)), 25)
    Decimal('3.1415926535897932384626434')
    """
    for _ in range(HALVINGS):
        root = EXACT.sqrt(EXACT.add(1, EXACT.multiply(value, value)))
        value = EXACT.divide(value, EXACT.add(1, root))
    square, term, total, odd = EXACT.multiply(value, value), value, value, 1
    while term and term.adjusted() > value.adjusted() - EXACT.prec:
        term, odd = EXACT.multiply(-term, square), odd + 2
        total = EXACT.add(total, EXACT.divide(term, Decimal(odd)))
    return EXACT.multiply(total, Decimal(2**HALVINGS))
