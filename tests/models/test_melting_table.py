"""The checked-in melting table: sealed, smooth, and what its parameters give, without pycalphad."""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Callable, Iterator
from decimal import Decimal
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from alloyref.catalogue.files import data_folder
from alloyref.domain.composition import Composition
from alloyref.domain.melting import NODES, STEPS, MeltingTable, node_index
from alloyref.domain.reference import Reference

Load = Callable[[str], ModuleType]
DATA = data_folder()
# Fixed points of ITS-90 (Preston-Thomas 1990).
MELTING = {"AG": 961.78, "AU": 1064.18, "CU": 1084.62}


def rows_of(name: str) -> list[dict[str, str]]:
    """A csv table of the data folder."""
    with (DATA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def table(reference: Reference) -> MeltingTable:
    """The table as the service holds it."""
    return reference.melting


def test_the_seal_holds() -> None:
    """Shape, column sums and hash; and the parameters are those that the table was made from."""
    seal = {row["what"]: row["value"] for row in rows_of("models/melting_seal.csv")}
    rows = rows_of("melting_nodes.csv")
    assert len(rows) == NODES == int(seal["nodes"]) == 5151
    for end in ("solidus", "liquidus"):
        assert sum(Decimal(row[end]) for row in rows) == Decimal(seal[f"{end}_sum"])
    for what, name in (("table_sha256", "melting_nodes.csv"), ("parameters_sha256", "melting_parameters.csv")):
        content = (DATA / name).read_bytes().replace(b"\r\n", b"\n")
        assert hashlib.sha256(content).hexdigest() == seal[what], f"{name} is not what the table was made with"


def test_the_seal_is_written_as_it_is_read(script: Load) -> None:
    assert script("melting_table").sealed() == {
        row["what"]: row["value"] for row in rows_of("models/melting_seal.csv")
    }


@pytest.mark.parametrize("symbol", MELTING)
def test_each_pure_metal_melts_where_it_must(script: Load, symbol: str) -> None:
    """The energies of solid and liquid are equal at the fixed point, and liquid is the more stable above it."""
    model = script("melting_gibbs").Model()

    def gap(celsius: float) -> float:
        at = celsius + 273.15
        return float(model.value(f"GLIQ{symbol}", at) - model.value(f"GHSER{symbol}", at))

    assert abs(gap(MELTING[symbol])) < 0.01  # J/mol: about a mK
    assert gap(MELTING[symbol] - 1) > 0 > gap(MELTING[symbol] + 1)


# Binaries, the eutectic, the goldsmith's range, the miscibility gap and both sides of its step.
SAMPLE = [(50, 50), (80, 0), (0, 72), (0, 92), (35, 0), (75, 12), (75, 16), (58, 20), (58, 30), (37, 31)]
SAMPLE += [(92, 4), (33, 33), (45, 45), (10, 45), (2, 60), (5, 7), (5, 8), (99, 1), (1, 1), (1, 98), (20, 20)]


@pytest.mark.parametrize(("gold", "silver"), SAMPLE)
def test_the_table_is_what_the_parameters_give(script: Load, table: MeltingTable, gold: int, silver: int) -> None:
    equilibrium = script("melting_equilibrium")
    found = equilibrium.Equilibrium(script("melting_gibbs").Model()).melting(gold, silver, STEPS - gold - silver)
    index = node_index(gold, silver)
    held = table.solidus[index] / 100, table.liquidus[index] / 100
    # Half the last decimal kept, and the millikelvin at which the solver stops.
    assert held == pytest.approx(found, abs=0.06)


def test_slopes_are_those_of_the_energy(script: Load) -> None:
    """First derivatives against differences of the energy, at a composition where every term counts."""
    gibbs = script("melting_gibbs")
    model, x, step = gibbs.Model(), np.array([0.2, 0.5, 0.3]), 1e-6
    for phase in gibbs.PHASES:
        total, first, second = model.point(phase, list(x), 1150.0)
        assert total == pytest.approx(float(model.energy(phase, x, 1150.0)), abs=1e-6)
        for index in range(3):
            ahead, behind = x.copy(), x.copy()
            ahead[index] += step
            behind[index] -= step
            difference = float(model.energy(phase, ahead, 1150.0) - model.energy(phase, behind, 1150.0)) / (2 * step)
            assert first[index] == pytest.approx(difference, rel=1e-5)
            slopes = [np.array(model.point(phase, list(at), 1150.0)[1]) for at in (ahead, behind)]
            assert second[index] == pytest.approx(list((slopes[0] - slopes[1]) / (2 * step)), rel=1e-4, abs=1)


def node_errors(values: tuple[int, ...]) -> Iterator[tuple[float, int, int]]:
    """How far each node lies off its six neighbours, in C, on the line of neighbours that it fits best.

    A crease runs along one of the three lines and leaves that one straight; a wrong node is off all of them. On an
    edge there is one line only, so that the end of a eutectic shows there.
    """
    for gold in range(STEPS + 1):
        for silver in range(STEPS + 1 - gold):
            off = []
            for step, across in ((1, -1), (1, 0), (0, 1)):
                ends = [(gold + step, silver + across), (gold - step, silver - across)]
                if all(min(au, ag) >= 0 and au + ag <= STEPS for au, ag in ends):
                    mean = sum(values[node_index(au, ag)] for au, ag in ends) / 2
                    off.append((values[node_index(gold, silver)] - mean) / 100)
            if off:
                yield min(map(abs, off)), gold, silver


def odd_nodes(values: tuple[int, ...], limit: float) -> list[tuple[int, int]]:
    """Nodes that are further off their neighbours than the limit in C."""
    return [(gold, silver) for error, gold, silver in node_errors(values) if error > limit]


def test_no_liquidus_stands_out_from_its_neighbours(table: MeltingTable) -> None:
    assert set(odd_nodes(table.liquidus, LIQUIDUS_LIMIT)) == EUTECTIC


def test_no_solidus_stands_out_but_where_solids_part(table: MeltingTable) -> None:
    """The ends of the eutectic, the steep flank of gold-copper, and the step at the rim of the miscibility gap."""
    assert set(odd_nodes(table.solidus, SOLIDUS_LIMIT)) == EUTECTIC_ENDS | STEEP | STEP


def test_those_are_what_the_parameters_give(script: Load, table: MeltingTable) -> None:
    solver = script("melting_equilibrium").Equilibrium(script("melting_gibbs").Model())
    for gold, silver in sorted(EUTECTIC | EUTECTIC_ENDS | STEEP | STEP):
        index = node_index(gold, silver)
        held = table.solidus[index] / 100, table.liquidus[index] / 100
        assert held == pytest.approx(solver.melting(gold, silver, STEPS - gold - silver), abs=0.06)


def test_the_node_test_finds_a_spoilt_node(table: MeltingTable) -> None:
    """A point that failed silently, as an equilibrium program leaves one in a thousand, is off by 10 C and more."""
    for gold, silver in ((75, 12), (50, 25), (40, 5), (60, 0), (0, 80)):
        spoilt = list(table.liquidus)
        spoilt[node_index(gold, silver)] += 1000
        assert (gold, silver) in odd_nodes(tuple(spoilt), LIQUIDUS_LIMIT)


LIQUIDUS_LIMIT, SOLIDUS_LIMIT = 1.0, 2.5
EUTECTIC = {(0, 71), (0, 72)}
EUTECTIC_ENDS = {(0, 6), (0, 7), (0, 8), (0, 91), (0, 92)}
STEEP = {(98, 0), (99, 0)}
STEP = {(16, 8), (17, 8)}


def test_interpolation_is_good_to_a_degree(script: Load, reference: Reference) -> None:
    """Midway between nodes, where it is worst, against the solver: within 1 C from 33 % gold up."""
    solver = script("melting_equilibrium").Equilibrium(script("melting_gibbs").Model())
    for gold, silver in ((75.5, 12.5), (58.5, 26.5), (91.7, 3.2), (37.5, 31.2), (50.5, 9.5), (80.5, 0.5)):
        shares = {"Au": Decimal(str(gold)), "Ag": Decimal(str(silver))}
        shares["Cu"] = 100 - sum(shares.values())
        composition = Composition.from_permille({name: share * 10 for name, share in shares.items()}, shares)
        served = [float(one.value) for one in reference.estimated_melting(composition)]
        assert served == pytest.approx(solver.melting(gold, silver, 100 - gold - silver), abs=1.0)


def test_the_fit_is_what_the_rows_give(script: Load) -> None:
    """The constant in the parameter table is what the fit finds, and melting_residuals.csv is its outcome."""
    refit, data = script("melting_refit"), script("melting_rows").read_rows()
    used = [one for one in data if one.use == "fit"]
    change, without, left_out = refit.best_change(used, "(LIQUID,AG,AU;0)")
    parameters = {row["function"]: row for row in rows_of("melting_parameters.csv")}
    assert round(change) == int(parameters["REFIT(LIQUID,AG,AU;0)"]["expression"])
    assert left_out < without
    held = {(row["row"], row["end"]): row for row in rows_of("models/melting_residuals.csv")}
    assert len(held) == len(data)
    read = [one for one in data if one.use in ("fit", "aside")]
    after = refit.residuals(read, {"(LIQUID,AG,AU;0)": change})
    for one, off in zip(read, after, strict=True):
        row: dict[str, Any] = held[one.row, one.end]
        assert (row["use"], float(row["published"])) == (one.use, one.published)
        assert float(row["after"]) == pytest.approx(float(off), abs=0.1)


def test_rows_kept_aside_are_met_better_after_the_fit() -> None:
    aside = [row for row in rows_of("models/melting_residuals.csv") if row["use"] == "aside"]
    squares = {when: sum(float(row[when]) ** 2 for row in aside) for when in ("before", "after")}
    assert len(aside) >= 2
    assert squares["after"] < squares["before"]


def test_the_database_text_holds_every_parameter(script: Load) -> None:
    text = script("melting_database").database_text()
    for row in rows_of("melting_parameters.csv"):
        name = row["function"].replace(";", ":VA;") if "FCC" in row["function"] else row["function"]
        assert name in text or name.startswith("REFIT"), name
    assert "-16402+1.14*T-113" in text
