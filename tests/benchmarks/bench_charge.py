"""How much the charge adds to the bare solver: the whole answer over HiGHS by SciPy on the same matrix, in one run.

Usage: python tests/benchmarks/bench_charge.py [--lots 200] [--rounds 7]
The bare solve is `linprog` on a dense matrix that is ready made; the answer reads the question, solves, brings it
to the balance, checks it exactly, and writes it. Prints medians and their ratio; nothing is asserted.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from typing import Any

import orjson
from scipy.optimize import linprog

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import read_dataset
from alloyref.domain.charge import CHARGE
from alloyref.services.calculations import answer
from alloyref.web.schemas.answer import answer_json
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.write import Writers

MASS = 100.0


def question(lots: int) -> dict[str, Any]:
    """A charge of many lots at prices near their gold's, the same in every run."""
    draw = random.Random(20_261_125)  # noqa: S311 - a fixed draw, no secret
    found = []
    for number in range(lots):
        gold = draw.randint(300, 900)
        silver = draw.randint(0, 1000 - gold)
        found.append(
            {
                "id": f"lot {number}",
                "mass": f"{draw.randint(100, 3000) / 100} g",
                "metal": {"composition": {"Au": gold, "Ag": silver, "Cu": 1000 - gold - silver}},
                "price": round(gold * 0.1 * draw.uniform(0.9, 1.1), 2),
            }
        )
    shelf = [{"metal": symbol, "price": price} for symbol, price in (("Au", 104), ("Ag", 1.4), ("Cu", 0.02))]
    windows = [{"elements": "Ag", "least": 100, "most": 250}]
    target = {"mass": f"{MASS:g} g", "mark": 585, "jurisdiction": "UK", "windows": windows}
    return {"target": target, "lots": found, "shelf": shelf, "max_scrap_share": 0.7, "currency": "EUR"}


def bare(asked: dict[str, Any]) -> Callable[[], Any]:
    """The same linear programme as a matrix, ready to be solved."""
    lots = asked["lots"]
    compositions = [lot["metal"]["composition"] for lot in lots] + [{one["metal"]: 1000} for one in asked["shelf"]]
    gold, silver = ([one.get(symbol, 0) / 1000 for one in compositions] for symbol in ("Au", "Ag"))
    scrap = [1.0] * len(lots) + [0.0] * len(asked["shelf"])
    rows = [[-one for one in gold], [-one for one in silver], silver, scrap]
    right = [-0.585 * MASS, -0.1 * MASS, 0.25 * MASS, 0.7 * MASS]
    bounds = [(0.0, float(lot["mass"].removesuffix(" g"))) for lot in lots] + [(0.0, None)] * len(asked["shelf"])
    costs = [float(one["price"]) for one in (*lots, *asked["shelf"])]
    return lambda: linprog(costs, rows, right, [[1.0] * len(costs)], [MASS], bounds)


def median_of(work: Callable[[], Any], rounds: int) -> float:
    """The median time of some rounds, in seconds."""
    times = []
    for _ in range(rounds):
        begun = time.perf_counter()
        work()
        times.append(time.perf_counter() - begun)
    return statistics.median(times)


def run(lots: int, rounds: int) -> None:
    """Measure and print."""
    reference = read_dataset(data_folder()).reference
    loaders, writers = Loaders(reference), Writers(reference.units)
    asked = question(lots)

    def whole() -> bytes:
        inputs = loaders.load(CHARGE.inputs, asked)
        return orjson.dumps(answer_json(answer(CHARGE, inputs, reference), writers))

    solve = bare(asked)
    ours, cost = orjson.loads(whole())["result"]["least_cost"]["value"], float(solve().fun)
    bare_time, whole_time = median_of(solve, rounds), median_of(whole, rounds)
    print(f"{lots} lots: bare solve {bare_time * 1000:.1f} ms at {cost:.2f}")
    print(f"{lots} lots: whole answer {whole_time * 1000:.1f} ms at {ours:.2f}: {whole_time / bare_time:.1f}x")


if __name__ == "__main__":
    from arguments import given

    run(**given(__doc__, lots=200, rounds=7))
