"""A summary, a figure and a table of published against modelled densities, for people."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

from alloyref.catalogue.density_data import Use

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


def summary(residuals: str) -> str:
    """Mean and worst deviation by what the rows are used for."""
    rows = list(csv.DictReader(io.StringIO(residuals)))
    lines = ["rows             n   ideal: mean  worst   model: mean  worst  percent"]
    groups: dict[str, Callable[[dict[str, str]], bool]] = {
        "fitted": lambda row: row["use"] == Use.FIT,
        "kept aside": lambda row: row["use"] == Use.ASIDE,
        "copper alloys": lambda row: row["row"].startswith("copper-alloy"),
        "all": lambda row: True,
    }
    for name, belongs in groups.items():
        found = [row for row in rows if belongs(row)]
        figures = []
        for column in ("ideal_off_percent", "model_off_percent"):
            offs = [abs(float(row[column])) for row in found]
            figures += [sum(offs) / len(offs), max(offs)]
        columns = "   ".join(f"{mean:>11.2f} {worst:>6.2f}" for mean, worst in (figures[:2], figures[2:]))
        lines.append(f"{name:<14} {len(found):>3}   {columns}")
    return "\n".join(lines)
