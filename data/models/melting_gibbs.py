"""Gibbs energies of liquid and fcc Au-Ag-Cu from the parameters in data/melting_parameters.csv.

J/mol and K. Both phases are substitutional solutions: the pure elements, ideal mixing, and for each pair
x_i x_j sum(L_n (x_i - x_j)^n). Components stand in the order of `ELEMENTS`, which is that of the database text.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
FOLDER = Path(__file__).resolve().parent.parent
PARAMETERS = FOLDER / "melting_parameters.csv"
ELEMENTS = ("AG", "AU", "CU")
PAIRS = ((0, 1), (0, 2), (1, 2))
PHASES = ("LIQUID", "FCC_A1")
PURE = {"LIQUID": "GLIQ", "FCC_A1": "GHSER"}
R = 8.31451
"""The gas constant of the published assessments and of pycalphad's databases, J/(mol K)."""
LEAST = 1e-11
"""Mole fractions are kept above this, so that logarithms stay finite."""

_TERM = re.compile(
    r"(?P<sign>[+-]?)(?:(?P<name>[A-Z][A-Z0-9]+)"
    r"|(?P<factor>(?:\d+\.?\d*|\.\d+)(?:E[+-]\d+)?)(?P<temperature>\*T(?:\*\*\(?(?P<power>-?\d+)\)?)?(?P<ln>\*LN\(T\))?)?)"
)


@dataclass(frozen=True)
class Piece:
    """One function over one range of temperature, as written in the table."""

    function: str
    low: float
    high: float
    expression: str


def read_pieces(path: Path = PARAMETERS) -> list[Piece]:
    """Every line of the parameter table."""
    with path.open(encoding="utf-8", newline="") as stream:
        return [
            Piece(row["function"], float(row["low"]), float(row["high"]), row["expression"])
            for row in csv.DictReader(stream)
        ]


def term_values(expression: str, temperature: float, value: Callable[[str], float]) -> list[float]:
    """The terms of an expression at a temperature; `value` gives a function named in it."""
    found, at = [], 0
    while at < len(expression):
        term = _TERM.match(expression, at)
        if term is None or term.end() == at:
            raise ValueError(f"cannot read {expression[at:]!r}")
        at = term.end()
        number = value(term["name"]) if term["name"] else float(term["factor"])
        if term["temperature"]:
            number *= temperature ** int(term["power"] or 1)
            number *= math.log(temperature) if term["ln"] else 1
        found.append(-number if term["sign"] == "-" else number)
    return found


class Model:
    """Both phases with one set of parameters.

    A line `REFIT(...)` of the table is a constant in J/mol that is added to the parameter `L(...)` of the same
    arguments. `changes`, by the arguments, takes the place of all those lines.
    """

    def __init__(self, changes: Mapping[str, float] | None = None) -> None:
        self._pieces: dict[str, list[Piece]] = {}
        for piece in read_pieces():
            self._pieces.setdefault(piece.function, []).append(piece)
        refitted = [name for name in self._pieces if name.startswith("REFIT")]
        found = {name.removeprefix("REFIT"): float(self._pieces[name][0].expression) for name in refitted}
        self._changes = found if changes is None else dict(changes)
        self._kept: dict[tuple[str, float], tuple[Array, list[list[float]]]] = {}

    def value(self, function: str, temperature: float) -> float:
        """A function of temperature in J/mol."""
        piece = next(one for one in self._pieces[function] if temperature < one.high)
        terms = term_values(piece.expression, temperature, lambda name: self.value(name, temperature))
        return math.fsum(terms) + self._changes.get(function.removeprefix("L"), 0.0)

    def _at(self, phase: str, temperature: float) -> tuple[Array, list[list[float]]]:
        """The pure elements and the interaction parameters of each pair at a temperature."""
        key = (phase, temperature)
        if key not in self._kept:
            if len(self._kept) > 200:
                self._kept.clear()
            pure = np.array([self.value(PURE[phase] + symbol, temperature) for symbol in ELEMENTS])
            interactions = []
            for first, second in PAIRS:
                stem = f"L({phase},{ELEMENTS[first]},{ELEMENTS[second]};"
                names = [f"{stem}{order})" for order in range(4)]
                interactions.append([self.value(name, temperature) for name in names if name in self._pieces])
            self._kept[key] = pure, interactions
        return self._kept[key]

    def energy(self, phase: str, x: Array, temperature: float) -> Array:
        """Gibbs energy of compositions in the last axis of `x` (mole fractions)."""
        pure, interactions = self._at(phase, temperature)
        x = np.maximum(x, LEAST)
        total = x @ pure + R * temperature * np.sum(x * np.log(x), axis=-1)
        for (first, second), orders in zip(PAIRS, interactions, strict=True):
            difference = x[..., first] - x[..., second]
            total = total + x[..., first] * x[..., second] * np.polynomial.polynomial.polyval(difference, orders)
        return np.asarray(total)

    def point(self, phase: str, x: list[float], temperature: float) -> tuple[float, list[float], list[list[float]]]:
        """Energy of one composition and its partial derivatives, first and second, all fractions independent.

        Plain floats: called for one composition at a time, arrays would cost more than the sum itself.
        """
        pure, interactions = self._at(phase, temperature)
        rt = R * temperature
        x = [max(share, LEAST) for share in x]
        logs = [math.log(share) for share in x]
        total = sum(share * (float(own) + rt * log) for share, own, log in zip(x, pure, logs, strict=True))
        first = [float(own) + rt * (log + 1) for own, log in zip(pure, logs, strict=True)]
        second = [[rt / x[row] if row == column else 0.0 for column in range(3)] for row in range(3)]
        for (i, j), orders in zip(PAIRS, interactions, strict=True):
            a, b, d = x[i], x[j], x[i] - x[j]
            s = sum(one * d**n for n, one in enumerate(orders))
            s1 = sum(n * one * d ** (n - 1) for n, one in enumerate(orders) if n > 0)
            s2 = sum(n * (n - 1) * one * d ** (n - 2) for n, one in enumerate(orders) if n > 1)
            total += a * b * s
            first[i] += b * s + a * b * s1
            first[j] += a * s - a * b * s1
            second[i][i] += 2 * b * s1 + a * b * s2
            second[j][j] += -2 * a * s1 + a * b * s2
            cross = s + a * s1 - b * s1 - a * b * s2
            second[i][j] += cross
            second[j][i] += cross
        return total, first, second

    def potentials(self, phase: str, x: Array, temperature: float) -> Array:
        """Chemical potentials of one composition: the tangent plane at it."""
        shares = [float(share) for share in x]
        total, first, _ = self.point(phase, shares, temperature)
        along = sum(share * slope for share, slope in zip(shares, first, strict=True))
        return np.array([total + slope - along for slope in first])
