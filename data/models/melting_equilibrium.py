"""Solidus and liquidus by common tangent planes, from the Gibbs energies alone.

The plane of a phase at a composition is its tangent plane, or, where the phase splits in two (silver-rich and
copper-rich solid), the plane through both. The liquidus is where the liquid's plane first touches the solid,
the solidus where the solid's plane first touches the liquid.
"""

from __future__ import annotations

import math

import numpy as np
from melting_gibbs import LEAST, Array, Model
from scipy.optimize import brentq, fsolve, linprog

COLDEST, HOTTEST = 1000.0, 1400.0
ZERO_C = 273.15
NEARBY = 6.0
"""Half-width in K of the first bracket about a guess."""
TOUCHES = 1e-3
"""A plane holds if the phase comes no more than this below it, J/mol: about 0.1 mK."""
SMALLEST, CONVERGED, NOISE = 1e-9, 1e-7, 1e-9
"""Newton's method: least part of a step, relative step at which it ends, and rounding error in J/mol."""
MASSES = np.array([107.8682, 196.966569, 63.546])
"""Standard atomic masses of Ag, Au, Cu in u, as in elements.csv."""


def _grid(steps: int) -> Array:
    pairs = [(a, b, steps - a - b) for a in range(steps + 1) for b in range(steps + 1 - a)]
    return np.maximum(np.array(pairs, dtype=float) / steps, LEAST)


GRID = _grid(100)
CORNER = 0.2


def mole_fractions(weight: Array) -> Array:
    """Mole fractions of a composition by mass (Ag, Au, Cu)."""
    moles = np.asarray(weight, dtype=float) / MASSES
    return np.asarray(moles / moles.sum())


class Equilibrium:
    """Solidus and liquidus of one model."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self._last_split: dict[tuple[str, bytes], list[Array]] = {}

    def deepest(self, phase: str, plane: Array, active: Array, temperature: float) -> tuple[float, Array]:
        """How far the phase comes below a plane, and where; only `active` components are looked at."""
        points = GRID[np.all(GRID[:, ~active] <= LEAST, axis=1)]
        above = self.model.energy(phase, points, temperature) - points @ plane
        starts = [points[int(np.argmin(above))]]
        apart = np.abs(points - starts[0]).max(axis=1) > CORNER
        if apart.any():
            starts.append(points[apart][int(np.argmin(above[apart]))])
        polished = [self._polish(phase, start, plane, active, temperature) for start in starts]
        return min(polished, key=lambda one: one[0])

    def _polish(self, phase: str, x: Array, plane: Array, active: Array, temperature: float) -> tuple[float, Array]:
        """Newton's method from a grid point to the local minimum of the energy above the plane."""
        here = [int(index) for index in np.flatnonzero(active)]
        level = [float(one) for one in plane]
        at = [max(float(share), 1e-6) if index in here else 0.0 for index, share in enumerate(x)]
        at = [share / sum(at) for share in at]

        def depth(shares: list[float]) -> tuple[float, list[float], list[list[float]]]:
            total, first, second = self.model.point(phase, shares, temperature)
            below = sum(share * one for share, one in zip(shares, level, strict=True))
            return total - below, [slope - one for slope, one in zip(first, level, strict=True)], second

        value, slope, curve = depth(at)
        for _ in range(80):
            step = _newton_step([slope[k] for k in here], [[curve[k][m] for m in here] for k in here])
            change = dict(zip(here, step, strict=True))
            relative = max(abs(one) / at[k] for k, one in change.items())
            room = min((at[k] / -one for k, one in change.items() if one < 0), default=math.inf)
            scale = min(1.0, 0.9 * room)
            while scale > SMALLEST:
                tried = [share + scale * change.get(k, 0.0) for k, share in enumerate(at)]
                lower, slope, curve = depth(tried)
                if lower <= value + NOISE:
                    at, value = tried, lower
                    break
                scale /= 2
            if relative < CONVERGED or scale <= SMALLEST:
                break
        return value, np.array(at)

    def plane(self, phase: str, x: Array, active: Array, temperature: float) -> Array:
        """The plane of a phase at a composition, through two of its compositions where it splits."""
        tangent = self.model.potentials(phase, x, temperature)
        depth, other = self.deepest(phase, tangent, active, temperature)
        if depth > -TOUCHES:
            return tangent
        # A neighbour's split is nearly this one's; only if that leads nowhere is it looked for from nothing.
        last = self._last_split.get((phase, active.tobytes()))
        if last is not None:
            exact = self._split(phase, last, x, active, temperature)
            if exact is not None and self.deepest(phase, exact, active, temperature)[0] > -TOUCHES:
                return exact
        points, plane = [x, other], tangent
        for corner in np.flatnonzero(active):
            points.append(np.where(np.arange(3) == corner, 1.0, LEAST))
        for _ in range(80):
            plane, weights = self._lower_hull(phase, points, x, active, temperature)
            depth, other = self.deepest(phase, plane, active, temperature)
            if depth > -1.0:
                used = [points[index] for index in np.argsort(-weights) if weights[index] > 1e-9]
                exact = self._split(phase, used, x, active, temperature)
                if exact is not None and self.deepest(phase, exact, active, temperature)[0] > -TOUCHES:
                    return exact
            if depth > -1e-6:
                return plane
            points.append(other)
        raise ArithmeticError(f"no common plane for {phase} at {x} and {temperature} K")

    def _lower_hull(
        self, phase: str, points: list[Array], x: Array, active: Array, temperature: float
    ) -> tuple[Array, Array]:
        """The plane under the given points that is highest at `x`, and the share of each point in `x`."""
        here = np.flatnonzero(active)
        at = np.array(points)[:, here]
        energies = self.model.energy(phase, np.array(points), temperature)
        base = energies.min()
        found = linprog(
            -x[here], A_ub=at, b_ub=(energies - base) / 1000, bounds=[(None, None)] * len(here), method="highs"
        )
        plane = np.zeros(3)
        plane[here] = found.x * 1000 + base
        return plane, -np.asarray(found.ineqlin.marginals)

    def _split(self, phase: str, points: list[Array], x: Array, active: Array, temperature: float) -> Array | None:
        """The exact plane through two compositions of a phase, the first points the first guess; None if none is."""
        here = np.flatnonzero(active)
        first = points[0]
        far = [one for one in points if np.abs(one - first).max() > 0.02]
        if not far:
            return None
        pair = np.concatenate([np.log(first[here]), np.log(far[0][here])])
        size = len(here)

        def unpack(logs: Array) -> tuple[Array, Array]:
            ends = []
            for part in (logs[:size], logs[size:]):
                end = np.zeros(3)
                end[here] = np.exp(np.clip(part, -30, 3))
                ends.append(end)
            return ends[0], ends[1]

        def misfit(logs: Array) -> Array:
            one, two = unpack(logs)
            sums = [one.sum() - 1, two.sum() - 1]
            a, b = one / one.sum(), two / two.sum()
            gap = self.model.potentials(phase, a, temperature) - self.model.potentials(phase, b, temperature)
            off = [(a - x)[here[0]] * (b - x)[here[1]] - (a - x)[here[1]] * (b - x)[here[0]]] if size == 3 else []
            return np.array([*(gap[here] / 1000), *sums, *off])

        logs, _, closed, _ = fsolve(misfit, pair, full_output=True, xtol=1e-12)
        one, two = unpack(logs)
        if closed != 1 and float(np.abs(misfit(logs)).max()) > 1e-7:
            return None
        if float(np.abs(one - two).max()) < 1e-3 or float((one - x) @ (two - x)) > 0:
            return None
        self._last_split[phase, active.tobytes()] = [one, two]
        return self.model.potentials(phase, one / one.sum(), temperature)

    def boundary(self, here: str, there: str, weight: Array, near: float | None = None) -> float:
        """Temperature in K where the plane of phase `here` touches phase `there`; `near` is a first guess."""
        x = np.maximum(mole_fractions(weight), LEAST)
        active = np.asarray(weight) > 0

        def gap(temperature: float) -> float:
            return self.deepest(there, self.plane(here, x, active, temperature), active, temperature)[0]

        low, high = COLDEST, HOTTEST
        if near is not None and gap(near - NEARBY) * gap(near + NEARBY) < 0:
            low, high = near - NEARBY, near + NEARBY
        return float(brentq(gap, low, high, xtol=1e-3))

    def melting(
        self, au: float, ag: float, cu: float, near: tuple[float, float] | None = None
    ) -> tuple[float, float]:
        """Solidus and liquidus in C of a composition by mass, in any unit; `near` holds first guesses in C."""
        weight = np.array([ag, au, cu], dtype=float)
        guesses = (None, None) if near is None else (near[0] + ZERO_C, near[1] + ZERO_C)
        return (
            self.boundary("FCC_A1", "LIQUID", weight, guesses[0]) - ZERO_C,
            self.boundary("LIQUID", "FCC_A1", weight, guesses[1]) - ZERO_C,
        )


def _newton_step(slope: list[float], curve: list[list[float]]) -> list[float]:
    """The step that keeps sum(x) = 1, for up to three components; downhill also where the energy is not convex."""
    if len(slope) == 1:
        return [0.0]
    if len(slope) == 2:
        steepness = slope[0] - slope[1]
        bend = curve[0][0] + curve[1][1] - 2 * curve[0][1]
        step = -steepness / max(abs(bend), 1e-6)
        return [step, -step]
    g, h = slope[0] - slope[2], slope[1] - slope[2]
    a = curve[0][0] + curve[2][2] - 2 * curve[0][2]
    b = curve[0][1] + curve[2][2] - curve[0][2] - curve[1][2]
    c = curve[1][1] + curve[2][2] - 2 * curve[1][2]
    determinant = a * c - b * b
    if a > 0 and determinant > 0:
        first, second = (b * h - c * g) / determinant, (b * g - a * h) / determinant
    else:
        values, vectors = np.linalg.eigh(np.array([[a, b], [b, c]]))
        along = vectors.T @ np.array([-g, -h]) / np.maximum(np.abs(values), 1e-6)
        first, second = (float(one) for one in vectors @ along)
    return [first, second, -first - second]
