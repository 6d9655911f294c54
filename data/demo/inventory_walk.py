"""A small stock system walks through a night and a casting day with the service as its metal math.

Saltmarsh Bench is invented, and so are its 5,000 lots, its prices and its order. At night every lot is revalued in
one bulk request. By day an order is recorded, metal leaves the stock, what is bought comes in, and what the casting
gives back returns as lots. In the end every metal is accounted for to the last decimal.
The environment variable ALLOYREF_API_KEY holds a key that may read and write.
"""

from __future__ import annotations

import argparse
import csv
import io
import os
import random
import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import requests

from alloyref.client import Client, ServiceProblem

API_KEY = "ALLOYREF_API_KEY"
HOW_TO_GET_A_KEY = "alloyref keys create walk --scope read --scope write"
LOTS = 5_000
SEED = 1883
METALS = ("gold-585-yellow", "gold-750-yellow", "gold-750-rose", "sterling-silver", "fine-gold", "fine-silver")
WHAT = ("casting grain", "button", "sprue", "sheet offcut", "wire end", "lemel", "trial")
UNITS = {"g": Decimal(1), "dwt": Decimal("1.55517384")}
PRICES = {"Au": Decimal("104.50"), "Ag": Decimal("1.32")}
HELD = {"Au": "result_gold", "Ag": "result_silver"}
FINAL = "gold-585-yellow"
COLUMNS = ("lot", "what", "metal", "mass", "unit")


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot as the stock system keeps it; the mass in the unit it was weighed in."""

    lot: str
    what: str
    metal: str
    mass: Decimal
    unit: str = "g"

    @property
    def grams(self) -> Decimal:
        """Exact: both units are defined."""
        return self.mass * UNITS[self.unit]


def invented_lots(count: int = LOTS) -> list[Lot]:
    """Lots of an invented stock, the same at every run."""
    dice = random.Random(SEED)  # noqa: S311  nothing secret is drawn
    lots = []
    for number in range(1, count + 1):
        mass = Decimal(dice.randint(5, 4_000)).scaleb(-2)
        unit = "g" if dice.random() < 0.8 else "dwt"
        lots.append(Lot(f"SB-{number:05}", dice.choice(WHAT), dice.choice(METALS), mass, unit))
    return lots


def revalue(shop: Client, lots: Iterable[Lot], folder: Path) -> dict[str, Decimal]:
    """One bulk request for all lots: fine metal in g by symbol, and the worth at the prices."""
    source, target = folder / "stock.csv", folder / "revalued.csv"
    with source.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(COLUMNS)
        rows.writerows([one.lot, one.what, one.metal, one.mass, one.unit] for one in lots)
    with source.open("rb") as sent, target.open("wb") as received:
        told = shop.bulk("contents", sent, received, keep="lot,what")
    if told["errors"]:
        raise SystemExit(f"{told['errors']} lots could not be valued; see {target}")
    held = dict.fromkeys(HELD, Decimal(0))
    with target.open(encoding="utf-8", newline="") as stream:
        for row in csv.DictReader(stream):
            for symbol, column in HELD.items():
                held[symbol] += Decimal(row[column])
    return held


def fine(shop: Client, lots: Iterable[Lot]) -> dict[str, Decimal]:
    """The stock's own account of every element in g, exact: mass by the composition that the service gives."""
    account: dict[str, Decimal] = {}
    for metal, mass in _by_metal(lots).items():
        for symbol, share in shop.alloy(metal).composition.items():
            account[symbol] = account.get(symbol, Decimal(0)) + mass * share / 1000
    return account


def _by_metal(lots: Iterable[Lot]) -> dict[str, Decimal]:
    masses: dict[str, Decimal] = {}
    for one in lots:
        masses[one.metal] = masses.get(one.metal, Decimal(0)) + one.grams
    return masses


def order_of(lots: list[Lot]) -> dict[str, Any]:
    """Two bands in the yellow gold, proved in sterling, with two of the stock's lots to melt in."""
    chosen = on_hand(lots)
    return {
        "name": "reed-pattern band",
        "trial": {"metal": "sterling-silver", "mass": "6.31 g"},
        "final_metal": FINAL,
        "pieces": 12,
        "allowances": {"sprue_share": "0.4", "melt_loss": "0.01", "finishing_loss": "0.08"},
        "on_hand": [{"metal": one.metal, "mass": f"{one.mass} {one.unit}", "kind": "scrap"} for one in chosen],
        "purchase": {"form": "alloyed", "increment": "0.5 g"},
        "prices": [{"metal": "Au", "price": str(PRICES["Au"]), "currency": "EUR", "date": "2026-11-20"}],
    }


def on_hand(lots: list[Lot]) -> list[Lot]:
    """Two clean lots of the metal that is cast."""
    fit = [one for one in lots if one.metal == FINAL and one.what in ("button", "sprue") and one.grams < 60]
    return fit[:2]


def grams(quantity: Any) -> Decimal:
    """A mass of an answer, which is in g."""
    return Decimal(quantity.value)


def cast(lots: list[Lot], answer: Any) -> list[Lot]:
    """The stock after the casting: the melted is gone, what was bought beyond it is there, returns are lots."""
    to_buy, returns = answer.quantity("to_buy").more, answer.quantity("returns").more
    used = {one.lot: grams(use["used"]) for one, use in zip(on_hand(lots), to_buy["on_hand"], strict=True)}
    after = []
    for one in lots:
        left = one.grams - used.get(one.lot, Decimal(0))
        if one.lot not in used:
            after.append(one)
        elif left:
            after.append(replace(one, mass=left, unit="g"))
    number = len(lots)
    arrivals = [("left over", FINAL, grams(item["left_over"])) for item in to_buy["items"]]
    arrivals += [(lot["kind"], lot["metal"], grams(lot["mass"])) for lot in returns["items"]]
    for what, metal, mass in arrivals:
        if mass:
            number += 1
            after.append(Lot(f"SB-{number:05}", what, metal, mass))
    return after


def walk(address: str, folder: Path) -> dict[str, Any]:
    """The whole walk; what it found, for whoever wants to check it."""
    with Client(address) as shop:
        lots = invented_lots()
        night = revalue(shop, lots, folder)
        before = fine(shop, lots)
        answer = shop.calculate("order", order_of(lots), record=True)
        kept = shop.get(f"/v1/shop/records/{answer.record}")
        after_lots = cast(lots, answer)
        after = fine(shop, after_lots)
        bought = sum((grams(item["mass"]) for item in answer.quantity("to_buy").more["items"]), Decimal(0))
        books = answer.result["balance"]["total"]
        gone = Decimal(books["pieces"]) + Decimal(books["loss"])
        shares = shop.alloy(FINAL).composition
        open_ends = {
            symbol: before[symbol] + (bought - gone) * shares.get(symbol, Decimal(0)) / 1000 - after[symbol]
            for symbol in before
        }
        return {
            "lots": len(lots),
            "held": night,
            "worth": sum((mass * PRICES[symbol] for symbol, mass in night.items()), Decimal(0)),
            "account": before,
            "record": kept,
            "bought": bought,
            "gone": gone,
            "lots_after": len(after_lots),
            "held_after": revalue(shop, after_lots, folder),
            "open_ends": open_ends,
        }


def _asked(arguments: list[str] | None) -> argparse.Namespace:
    """What the command line asks; a wrong one ends with 2, the usage and what is missing."""
    first, _, rest = (__doc__ or "").partition("\n\n")
    parser = argparse.ArgumentParser(
        description=first, epilog=rest, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("address", help="the running service, such as http://127.0.0.1:8087")
    parser.add_argument("folder", type=Path, help="where the tables are written; made if it is not there")
    asked = parser.parse_args(arguments)
    if not os.environ.get(API_KEY, "").strip():
        parser.error(f"{API_KEY} holds no key; make one that may write: {HOW_TO_GET_A_KEY}")
    try:
        asked.folder.mkdir(exist_ok=True)
    except OSError as error:
        parser.error(f"the folder {asked.folder} cannot be used: {error.strerror}")
    return asked


def main(arguments: list[str] | None = None) -> None:
    """Walk, and tell; whatever stops it is said in a line."""
    asked = _asked(arguments)
    try:
        told = walk(asked.address, asked.folder)
    except ServiceProblem as problem:
        raise SystemExit(f"The service refused: {problem}") from None
    except requests.RequestException as error:
        raise SystemExit(f"No service answers at {asked.address}; start it with: alloyref serve\n({error})") from None
    out = io.StringIO()
    print(f"{told['lots']} lots, revalued in one request: worth {told['worth']:.2f} EUR in precious metal", file=out)
    print(f"order recorded as {told['record']['id']}; {told['bought']} g bought", file=out)
    print(f"{told['gone']} g left in pieces and loss; {told['lots_after']} lots now", file=out)
    for symbol, rest in told["open_ends"].items():
        print(f"  {symbol}: {rest.normalize():f} g unaccounted for", file=out)
    sys.stdout.write(out.getvalue())


if __name__ == "__main__":
    main()
