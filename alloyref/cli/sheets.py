"""Which sheet an answer is printed on."""

from __future__ import annotations

from collections.abc import Callable

from alloyref.cli.charge_sheet import charge_sheet
from alloyref.cli.layout import Json
from alloyref.cli.mark_sheet import mark_sheet
from alloyref.cli.recovery_sheet import recovery_sheet
from alloyref.cli.sheet import sheet

SHEETS: dict[str, Callable[[Json], str]] = {
    "charge": charge_sheet,
    "mark-check": mark_sheet,
    "recovery": recovery_sheet,
}
"""The calculations whose answer has a sheet of its own."""


def sheet_of(name: str, answer: Json) -> str:
    """The answer of a calculation as text."""
    return SHEETS[name](answer) if name in SHEETS else sheet(name, answer)
