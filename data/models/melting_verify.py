"""Hold the nodes of the table against pycalphad: needs the `data` extra.

    python data/models/melting_verify.py [--every N]

A node agrees if pycalphad finds no liquid just below the solidus, some just above it, some solid just below the
liquidus and none just above it. Where they differ the energy decides, for the stable set is the one of least energy:
if the solid just below the solidus and the liquid just above the liquidus, as the table has them, lie no higher than
what pycalphad found, and each phase comes below the other's plane just inside the range, pycalphad missed the stable
set, as it does now and then at a coarse sampling of the phases. What is still open is asked again at a finer one.
Writes melting_verification.csv.
"""

from __future__ import annotations

import argparse
import csv
import warnings
from collections.abc import Sequence
from typing import Any

import numpy as np
from melting_database import database_text
from melting_equilibrium import ZERO_C, Equilibrium, mole_fractions
from melting_gibbs import FOLDER, LEAST, Model
from melting_table import MELTING_POINTS, NODES

MARGIN = 0.2
"""How close the boundaries must agree, C; the table itself is rounded by 0.05 C."""
SAME_ENERGY = 0.01
"""Energies closer than this, J/mol, do not decide."""
DENSITIES = (60, 500, 2000)
COMPONENTS, PHASES = ["AG", "AU", "CU", "VA"], ["LIQUID", "FCC_A1"]
PRESSURE = 101325


class Judge:
    """pycalphad with the model compiled once for each set of components."""

    def __init__(self) -> None:
        from pycalphad import Database

        self._database = Database(database_text())
        self._solver = Equilibrium(Model())
        self._compiled: dict[tuple[str, ...], Any] = {}

    def _records(self, components: list[str]) -> Any:
        from pycalphad import variables as v
        from pycalphad.codegen.phase_record_factory import PhaseRecordFactory
        from pycalphad.core.utils import instantiate_models

        key = tuple(components)
        if key not in self._compiled:
            models = instantiate_models(self._database, components, PHASES)
            records = PhaseRecordFactory(self._database, components, [v.N, v.P, v.T], models)
            self._compiled[key] = models, records
        return self._compiled[key]

    def phases(
        self, weight: Sequence[int], celsius: Sequence[float], density: int
    ) -> tuple[list[set[str]], list[float]]:
        """The stable phases and the energy at each temperature, for a composition by mass (Au, Ag, Cu)."""
        from pycalphad import equilibrium
        from pycalphad import variables as v

        shares = mole_fractions(np.array([weight[1], weight[0], weight[2]]))
        present = [(name, share) for name, share in zip(COMPONENTS, shares, strict=False) if share > 0]
        components = [name for name, _ in present] + ["VA"]
        models, records = self._records(components)
        conditions = {v.X(name): share for name, share in present[1:]}
        conditions |= {v.T: [value + ZERO_C for value in celsius], v.P: PRESSURE, v.N: 1}
        found = equilibrium(
            self._database,
            components,
            PHASES,
            conditions,
            model=models,
            phase_records=records,
            calc_opts={"pdens": density},
        )
        names = found.Phase.values.reshape(len(celsius), -1)
        return [{str(name) for name in row if name} for row in names], list(found.GM.values.reshape(-1))

    def agrees(self, weight: Sequence[int], solidus: float, liquidus: float, density: int) -> bool:
        """Whether the phases about both boundaries are those that the table says."""
        around = [solidus - MARGIN, solidus + MARGIN, liquidus - MARGIN, liquidus + MARGIN]
        (below, melting, freezing, above), _ = self.phases(weight, around, density)
        solid, liquid = below == {"FCC_A1"}, above == {"LIQUID"}
        return solid and liquid and "LIQUID" in melting and "FCC_A1" in freezing

    def missed(self, weight: Sequence[int], solidus: float, liquidus: float, density: int) -> bool:
        """Whether pycalphad, where it finds other phases, finds them at a higher energy than those of the table."""
        solver = self._solver
        shares = np.array([weight[1], weight[0], weight[2]])
        x, active = np.maximum(mole_fractions(shares), LEAST), shares > 0
        ends = [("FCC_A1", solidus - MARGIN), ("LIQUID", liquidus + MARGIN)]
        found, energies = self.phases(weight, [celsius for _, celsius in ends], density)
        for (phase, celsius), stable, energy in zip(ends, found, energies, strict=True):
            own = float(solver.plane(phase, x, active, celsius + ZERO_C) @ x)
            if stable != {phase} and energy < own + SAME_ENERGY:
                return False
        # Just inside the range the phase that the table leaves is not stable: the other lies below its plane.
        inside = [("FCC_A1", "LIQUID", solidus + MARGIN), ("LIQUID", "FCC_A1", liquidus - MARGIN)]
        for phase, other, celsius in inside:
            plane = solver.plane(phase, x, active, celsius + ZERO_C)
            if solver.deepest(other, plane, active, celsius + ZERO_C)[0] >= 0:
                return False
        return True


def main() -> None:
    """Check every nth node and write what was found."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--every", type=int, default=1, help="check one node in this many")
    every = parser.parse_args().every
    warnings.simplefilter("ignore")
    with NODES.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    asked = [row for row in rows if (int(row["au"]), int(row["ag"])) not in MELTING_POINTS][::every]
    judge, odd, counts = Judge(), asked, []
    for density in DENSITIES:
        differ = [row for row in odd if not judge.agrees(*_node(row), density)]
        still = [row for row in differ if not judge.missed(*_node(row), density)]
        counts.append((density, len(odd), len(odd) - len(differ), len(differ) - len(still), len(still)))
        print("density {}: {} asked, {} agree, {} missed by pycalphad, {} open".format(*counts[-1]), flush=True)
        odd = still
    with (FOLDER / "models" / "melting_verification.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(("sampling_density", "nodes_asked", "agreeing", "missed_by_pycalphad", "open"))
        writer.writerows(counts)
    for row in odd:
        print("odd:", *row.values())


def _node(row: dict[str, str]) -> tuple[list[int], float, float]:
    return [int(row[name]) for name in ("au", "ag", "cu")], float(row["solidus"]), float(row["liquidus"])


if __name__ == "__main__":
    main()
