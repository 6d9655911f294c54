"""A drawing in plain data, and turning it into SVG or PNG."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SVG, PNG = "image/svg+xml", "image/png"
PNG_DPI = 144
ONE_AT_A_TIME = Lock()
"""The style is the same for the whole process while one is drawn."""
INK, SOFT, GROUND, ACCENT, WARM = "#1f1d1a", "#5c574e", "#fffefb", "#7a5c10", "#9c2a10"
STYLE: dict[Any, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "alloyref",
    "font.family": "sans-serif",
    "font.size": 11,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "text.color": INK,
}


@dataclass(frozen=True, slots=True)
class Drawing:
    """What is to be drawn: its title, what it shows in words (for those who do not see it), and the pen."""

    title: str
    says: str
    draw: Callable[[Axes], None]
    size: tuple[float, float] = (8.0, 6.0)
    bare: bool = False

    def render(self, media: str) -> bytes:
        """The drawing as SVG or PNG; the same drawing gives the same bytes."""
        import matplotlib as mpl  # noqa: PLC0415  half a second that only pictures need
        from matplotlib.figure import Figure  # noqa: PLC0415

        with ONE_AT_A_TIME, mpl.rc_context(STYLE):
            figure = Figure(figsize=self.size, facecolor=GROUND, layout="constrained")
            axes = figure.add_subplot(facecolor=GROUND)
            if self.bare:
                axes.axis("off")
            axes.set_title(self.title, loc="left", fontsize=13, fontweight="bold", pad=18)
            self.draw(axes)
            return self._svg(figure) if media == SVG else self._png(figure)

    def _svg(self, figure: Figure) -> bytes:
        out = io.BytesIO()
        figure.savefig(out, format="svg", metadata={"Title": self.title, "Description": self.says, "Date": None})
        return out.getvalue()

    def _png(self, figure: Figure) -> bytes:
        out = io.BytesIO()
        words: dict[str, Any] = {"Title": self.title, "Description": self.says, "Software": None}
        figure.savefig(out, format="png", dpi=PNG_DPI, metadata=words)
        return out.getvalue()
