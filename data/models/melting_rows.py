"""The published rows that the model is fitted to or shown against, and which of them are kept aside."""

from __future__ import annotations

import csv
import random
from dataclasses import dataclass, replace

from melting_gibbs import FOLDER

SEED = 20261125
SHARE_ASIDE = 5
"""One row in this many is kept aside from the fit."""
SYMBOLS = ("Au", "Ag", "Cu")


@dataclass(frozen=True)
class Datum:
    """One published temperature in C. `end` is solidus or liquidus; `use` says what it serves for."""

    row: str
    end: str
    weight: tuple[float, float, float]
    published: float
    use: str
    reason: str

    @property
    def text(self) -> str:
        """The composition as the tables write it."""
        return " ".join(f"{symbol} {share:g}" for symbol, share in zip(SYMBOLS, self.weight, strict=True) if share)


def read_rows() -> list[Datum]:
    """Every row of melting_rows.csv with its printed figures; the open ones are told apart into `fit` and `aside`.

    The two ends of one printed row stay together, so that a row kept aside is unknown to the fit.
    """
    with (FOLDER / "models" / "melting_rows.csv").open(encoding="utf-8", newline="") as stream:
        data = [_datum(line) for line in csv.DictReader(stream)]
    names = sorted({one.row for one in data if one.use == "open"})
    aside = set(random.Random(SEED).sample(names, max(1, len(names) // SHARE_ASIDE)))  # noqa: S311
    return [replace(one, use="aside" if one.row in aside else "fit") if one.use == "open" else one for one in data]


def _datum(line: dict[str, str]) -> Datum:
    source, _, row = line["row"].partition("/")
    with (FOLDER / "publications" / f"{source}.csv").open(encoding="utf-8", newline="") as stream:
        printed = next(one for one in csv.DictReader(stream) if one["row"] == row)
    words = printed["composition"].split()
    shares = dict(zip(words[::2], map(float, words[1::2]), strict=True))
    end = "solidus" if line["property"] == "solidus" else "liquidus"
    weight = tuple(shares.get(symbol, 0.0) for symbol in SYMBOLS)
    return Datum(line["row"], end, weight, float(printed[line["property"]]), line["use"], line["reason"])
