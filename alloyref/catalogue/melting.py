"""The melting model's tables: the nodes that are served from, and the standing of what they were made from."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from alloyref.catalogue.text import DatasetError, Row, read_rows
from alloyref.domain.melting import STEPS, MeltingParameter, MeltingTable

TABLE, PARAMETERS = "melting_nodes.csv", "melting_parameters.csv"


def read_melting_parameters(folder: Path) -> tuple[MeltingParameter, ...]:
    """What the table was made from."""
    header = ("function", "low", "high", "expression", "status", "source", "note")
    return tuple(
        MeltingParameter(row.text("function"), row.status("status"), row.text("source"))
        for row in read_rows(folder / PARAMETERS, header, folder)
    )


def read_melting_table(folder: Path) -> MeltingTable:
    """The table of solidus and liquidus; each node must stand in its place, none may be missing."""
    rows = read_rows(folder / TABLE, ("au", "ag", "cu", "solidus", "liquidus"), folder)
    solidus, liquidus = [], []
    for gold in range(STEPS + 1):
        for silver in range(STEPS + 1 - gold):
            row = next(rows, None)
            if row is None:
                raise DatasetError(f"{TABLE}: the nodes from gold {gold}, silver {silver} on are missing")
            shares = tuple(row.text(name) for name in ("au", "ag", "cu"))
            if shares != (str(gold), str(silver), str(STEPS - gold - silver)):
                raise DatasetError(f"{row.place}: the node of gold {gold} and silver {silver} should stand here")
            solidus.append(_hundredths(row, "solidus"))
            liquidus.append(_hundredths(row, "liquidus"))
            if solidus[-1] > liquidus[-1]:
                raise DatasetError(f"{row.place}: the solidus lies above the liquidus")
    extra = next(rows, None)
    if extra is not None:
        raise DatasetError(f"{extra.place}: the table is already complete")
    return MeltingTable(tuple(solidus), tuple(liquidus))


def _hundredths(row: Row, column: str) -> int:
    value = row.decimal(column) * 100
    if value != value.to_integral_value() or not Decimal(70_000) < value < Decimal(110_000):
        raise DatasetError(f"{row.place}: {column}: {row.text(column)} is not a temperature of this table")
    return int(value)
