"""Where a charge goes: pieces, sprue and button, spare castings, lemel, loss."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from alloyref.domain.order import ORDER
from alloyref.domain.order.inputs import OrderInputs
from alloyref.domain.order.results import OrderResult
from alloyref.domain.reference import Reference
from alloyref.pictures.drawing import INK, Drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

NAMES = {"sprue-and-button": "sprue and button", "spare-castings": "spare castings", "lemel": "lemel (filings)"}
COLOURS = {
    "finished pieces": "#b8860b",
    "sprue and button": "#7f8f6a",
    "spare castings": "#6f8fa3",
    "lemel (filings)": "#a3836f",
    "melt loss": "#9c2a10",
}
GAP = 0.07
LEAST_SHOWN = Decimal("0.0001")


@dataclass(frozen=True, slots=True)
class Stream:
    """One way the metal goes, in g."""

    name: str
    mass: Decimal


def streams(result: OrderResult) -> list[Stream]:
    """Where the charge goes; the streams sum to it, as the order's books do."""
    total = result.balance.total
    out = [Stream("finished pieces", total.pieces)]
    out += [Stream(NAMES.get(lot.kind, lot.kind), lot.mass) for lot in result.returns.items]
    return [stream for stream in (*out, Stream("melt loss", total.loss)) if stream.mass >= LEAST_SHOWN]


def flow(inputs: OrderInputs, reference: Reference) -> Drawing:
    """The order's charge as a flow, each way as wide as it is heavy; what the order refuses is refused here too."""
    return flow_of(ORDER.run(inputs, reference).result, inputs.final_metal.name)


def flow_of(result: OrderResult, metal: str) -> Drawing:
    """The flow of an order that is worked out already, in a metal of that name."""
    charge, out = result.balance.total.mass_in, streams(result)
    told = "; ".join(f"{stream.name} {stream.mass:.2f} g ({100 * stream.mass / charge:.0f} %)" for stream in out)
    says = f"Of {charge:.2f} g weighed into the crucible: {told}."
    return Drawing(
        f"Where {charge:.2f} g of {metal} goes",
        says,
        lambda axes: _draw(axes, out),
        (8.0, 5.0),
        True,
    )


def _draw(axes: Axes, out: list[Stream]) -> None:
    from matplotlib.patches import PathPatch, Rectangle  # noqa: PLC0415
    from matplotlib.path import Path  # noqa: PLC0415

    total = float(sum(stream.mass for stream in out))
    left, right = 0.0, GAP * (len(out) - 1) / 2
    axes.add_patch(Rectangle((-0.06, 0), 0.06, -1, color="#5c574e"))
    axes.annotate("crucible", (-0.03, 0.02), ha="center", va="bottom", fontsize=10)
    for stream in out:
        width = float(stream.mass) / total
        bend = [(0, -left), (0.5, -left), (0.5, right - left), (1, right - left)]
        back = [(1, right - left - width), (0.5, right - left - width), (0.5, -left - width), (0, -left - width)]
        codes = [Path.MOVETO, *[Path.CURVE4] * 3, Path.LINETO, *[Path.CURVE4] * 3, Path.CLOSEPOLY]
        colour = COLOURS.get(stream.name, "#777777")
        axes.add_patch(PathPatch(Path([*bend, *back, bend[0]], codes), facecolor=colour, alpha=0.75, linewidth=0))
        words = f"{stream.name}: {stream.mass:.2f} g, {100 * width:.1f} %"
        axes.annotate(words, (1.03, right - left - width / 2), va="center", fontsize=10, color=INK)
        left += width
        right -= GAP
    axes.set_xlim(-0.15, 1.75)
    axes.set_ylim(-1 - GAP * len(out), GAP * len(out) / 2 + 0.1)
