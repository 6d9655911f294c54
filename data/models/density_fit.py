"""Fit the density model to the published rows, and write its tables: terms, candidates, residuals, limits.

    python data/models/density_fit.py                    writes the four tables in data/
    python data/models/density_fit.py --check            compares with what is there, changes nothing
    python data/models/density_fit.py --report FOLDER    also a figure (svg, png) and a table for people

The model is 1/rho = sum(w_i / rho_i) + sum(L_ij w_i w_j), mass fractions w, element densities at 20 C. A pair
gets a term L only if enough rows hold it and it lowers the error of those rows when they are left out of the fit.
"""

from __future__ import annotations

import argparse
import csv
import io
import math
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import ROUND_UP, Decimal
from itertools import combinations
from pathlib import Path

import numpy as np
from density_report import summary, write_report

from alloyref.catalogue.density_data import LIMIT_COLUMNS, TERM_COLUMNS, MeasuredDensity, Use
from alloyref.catalogue.reader import model_of, read_elements, read_measured, read_printed
from alloyref.domain.density import DENSITY_MODEL, DensityModel, MixingTerm
from alloyref.domain.numbers import plain
from alloyref.domain.provenance import Status

DATA = Path(__file__).resolve().parents[1]
LEAST_ROWS = 3
LEAST_SHARE = Decimal(10)
"""A pair is tried if this many fitted rows hold both elements at 10 permille or more."""
LEAST_GAIN = 0.1
"""A term stays if it takes this fraction off the root mean square error of the pair's own rows, each left out.

It may not raise the error of all rows either. The gain is not taken over all rows: it would then depend on how many
rows of other metals the table happens to hold.
"""
ONE_SERIES = ("karmarsch-1877", "rose-gold-copper-density", "gold-copper-lattice")
"""Sources whose rows are points of one line or share one method's error: they are left out together."""
FADES = Decimal(50)
"""Permille of other metals at which a term is gone whose rows hold nothing but its pair (a judgement, no source)."""
NOBLE = ("Au", "Ag", "Cu")
OPEN_OR_LIGHT = ("Si", "Ge", "Ga", "Sb", "Al", "Li", "Be")
"""Open structures that close up when dissolved, and light metals that form compounds with heavy ones."""
REACH = Decimal("1.2")
"""The copper field goes a fifth past the largest share of each addition that was read."""
RESIDUAL_COLUMNS = (
    "row,composition,use,published,ideal,ideal_off_percent,model,model_off_percent,left_out_off_percent"
)
CANDIDATE_COLUMNS = (
    "step,pair,rows,rms_percent_without,rms_percent_with,all_rms_percent_without,all_rms_percent_with,kept"
)

Pair = tuple[str, str]


@dataclass(frozen=True)
class Fitted:
    """A row with its fold: rows of one fold are left out together."""

    row: MeasuredDensity
    fold: str
    shares: dict[str, float]
    ideal_volume: float

    @property
    def volume(self) -> float:
        """The published specific volume."""
        return 1 / float(self.row.density)


def coefficients(rows: Sequence[Fitted], pairs: Sequence[Pair]) -> list[float]:
    """Least squares of the relative error in specific volume."""
    if not pairs:
        return []
    products = np.array([[product(row, pair) / row.volume for pair in pairs] for row in rows])
    excess = np.array([(row.volume - row.ideal_volume) / row.volume for row in rows])
    return [float(one) for one in np.linalg.lstsq(products, excess, rcond=None)[0]]


def product(row: Fitted, pair: Pair) -> float:
    """The product of the two mass fractions."""
    return row.shares.get(pair[0], 0.0) * row.shares.get(pair[1], 0.0)


def off(row: Fitted, pairs: Sequence[Pair], values: Sequence[float]) -> float:
    """Published over modelled density, less one."""
    excess = sum(value * product(row, pair) for pair, value in zip(pairs, values, strict=True))
    return (row.ideal_volume + excess) / row.volume - 1


def left_out(rows: Sequence[Fitted], pairs: Sequence[Pair]) -> list[float]:
    """The error at each row of the model fitted without its fold."""
    found = []
    for row in rows:
        others = [other for other in rows if other.fold != row.fold]
        found.append(off(row, pairs, coefficients(others, pairs)))
    return found


def rms(errors: Sequence[float]) -> float:
    """Root mean square."""
    return math.sqrt(sum(one * one for one in errors) / len(errors))


def candidates(rows: Sequence[Fitted]) -> dict[Pair, int]:
    """The pairs that enough rows hold, with how many do."""
    elements = sorted({symbol for row in rows for symbol in row.shares})
    counts = {pair: sum(holds(row, pair) for row in rows) for pair in combinations(elements, 2)}
    return {pair: count for pair, count in counts.items() if count >= LEAST_ROWS}


def holds(row: Fitted, pair: Pair) -> bool:
    """Whether the row has both elements in more than traces."""
    return all(row.row.composition.fineness(symbol) >= LEAST_SHARE for symbol in pair)


@dataclass(frozen=True)
class Trial:
    """A pair on trial: errors of its own rows and of all, each left out, without its term and with it."""

    pair: Pair
    rows: int
    own: tuple[float, float]
    all: tuple[float, float]

    @property
    def passes(self) -> bool:
        """Whether the pair's own rows gain enough, and all rows together lose nothing."""
        return self.own[1] <= self.own[0] * (1 - LEAST_GAIN) and self.all[1] <= self.all[0]


def trial(rows: Sequence[Fitted], chosen: Sequence[Pair], pair: Pair) -> Trial:
    """What the term of this pair does beside those already chosen."""
    own = [holds(row, pair) for row in rows]
    errors = [left_out(rows, pairs) for pairs in (chosen, [*chosen, pair])]
    without, with_it = ([one for one, counts in zip(found, own, strict=True) if counts] for found in errors)
    return Trial(pair, sum(own), (rms(without), rms(with_it)), (rms(errors[0]), rms(errors[1])))


def choose(rows: Sequence[Fitted]) -> tuple[list[Pair], list[list[str]]]:
    """The pairs that survive, the most helpful first, and the trial of every candidate at every step."""
    counts, chosen, lines = candidates(rows), list[Pair](), list[list[str]]()
    for step in range(1, len(counts) + 1):
        trials = [trial(rows, chosen, pair) for pair in counts if pair not in chosen]
        kept = min((one for one in trials if one.passes), key=lambda one: one.all[1], default=None)
        for one in trials:
            errors = [f"{100 * error:.3f}" for error in (*one.own, *one.all)]
            lines.append([str(step), "-".join(one.pair), str(one.rows), *errors, "yes" if one is kept else "no"])
        if kept is None:
            break
        chosen.append(kept.pair)
    return chosen, lines


def terms_of(rows: Sequence[Fitted], pairs: Sequence[Pair]) -> list[MixingTerm]:
    """The fitted terms, brought to 0.0001 cm3/g."""
    found = []
    for pair, value in zip(pairs, coefficients(rows, pairs), strict=True):
        resting = [row.row for row in rows if holds(row, pair)]
        alone = all(set(one.composition.elements) == set(pair) for one in resting)
        rounded, names = Decimal(f"{value:.4f}"), tuple(one.row for one in resting)
        found.append(MixingTerm(*pair, rounded, FADES if alone else None, Status.CALCULATED, DENSITY_MODEL, names))
    return found


def deviation(one: MeasuredDensity, model: DensityModel) -> Decimal:
    """Published over modelled density, less one."""
    return one.density / model.density(one.composition) - 1


def raised(value: Decimal, step: str) -> Decimal:
    """The next multiple of the step."""
    return (value / Decimal(step)).quantize(Decimal(1), rounding=ROUND_UP) * Decimal(step)


def limits_of(used: Sequence[MeasuredDensity], errors: dict[str, Decimal], ideal: DensityModel) -> list[list[str]]:
    """The fields with the worst error of their rows, and what other elements may swell or shrink."""
    noble = [one for one in used if set(one.composition.elements) <= set(NOBLE)]
    copper = [one for one in used if one.composition.base == "Cu" and one not in noble]
    silver = [one for one in noble if "Au" not in one.composition.elements]
    symbols = sorted({symbol for one in copper for symbol in one.composition.elements} - {"Cu"})
    least = min(one.composition.fineness("Cu") for one in copper) / REACH
    most = {symbol: max(one.composition.fineness(symbol) for one in copper) * REACH for symbol in symbols}
    shares = (
        f"Cu {plain(least.quantize(Decimal(1)))}",
        " ".join(f"{symbol} {plain(share.quantize(Decimal(1)))}" for symbol, share in most.items()),
    )
    lines = [
        _field("gold-silver-copper", NOBLE, ("", ""), noble, errors),
        _field("silver-copper", NOBLE[1:], ("", ""), silver, errors),
        _field("copper-alloys", ("Cu", *symbols), shares, copper, errors),
    ]
    binary = [one for one in used if len(one.composition.parts) == 2 and one not in noble]
    uncertain = [one for one in binary if set(one.composition.elements) & set(OPEN_OR_LIGHT)]
    metals = [one for one in binary if one not in uncertain]
    lines.append(_beside("open-or-light", OPEN_OR_LIGHT, uncertain, ideal))
    lines.append(_beside("other-metals", (), metals, ideal))
    return lines


def _field(
    name: str,
    elements: Sequence[str],
    shares: tuple[str, str],
    rows: Sequence[MeasuredDensity],
    errors: dict[str, Decimal],
) -> list[str]:
    worst = max(abs(errors[one.row]) for one in rows)
    basis = (
        f"{len(rows)} published densities, each left out or kept aside, lie within {100 * worst:.2f} % of the model"
    )
    return [name, "within", ";".join(elements), *shares, plain(raised(worst, "0.001")), str(len(rows)), basis]


def _beside(name: str, elements: Sequence[str], rows: Sequence[MeasuredDensity], ideal: DensityModel) -> list[str]:
    """The worst deviation from ideal mixing for each part of volume that the addition takes."""
    worst = max(abs(deviation(one, ideal)) / _added_volume(one, ideal) for one in rows)
    basis = (
        f"in {len(rows)} published densities of two elements the addition swells or shrinks by up to "
        f"{100 * worst:.1f} % of the volume it takes"
    )
    return [name, "beside", ";".join(elements), "", "", plain(raised(worst, "0.05")), str(len(rows)), basis]


def _added_volume(one: MeasuredDensity, ideal: DensityModel) -> Decimal:
    """The smaller of the two volumes, as a fraction of both."""
    volumes = [share / ideal.elements[symbol].value for symbol, share in one.composition.parts]
    return min(volumes) / sum(volumes)


def tables() -> dict[str, str]:
    """The text of every table that follows from the measured rows, by file name."""
    elements = read_elements(DATA)
    used = [one for one in read_measured(DATA, elements, read_printed(DATA)) if one.use is not Use.OUT]
    ideal = model_of(elements, (), ())
    rows = [_fitted(one, ideal) for one in used if one.use is Use.FIT]
    pairs, trials = choose(rows)
    terms = terms_of(rows, pairs)
    model = model_of(elements, terms, ())
    unseen = {row.row.row: Decimal(f"{error:.6f}") for row, error in zip(rows, left_out(rows, pairs), strict=True)}
    errors = {one.row: unseen.get(one.row, deviation(one, model)) for one in used}
    residuals = [_residual(one, ideal, model, unseen.get(one.row)) for one in used]
    term_lines = [_term(term) for term in terms]
    return {
        "density_terms.csv": _csv(TERM_COLUMNS, term_lines),
        "density_candidates.csv": _csv(CANDIDATE_COLUMNS, trials),
        "density_residuals.csv": _csv(RESIDUAL_COLUMNS, residuals),
        "density_limits.csv": _csv(LIMIT_COLUMNS, limits_of(used, errors, ideal)),
    }


def _term(term: MixingTerm) -> list[str]:
    fades = "" if term.fades is None else plain(term.fades)
    return [term.first, term.second, plain(term.value), fades, term.status, term.source, ";".join(term.rows)]


def _fitted(one: MeasuredDensity, ideal: DensityModel) -> Fitted:
    source = one.row.partition("/")[0]
    shares = {symbol: float(share) for symbol, share in one.composition.fractions}
    fold = source if source in ONE_SERIES else one.row
    return Fitted(one, fold, shares, 1 / float(ideal.density(one.composition)))


def _residual(one: MeasuredDensity, ideal: DensityModel, model: DensityModel, unseen: Decimal | None) -> list[str]:
    shares = " ".join(f"{symbol} {plain(share)}" for symbol, share in one.composition.parts)
    figures = [f"{rule.density(one.composition):.3f}" for rule in (ideal, model)]
    offs = [f"{100 * deviation(one, rule):.2f}" for rule in (ideal, model)]
    last = "" if unseen is None else f"{100 * unseen:.2f}"
    return [one.row, shares, one.use, str(one.density), figures[0], offs[0], figures[1], offs[1], last]


def _csv(header: str, lines: Iterable[Sequence[str]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(header.split(","))
    writer.writerows(lines)
    return stream.getvalue()


def main() -> int:
    """Write the tables, or compare them."""
    parser = argparse.ArgumentParser(description="Fit the density model to the published rows.")
    parser.add_argument("--check", action="store_true", help="compare with the tables that are there, write nothing")
    parser.add_argument("--report", type=Path, metavar="FOLDER", help="write a figure and a table for people here")
    chosen = parser.parse_args()
    made = tables()
    stale = []
    for name, text in made.items():
        path = DATA / name
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            stale.append(name)
            if not chosen.check:
                path.write_text(text, encoding="utf-8", newline="\n")
    print(summary(made["density_residuals.csv"]))
    print(f"{'out of step' if chosen.check else 'written'}: {', '.join(stale) or 'nothing'}")
    if chosen.report:
        write_report(made["density_residuals.csv"], chosen.report)
    return 1 if chosen.check and stale else 0


if __name__ == "__main__":
    sys.exit(main())
