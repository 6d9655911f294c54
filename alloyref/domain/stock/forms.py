"""The forms stock comes in: the dimensions each needs, and the metal in a length or a piece of it. All in mm."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.errors import InvalidInput, Issue
from alloyref.domain.numbers import EXACT, PI
from alloyref.domain.sections import Section, ellipse, half_ellipse, rectangle, ring

Dimensions = Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class Form:
    """One form: what it needs, what it may take, which dimension a gauge number can stand for.

    Either `section` gives the cross-section of stock that is sold by length, or `piece` the volume in mm3 of
    what is counted. `piece_length` gives the length of stock in one counted piece, where it has one.
    """

    needs: tuple[str, ...]
    may: tuple[str, ...] = ()
    gauge: str = ""
    section: Callable[[Dimensions], Section] | None = None
    piece: Callable[[Dimensions], Decimal] | None = None
    piece_length: Callable[[Dimensions], Decimal] | None = None


def _flat(size: Dimensions) -> Section:
    return rectangle(size["width"], size["thickness"])


def _half_round(size: Dimensions) -> Section:
    return half_ellipse(size["width"], size.get("thickness", size["width"] / 2))


def _tube(size: Dimensions) -> Section:
    outside = size["diameter"]
    if ("wall" in size) == ("inside_diameter" in size):
        raise InvalidInput.of("one-of", "A tube needs its wall or its inside_diameter, not both.", "/wall")
    if "wall" in size:
        inside = outside - 2 * size["wall"]
        if inside <= 0:
            detail = f"A wall of {size['wall']} mm leaves no bore in a tube of {outside} mm: take round-wire."
            raise InvalidInput.of("too-thick", detail, "/wall", ("round-wire",))
    else:
        inside = size["inside_diameter"]
        if inside >= outside:
            detail = f"A bore of {inside} mm leaves no wall in a tube of {outside} mm."
            raise InvalidInput.of("too-wide", detail, "/inside_diameter")
    return ring(outside, inside)


def _disc(size: Dimensions) -> Decimal:
    return EXACT.multiply(ellipse(size["diameter"], size["diameter"]).area, size["thickness"])


def _grain(size: Dimensions) -> Decimal:
    return EXACT.divide(EXACT.multiply(PI, size["diameter"] ** 3), Decimal(6))


def blank_length(inside_diameter: Decimal, thickness: Decimal) -> Decimal:
    """Length in mm of the strip that closes to a ring: pi x (inside diameter + thickness), its middle line.

    >>> round(blank_length(Decimal("17.35"), Decimal("1.5")), 3)
    Decimal('59.219')
    """
    return EXACT.multiply(PI, inside_diameter + thickness)


def _blank_length(size: Dimensions) -> Decimal:
    return blank_length(size["inside_diameter"], size["thickness"])


def _blank(size: Dimensions) -> Decimal:
    return EXACT.multiply(_flat(size).area, _blank_length(size))


FORMS = {
    "sheet": Form(("width", "thickness"), gauge="thickness", section=_flat),
    "strip": Form(("width", "thickness"), gauge="thickness", section=_flat),
    "round-wire": Form(
        ("diameter",), gauge="diameter", section=lambda size: ellipse(size["diameter"], size["diameter"])
    ),
    "square-wire": Form(
        ("thickness",), gauge="thickness", section=lambda size: rectangle(size["thickness"], size["thickness"])
    ),
    "half-round-wire": Form(("width",), ("thickness",), section=_half_round),
    "rectangular-wire": Form(("width", "thickness"), gauge="thickness", section=_flat),
    "tube": Form(("diameter",), ("wall", "inside_diameter"), section=_tube),
    "disc": Form(("diameter", "thickness"), gauge="thickness", piece=_disc),
    "ring-blank": Form(
        ("inside_diameter", "width", "thickness"), gauge="thickness", piece=_blank, piece_length=_blank_length
    ),
    "granules": Form(("diameter",), piece=_grain),
}
"""A half-round is half an ellipse, of a circle unless its thickness is given; granules are counted as spheres."""

DIMENSIONS = ("thickness", "width", "diameter", "inside_diameter", "wall")


def check_size(name: str, form: Form, size: Dimensions) -> None:
    """Refuse a form without a dimension it needs, or with one it does not have (`InvalidInput`, each by name)."""
    issues = []
    for dimension in DIMENSIONS:
        if dimension in form.needs and dimension not in size:
            gauge = " or as gauge and gauge_system" if dimension == form.gauge else ""
            issues.append(Issue("missing", f"A {name} needs its {dimension}{gauge}.", f"/{dimension}"))
        if dimension in size and dimension not in (*form.needs, *form.may):
            takes = ", ".join((*form.needs, *form.may))
            issues.append(Issue("not-needed", f"A {name} has no {dimension}; it takes {takes}.", f"/{dimension}"))
    if issues:
        raise InvalidInput(*issues)
