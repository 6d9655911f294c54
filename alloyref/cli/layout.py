"""Pieces of a printed sheet that every calculation shares."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from itertools import chain
from typing import Any

from tabulate import tabulate

from alloyref.cli.colour import caution
from alloyref.domain.figures import asked, figure, fixed, mass_cells, mass_range, mass_units

Json = Mapping[str, Any]
RULE = "-" * 72
MOST_DECIMALS, SHOWN_DECIMALS = 11, 6
"""A mass in another unit ends by the eleventh decimal; thirds and the like never do."""
NUMBER = re.compile(r"-?\d+(?![\d-])")


def table(title: str, rows: Iterable[Sequence[Any]], headers: Sequence[str] = ()) -> str:
    """A titled table, its first and last column to the left."""
    right = ("left", *["right"] * (len(headers) - 2), "left")
    padded = [[*row, *[""] * (len(headers) - len(row))] for row in rows]
    body = tabulate(
        padded, headers=headers, tablefmt="plain", disable_numparse=True, colalign=right if headers else None
    )
    return f"{title}\n" + "\n".join("  " + line for line in body.splitlines())


def words(code: str) -> str:
    """A code name as it is said.

    >>> words("sprue-and-button"), words("stones_set")
    ('sprue and button', 'stones set')
    """
    return code.replace("-", " ").replace("_", " ")


def in_digits(value: Any) -> str:
    """A value as it is read on paper; of digits without an end only the first decimals, of which JSON has all.

    >>> in_digits(583.333333333333), in_digits(12476.3821314), in_digits("N 1/2")
    ('583.333333', '12476.3821314', 'N 1/2')
    """
    shown = str(value)
    endless = isinstance(value, float) and len(shown.partition(".")[2]) > MOST_DECIMALS and "e" not in shown
    return f"{value:.{SHOWN_DECIMALS}f}" if endless else shown


def names_in(inputs: Any) -> dict[str, str]:
    """The name of each alloy that inputs name by its id, at any depth; a fine metal goes by its symbol.

    >>> metal = {"id": "silver-958", "name": "Britannia silver", "composition": {"Ag": 958.4, "Cu": 41.6}}
    >>> names_in({"lots": [{"id": "bowl", "metal": metal}]})
    {'silver-958': 'Britannia silver'}
    """
    if isinstance(inputs, list):
        return dict(chain.from_iterable(names_in(one).items() for one in inputs))
    if not isinstance(inputs, Mapping):
        return {}
    if inputs.get("id") and ("composition" in inputs or "trade_name" in inputs):
        return {} if inputs["id"] in inputs.get("composition", ()) else {inputs["id"]: inputs["name"]}
    return names_in(list(inputs.values()))


def named(id_: str, names: Mapping[str, str]) -> str:
    """An alloy by its name with its id, as a supplier is asked for it; whatever else by what it is called.

    >>> named("silver-958", {"silver-958": "Britannia silver"}), named("Au", {})
    ('Britannia silver (silver-958)', 'Au')
    """
    return f"{names[id_]} ({id_})" if id_ in names else id_


def money(amount: Json) -> str:
    """An amount with its currency.

    >>> money({"value": 2486.8, "currency": "EUR"})
    '2486.80 EUR'
    >>> money({"value": 2486.8, "currency": "EUR", "at_least": True})
    'at least 2486.80 EUR'
    """
    return f"{least(amount)}{fixed(amount['value'], 2)} {amount['currency']}"


def least(amount: Json) -> str:
    """What is said before an amount that leaves out what has no price."""
    return "at least " if amount.get("at_least") else ""


def ends(value: Json) -> str:
    """The range of a figure.

    >>> ends({"value": 13.64, "low": 13.5, "high": 13.75})
    '13.5 to 13.75'
    """
    return f"{value['low']:g} to {value['high']:g}"


def counted(number: int, one: str) -> str:
    """A count with its noun.

    >>> counted(1, "lot"), counted(2, "lot")
    ('1 lot', '2 lots')
    """
    return f"{number} {one}" if number == 1 else f"{number} {one}s"


def aligned(rows: Sequence[Sequence[str]]) -> str:
    """Rows of a label, a value and what goes with it; values that are numbers stand point under point.

    >>> print(aligned([["mass", "7.5 g"], ["ratio", "12.25"], ["stage", "as-cast"]]))
    mass    7.5 g
    ratio  12.25
    stage  as-cast
    """
    whole = [len(found.group()) if (found := NUMBER.match(value)) else 0 for _, value, *_ in rows]
    padded = [
        [label, " " * (max(whole) - digits if digits else 0) + value, *others]
        for (label, value, *others), digits in zip(rows, whole, strict=True)
    ]
    widths = [max(len(row[column]) for row in padded if column < len(row)) for column in range(max(map(len, padded)))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=False)).rstrip() for row in padded
    )


def mass_row(label: str, value: Json, about: str = "") -> list[str]:
    """A mass in g, dwt, ozt and the unit that was asked in, with its range, and what is said about it."""
    return [label, *mass_cells(value), mass_range(value), about]


def mass_headers(value: Json) -> tuple[str, ...]:
    """The headers over rows of such masses."""
    return ("", *mass_units(value), f"range in {asked(value)['unit']}", "")


def rests_on(assumptions: Sequence[Json]) -> str:
    """What the answer rests on, with standing and source."""
    lines = [f"  {one['text']} {figure(one, str)} [{one['status']}, {one['source']}]" for one in assumptions]
    return "RESTS ON\n" + "\n".join(lines)


def cautions_of(cautions: Sequence[Json]) -> str:
    """The cautions."""
    return "\n".join([caution("CAUTIONS"), *(f"  {caution(one['title'])}: {one['text']}" for one in cautions)])


def dataset_line(answer: Json) -> str:
    """Which data the answer rests on."""
    return f"Dataset {answer['dataset']['version']} ({answer['dataset']['hash']})."
