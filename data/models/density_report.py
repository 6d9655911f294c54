"""A figure and a table of published against modelled densities, for people."""

from __future__ import annotations

import csv
import io
from pathlib import Path

MARKS = {"fit": ("o", "fitted"), "aside": ("^", "kept aside")}


def write_report(residuals: str, folder: Path) -> None:
    """Write `density.svg`, `density.png` and `density.csv` into the folder; `residuals` is the table's text."""
    import matplotlib as mpl

    mpl.use("Agg")
    mpl.rcParams["svg.hashsalt"] = "density"
    from matplotlib import pyplot

    rows = list(csv.DictReader(io.StringIO(residuals)))
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "density.csv").write_text(residuals, encoding="utf-8", newline="\n")
    figure, axes = pyplot.subplots(figsize=(8, 0.22 * len(rows) + 1.5), layout="constrained")
    for position, row in enumerate(rows):
        marker, _ = MARKS[row["use"]]
        axes.plot(float(row["ideal_off_percent"]), position, marker, color="0.6", fillstyle="none")
        axes.plot(float(row["model_off_percent"]), position, marker, color="black")
    for marker, label in MARKS.values():
        axes.plot([], [], marker, color="0.6", fillstyle="none", linestyle="none", label=f"ideal mixing, {label}")
        axes.plot([], [], marker, color="black", linestyle="none", label=f"model, {label}")
    axes.axvline(0, color="black", linewidth=0.8)
    axes.set_yticks(range(len(rows)), [f"{row['composition']}  {row['published']}" for row in rows], fontsize=7)
    axes.invert_yaxis()
    axes.set_xlabel("published density over computed, less one, %")
    axes.legend(fontsize=7)
    for ending in ("svg", "png"):
        figure.savefig(folder / f"density.{ending}", dpi=150, metadata={"Date": None} if ending == "svg" else None)
    pyplot.close(figure)
