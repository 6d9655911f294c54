"""An example workbook: an invented workshop's stock and trials, with cells that ask the running service."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from pathlib import Path

import click

from alloyref.catalogue.files import data_folder

ADDRESS_CELL = "Service!$B$1"
TRIALS = (
    ("reed-pattern band", "sterling-silver", 6.31, "gold-585-yellow"),
    ("heron pendant", "sterling-silver", 14.71, "gold-750-yellow"),
    ("tide-mark cuff link", "sterling-silver", 9.48, "gold-750-rose"),
)
ABOUT = (
    "The cells of the other sheets ask this address. Keep the service running, or change the address above.",
    "WEBSERVICE gives text; NUMBERVALUE reads it whatever decimal mark your tables use.",
    "A cell that cannot be answered says why (on_error=text) in the note beside it.",
    "The workshop, its stock and its trials are invented.",
)


def ask(path: str) -> str:
    """A formula part that fetches a path of the service; `path` is an expression that joins text and cells."""
    return f"_xlfn.WEBSERVICE({ADDRESS_CELL}&{path})"


def as_number(text: str) -> str:
    """A formula that reads fetched text as a number."""
    return f'=_xlfn.NUMBERVALUE({text},".")'


def property_path(metal: str, name: str) -> str:
    """The path of one number of the alloy that a cell names."""
    return f'"/v1/alloys/"&{metal}&"/{name}?format=text"'


def transfer_path(row: int) -> str:
    """The path that carries the trial of a row over to the metal wanted."""
    # A cell joins its number with the decimal mark of the table it stands in.
    mass = f'SUBSTITUTE(C{row},",",".")'
    return f'"/v1/transfer?format=text&unit=g&mass="&{mass}&"&from_metal="&B{row}&"&to_metal="&D{row}'


def stock_rows() -> Iterator[list[str]]:
    """The invented lots."""
    with (data_folder() / "demo" / "stock.csv").open(encoding="utf-8", newline="") as stream:
        rows = csv.reader(stream)
        next(rows)
        yield from rows


def workbook_bytes(address: str) -> bytes:
    """The workbook: the address, the stock with its densities and fine content, the trials carried over."""
    import xlsxwriter  # noqa: PLC0415  only this command needs it

    out = io.BytesIO()
    with xlsxwriter.Workbook(out) as book:
        bold = book.add_format({"bold": True})
        number = book.add_format({"num_format": "0.00"})
        service = book.add_worksheet("Service")
        service.write_row(0, 0, ("Address", address))
        for row, line in enumerate(ABOUT, start=2):
            service.write(row, 0, line)
        stock = book.add_worksheet("Stock")
        heads = ("Lot", "What", "Metal", "Mass, g", "Density, g/cm3", "Fineness, permille", "Fine content, g")
        stock.write_row(0, 0, heads, bold)
        for row, (lot, what, metal, mass) in enumerate(stock_rows(), start=2):
            stock.write_row(row - 1, 0, (lot, what, metal))
            stock.write_number(row - 1, 3, float(mass), number)
            for column, name in ((4, "density"), (5, "fineness")):
                stock.write_formula(row - 1, column, as_number(ask(property_path(f"C{row}", name))), number)
            stock.write_formula(row - 1, 6, f"=D{row}*F{row}/1000", number)
        trials = book.add_worksheet("Trials")
        trials.write_row(0, 0, ("Piece", "Trial metal", "Trial, g", "Wanted in", "As cast, g", "Note"), bold)
        for row, (piece, metal, weighed, wanted) in enumerate(TRIALS, start=2):
            trials.write_row(row - 1, 0, (piece, metal, weighed, wanted))
            trials.write_formula(row - 1, 4, as_number(ask(transfer_path(row))), number)
            told = ask(f'{transfer_path(row)}&"&on_error=text"')
            trials.write_formula(row - 1, 5, f'=IF(LEFT({told},1)="#",{told},"")')
        for sheet in (stock, trials):
            sheet.set_column(0, 6, 20)
        service.set_column(0, 1, 30)
    return out.getvalue()


@click.command(short_help="Write an example workbook")
@click.argument("target", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--address", default="http://127.0.0.1:8087", show_default=True, help="The running service.")
def workbook(target: Path, address: str) -> None:
    """Write an example workbook (.xlsx) whose cells ask the running service.

    \b
    Example:
      alloyref workbook saltmarsh-bench.xlsx
    """
    if target.suffix != ".xlsx":
        raise click.BadParameter("name a file that ends in .xlsx", param_hint="TARGET")
    try:
        target.write_bytes(workbook_bytes(address.rstrip("/")))
    except OSError as error:
        raise click.BadParameter(f"{target} cannot be written: {error}", param_hint="TARGET") from None
    click.echo(f"{target} written; open it in a spreadsheet while the service runs at {address}.")
