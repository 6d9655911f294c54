"""The answer of a charge as a bench reads it: what to weigh and what comes of it, or what stands in its way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from alloyref.cli.layout import Json, cautions_of, dataset_line, ends, money, named, names_in, rests_on, table
from alloyref.domain.figures import mass_cells, mass_units


def charge_sheet(answer: Json) -> str:
    """The recipe, or the changes that would allow one, with windows and binding limits."""
    result = answer["result"]
    parts = [
        f"CHARGE: {result['summary']}",
        f"Made least: {result['least']}",
        *([_recipe(result, names_in(answer["inputs"])), _outcome(result)] if result["possible"] else []),
        _lines("WHAT BINDS", [one["words"] for one in result["limits"]]),
        _lines("LEFT OUT", [one["words"] for one in result["left_out"]]),
        _lines("WHAT WOULD HAVE TO CHANGE, ALL OF IT", [one["words"] for one in result["changes"]]),
        _lines("NOTES", result["notes"]),
        rests_on(answer["assumptions"]) if answer["assumptions"] else "",
        cautions_of(answer["cautions"]) if answer["cautions"] else "",
        dataset_line(answer),
    ]
    return "\n\n".join(part for part in parts if part)


def _recipe(result: Json, names: Mapping[str, str]) -> str:
    rows = [
        [named(one["id"], names), *_shown(one["mass"]), f"{one['share']['value']:.2%}", _money(one["cost"])]
        for one in result["recipe"]
    ]
    rows.append(["in all", *_shown(result["mass"]), "", _money(result["cost"])])
    return table("RECIPE", rows, ("weigh in", *mass_units(result["mass"]), "share", "cost", ""))


def _shown(mass: Json) -> list[str]:
    """A mass to the last step of a fine balance, and in dwt, ozt and the unit that was asked in."""
    return [f"{mass['value']:.4f}".rstrip("0").rstrip("."), *mass_cells(mass)[1:]]


def _money(amount: Json | None) -> str:
    return money(amount) if amount else ""


def _outcome(result: Json) -> str:
    shares: Any = result["composition"].items()
    rows = [["composition", ", ".join(f"{symbol} {share:g}" for symbol, share in shares)]]
    if result["fineness"]:
        rows.append([f"fineness of {result['base']}", f"{result['fineness']['value']:.3f} permille"])
    for name in ("density", "solidus", "liquidus"):
        value = result[name]
        if value:
            rows.append([name, f"{value['value']:g} {value['unit']} ({ends(value)}, {value['status']})"])
    if result["least_cost"]:
        rows.append(["no recipe costs less than", _money(result["least_cost"])])
    rows.append(["in steps of the balance", _how_near(result)])
    return table("WHAT COMES OF IT", rows)


def _how_near(result: Json) -> str:
    """Whether no recipe in steps of the balance is cheaper, or by how much one could be."""
    within = result["within"] or result["fine_within"]
    if not within["value"]:
        return "none is cheaper"
    return f"one could be cheaper, by {money(within) if result['within'] else _shown_mass(within)} at most"


def _shown_mass(mass: Json) -> str:
    return f"{mass['value']:g} {mass['unit']} of fine metal"


def _lines(title: str, lines: Sequence[str]) -> str:
    return "\n".join([title, *(f"  {line}" for line in lines)]) if lines else ""
