"""Better the recalled parameters with the measured rows, and write what that changes.

    python data/models/melting_refit.py

Each candidate is a constant added to the first liquid parameter of a pair that is not from a read assessment. It is
kept only if it lowers the error of the fitted rows when each is left out in turn; the rows kept aside take no
part. Prints the line for melting_parameters.csv and writes melting_residuals.csv.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence

import numpy as np
from melting_equilibrium import ZERO_C, Equilibrium
from melting_gibbs import FOLDER, Model
from melting_rows import Datum, read_rows

CANDIDATES = ("(LIQUID,AG,AU;0)", "(LIQUID,AU,CU;0)")
STEP = 200.0
UNMOVED = 1e-4
"""A row that moves less than this, C per J/mol, does not feel the parameter (the solver stops at 1 mK)."""
WORTH = 0.05
"""The left-out error must fall by this much, C, for a parameter to be changed at all."""
PHASES = {"solidus": ("FCC_A1", "LIQUID"), "liquidus": ("LIQUID", "FCC_A1")}
COLUMNS = ("row", "composition", "end", "published", "use", "before", "after", "reason")


def residuals(data: Sequence[Datum], changes: Mapping[str, float] | None) -> np.ndarray:
    """Published less computed, in C."""
    solver = Equilibrium(Model(changes))
    found = []
    for one in data:
        au, ag, cu = one.weight
        found.append(one.published - solver.boundary(*PHASES[one.end], np.array([ag, au, cu])) + ZERO_C)
    return np.array(found)


def rms(values: np.ndarray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def best_change(data: Sequence[Datum], name: str) -> tuple[float, float, float]:
    """The least-squares constant for one parameter; the left-out error without and with it.

    The response of the boundaries to a constant is linear within a few hundred J/mol, so one step gives it.
    """
    base = residuals(data, {})
    response = (residuals(data, {name: STEP}) - base) / STEP

    def fitted(use: np.ndarray) -> float:
        if float(np.abs(response[use]).max()) < UNMOVED:
            return 0.0
        return -float(response[use] @ base[use]) / float(response[use] @ response[use])

    # Both ends of one printed row are left out together, else one would vouch for the other.
    names = np.array([one.row for one in data])
    left_out = base.copy()
    for name_of_row in set(names):
        out = names == name_of_row
        left_out[out] += response[out] * fitted(~out)
    return fitted(np.ones(len(data), dtype=bool)), rms(base), rms(left_out)


def main() -> None:
    """Fit, print the outcome, write the residuals."""
    data = read_rows()
    used = [one for one in data if one.use == "fit"]
    kept: dict[str, float] = {}
    for name in CANDIDATES:
        change, without, left_out = best_change(used, name)
        better = left_out < without - WORTH
        print(f"{name}: {change:.0f} J/mol; left-out rms {without:.2f} -> {left_out:.2f} C; kept: {better}")
        if better:
            kept[name] = float(round(change))
    before, after = residuals(data, {}), residuals(data, kept)
    for use in ("fit", "aside", "compare", "failed", "remembered"):
        here = np.array([one.use == use for one in data])
        print(f"{use}: {here.sum()} figures, rms {rms(before[here]):.2f} -> {rms(after[here]):.2f} C")
    with (FOLDER / "models" / "melting_residuals.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(COLUMNS)
        for one, old, new in zip(data, before, after, strict=True):
            values = (
                one.row,
                one.text,
                one.end,
                f"{one.published:g}",
                one.use,
                f"{old:.1f}",
                f"{new:.1f}",
                one.reason,
            )
            writer.writerow(values)
    for name, change in kept.items():
        print(f'"REFIT{name}",298.15,3000,{change:g}')


if __name__ == "__main__":
    main()
