"""Show the melting model against the published rows.

    python data/models/melting_report.py --report FOLDER

Writes melting.svg, melting.png and melting.csv: computed less published at every row, before and after the refit,
and by use of the row. Reads melting_residuals.csv, which melting_refit.py writes; the figure needs the `data` extra.
"""

from __future__ import annotations

import argparse
import csv
from collections import defaultdict
from pathlib import Path
from typing import Any

from melting_gibbs import FOLDER

COLOURS = {"fit": "#1b6ca8", "aside": "#d1495b", "compare": "#edae49", "failed": "#8d8d8d", "remembered": "#66a182"}
WORDS = {
    "fit": "read, open to the fit",
    "aside": "read, kept aside",
    "compare": "read, for comparison only",
    "failed": "read, failed: not fitted",
    "remembered": "from memory: not fitted, no proof",
}
LEAST_GOLD = 33.0
Row = dict[str, str]


def summary(rows: list[Row]) -> list[dict[str, Any]]:
    """Mean and root mean square of the residuals by use, end and field, before and after."""
    groups: dict[tuple[str, str, str], list[Row]] = defaultdict(list)
    for row in rows:
        groups[row["use"], row["end"], _field(row)].append(row)
    found = []
    for (use, end, field), members in sorted(groups.items()):
        line: dict[str, Any] = {"use": use, "end": end, "field": field, "figures": len(members)}
        for when in ("before", "after"):
            values = [float(row[when]) for row in members]
            line[f"mean_abs_{when}"] = round(sum(map(abs, values)) / len(values), 1)
            line[f"rms_{when}"] = round((sum(value**2 for value in values) / len(values)) ** 0.5, 1)
        found.append(line)
    return found


def _shares(row: Row) -> dict[str, float]:
    words = row["composition"].split()
    return dict(zip(words[::2], map(float, words[1::2]), strict=True))


def _field(row: Row) -> str:
    gold = _shares(row).get("Au", 0.0)
    return "silver-copper" if gold == 0 else "gold from 33 %" if gold >= LEAST_GOLD else "gold below 33 %"


def draw(rows: list[Row], folder: Path) -> None:
    """Residuals before and after over the share of gold, as SVG and PNG."""
    import matplotlib as mpl

    mpl.use("Agg")
    mpl.rcParams["svg.hashsalt"] = "melting"
    from matplotlib import pyplot as plt

    figure, axes = plt.subplots(2, 2, figsize=(11, 7.5), sharex=True, sharey=True, layout="constrained")
    for line, end in zip(axes, ("liquidus", "solidus"), strict=True):
        for axis, when in zip(line, ("before", "after"), strict=True):
            for use, words in WORDS.items():
                here = [row for row in rows if row["use"] == use and row["end"] == end]
                gold = [_shares(row).get("Au", 0.0) for row in here]
                off = [float(row[when]) for row in here]
                axis.plot(gold, off, "x" if use == "failed" else "o", color=COLOURS[use], label=words, alpha=0.85)
            axis.axhline(0, color="black", linewidth=0.8)
            axis.set_title(f"{end}, {when} the refit")
            axis.set_ylim(-40, 55)
            axis.grid(alpha=0.3)
    figure.supxlabel("gold, % by mass")
    figure.supylabel("published less computed, °C")
    figure.legend(*axes[0, 0].get_legend_handles_labels(), loc="outside upper center", ncols=3)
    for suffix in ("svg", "png"):
        figure.savefig(folder / f"melting.{suffix}", dpi=150, metadata={"Date": None} if suffix == "svg" else None)
    plt.close(figure)


def main() -> None:
    """Write the three files and print the summary."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--report", type=Path, required=True, metavar="FOLDER")
    folder: Path = parser.parse_args().report
    folder.mkdir(parents=True, exist_ok=True)
    with (FOLDER / "models" / "melting_residuals.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    table = summary(rows)
    with (folder / "melting.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(table[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(table)
    for line in table:
        print("  ".join(f"{value}" for value in line.values()))
    draw(rows, folder)


if __name__ == "__main__":
    main()
