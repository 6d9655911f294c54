"""The gold-silver-copper triangle with contours of one property, and an alloy in it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from alloyref.domain.calculation import Choice, CompositionOf, item
from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput, NotAvailable
from alloyref.domain.numbers import plain
from alloyref.domain.reference import Reference
from alloyref.pictures.drawing import ACCENT, INK, SOFT, WARM, Drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.tri import Triangulation

CORNERS = ("Au", "Ag", "Cu")
HEIGHT = 3**0.5 / 2
STEP = 2
"""Percent between the points that contours are drawn through."""
EDGE = 0.01
"""A contour this near to a corner, as a share of the whole span, has no room for its number."""
SHOWS = ("liquidus", "solidus", "density", "karat")
LEVELS = {
    "liquidus": (range(780, 1090, 20), "liquidus, °C"),
    "solidus": (range(780, 1090, 20), "solidus, °C"),
    "density": (range(9, 20), "density, g/cm³"),
    "karat": ((8, 9, 10, 12, 14, 16, 18, 20, 22), "karat"),
}


@dataclass(frozen=True, slots=True)
class TriangleInputs:
    """What to draw contours of, and an alloy to mark."""

    shows: str = item(Choice(SHOWS), "The property whose contours are drawn.", default="liquidus")
    composition: Composition | None = item(
        CompositionOf(),
        "An alloy of gold, silver and copper to mark.",
        default=None,
        example="Au 585, Ag 205, Cu 210",
    )


def place(gold: float, silver: float, copper: float) -> tuple[float, float]:
    """Where shares by mass lie: gold at the top, silver at the left, copper at the right foot.

    >>> place(1.0, 0.0, 0.0)[0], place(0.0, 1.0, 0.0), place(0.0, 0.0, 1.0)
    (0.5, (0.0, 0.0), (1.0, 0.0))
    """
    total = gold + silver + copper
    return (copper + gold / 2) / total, HEIGHT * gold / total


def property_of(reference: Reference, composition: Composition, shows: str) -> Decimal | None:
    """The property at one point; None where the models give none."""
    if shows == "karat":
        return composition.fineness("Au") * 24 / 1000
    try:
        if shows == "density":
            return reference.estimated_density(composition).value
        solidus, liquidus = reference.estimated_melting(composition)
    except NotAvailable:
        return None
    return (solidus if shows == "solidus" else liquidus).value


@lru_cache(maxsize=8)
def _points(reference_key: _Key, shows: str) -> tuple[tuple[float, float, float | None], ...]:
    reference = reference_key.reference
    points = []
    for gold in range(0, 101, STEP):
        for silver in range(0, 101 - gold, STEP):
            shares = {"Au": gold, "Ag": silver, "Cu": 100 - gold - silver}
            here = Composition(tuple((symbol, Decimal(10 * share)) for symbol, share in shares.items() if share))
            value = property_of(reference, here, shows)
            x, y = place(gold, silver, 100 - gold - silver)
            points.append((x, y, None if value is None else float(value)))
    return tuple(points)


@dataclass(frozen=True, slots=True)
class _Key:
    """The reference under the hash of its content, so that what was worked out once is kept."""

    reference: Reference

    def __hash__(self) -> int:
        return hash(self.reference.dataset.hash)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Key) and other.reference.dataset.hash == self.reference.dataset.hash


def triangle(inputs: TriangleInputs, reference: Reference) -> Drawing:
    """Contours over the triangle, and the alloy's place with its own value.

    Raises `InvalidInput` for an alloy that holds anything else, and `NotAvailable` where nothing can be drawn.
    """
    marked = inputs.composition
    if marked is not None and not set(marked.elements) <= set(CORNERS):
        detail = "The triangle shows alloys of gold, silver and copper only."
        raise InvalidInput.of("not-in-the-field", detail, "/composition")
    _, words = LEVELS[inputs.shows]
    told = ""
    if marked is not None:
        value = property_of(reference, marked, inputs.shows)
        shares = ", ".join(f"{symbol} {plain(share)}" for symbol, share in marked.parts)
        number = "not available" if value is None else plain(round(value, 2))
        told = f" Marked: {shares} permille; {words.partition(',')[0]} {number}{_unit(words)}."
    says = (
        f"Triangle of gold (top), silver (left) and copper (right) by mass, with contours of {words}.{told}"
        " Between the lines values are estimates of the models; blank where there is none."
    )
    key = _Key(reference)
    return Drawing(f"Gold, silver, copper: {words}", says, lambda axes: _draw(axes, key, inputs), bare=True)


def _unit(words: str) -> str:
    unit = words.partition(", ")[2]
    return f" {unit}" if unit else ""


def _draw(axes: Axes, key: _Key, inputs: TriangleInputs) -> None:
    marked = inputs.composition
    levels, _ = LEVELS[inputs.shows]
    points = _points(key, inputs.shows)
    known = [(x, y, value) for x, y, value in points if value is not None]
    axes.set_aspect("equal")
    axes.plot([0, 1, 0.5, 0], [0, 0, HEIGHT, 0], color=INK, linewidth=1.2)
    _grid(axes)
    values = {value for _, _, value in known}
    edge = EDGE * (max(values) - min(values)) if values else 0
    drawn = [level for level in levels if values and min(values) + edge < level < max(values) - edge]
    if drawn and len(known) > len(CORNERS):
        xs, ys, zs = zip(*known, strict=True)
        mesh = _mesh(xs, ys)
        lines = axes.tricontour(mesh, zs, levels=drawn, colors=ACCENT, linewidths=1.1)
        axes.clabel(lines, fmt="%g", fontsize=9, colors=INK)
    for symbol, (x, y), across in zip(
        CORNERS, ((0.5, HEIGHT), (0, 0), (1, 0)), ("center", "right", "left"), strict=True
    ):
        axes.annotate(
            symbol, (x, y), (0, 6 if symbol == "Au" else -6), textcoords="offset points", ha=across, va="center"
        )
    if marked is not None:
        x, y = place(*(float(marked.fineness(symbol)) for symbol in CORNERS))
        axes.plot([x], [y], marker="o", markersize=9, color=WARM, markerfacecolor="none", markeredgewidth=2.2)


def _mesh(xs: tuple[float, ...], ys: tuple[float, ...]) -> Triangulation:
    """The triangles between neighbouring points; none is drawn across a part without values."""
    from matplotlib import tri  # noqa: PLC0415

    mesh = tri.Triangulation(xs, ys)
    longest = 1.05 * STEP / 100
    far = [
        any(
            (xs[a] - xs[b]) ** 2 + (ys[a] - ys[b]) ** 2 > longest**2
            for a, b in ((corners[0], corners[1]), (corners[1], corners[2]), (corners[2], corners[0]))
        )
        for corners in mesh.triangles
    ]
    mesh.set_mask(far)
    return mesh


def _grid(axes: Axes) -> None:
    for share in range(10, 100, 10):
        other = 100 - share
        for start, end in (
            (place(share, other, 0), place(share, 0, other)),
            (place(other, share, 0), place(0, share, other)),
            (place(other, 0, share), place(0, other, share)),
        ):
            axes.plot(*zip(start, end, strict=True), color=SOFT, linewidth=0.3, alpha=0.6)
        x, y = place(share, other, 0)
        axes.annotate(
            f"{share} % Au", (x, y), (-4, 0), textcoords="offset points", ha="right", va="center", fontsize=8
        )
