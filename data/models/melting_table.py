"""Fill the table of solidus and liquidus at every whole percent by mass.

    python data/models/melting_table.py

Takes some minutes on one core. Writes melting_nodes.csv and melting_seal.csv; melting_verify.py then holds the nodes
against pycalphad.
"""

from __future__ import annotations

import csv
import hashlib
from pathlib import Path

from melting_equilibrium import Equilibrium
from melting_gibbs import FOLDER, PARAMETERS, Model

NODES = FOLDER / "melting_nodes.csv"
SEAL = FOLDER / "models" / "melting_seal.csv"
MELTING_POINTS = {(100, 0): 1064.18, (0, 100): 961.78, (0, 0): 1084.62}
"""Fixed points of ITS-90, by percent of Au and Ag."""
Table = dict[tuple[int, int], tuple[float, float]]


def nodes() -> list[tuple[int, int]]:
    """Percent of Au and Ag of each node, in the order of the table."""
    return [(au, ag) for au in range(101) for ag in range(101 - au)]


def fill(solver: Equilibrium) -> Table:
    """Solidus and liquidus in C of each node, started from a neighbour already done."""
    found: Table = {}
    for au, ag in nodes():
        near = found.get((au, ag - 1)) or found.get((au - 1, ag))
        found[au, ag] = solver.melting(au, ag, 100 - au - ag, near)
    return found


def write(table: Table) -> None:
    """The table to 0.1 C, the pure metals at their fixed points, and its seal."""
    with NODES.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(("au", "ag", "cu", "solidus", "liquidus"))
        for au, ag in nodes():
            fixed = MELTING_POINTS.get((au, ag))
            ends = [f"{value:.1f}" for value in table[au, ag]] if fixed is None else [f"{fixed}"] * 2
            writer.writerow((au, ag, 100 - au - ag, *ends))
    write_seal()


def sealed() -> dict[str, str]:
    """What the seal says of the files as they stand."""
    with NODES.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return {
        "nodes": str(len(rows)),
        "solidus_sum": f"{sum(float(row['solidus']) for row in rows):.2f}",
        "liquidus_sum": f"{sum(float(row['liquidus']) for row in rows):.2f}",
        "table_sha256": digest(NODES),
        "parameters_sha256": digest(PARAMETERS),
    }


def digest(path: Path) -> str:
    """SHA-256 of a file with LF line ends."""
    return hashlib.sha256(path.read_bytes().replace(b"\r\n", b"\n")).hexdigest()


def write_seal() -> None:
    """Write the seal of the table beside it."""
    with SEAL.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(("what", "value"))
        writer.writerows(sealed().items())


if __name__ == "__main__":
    write(fill(Equilibrium(Model())))
