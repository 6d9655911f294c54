"""`alloyref bulk`: many rows from standard input to standard output, over the same core as HTTP, without a server."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from functools import partial
from itertools import chain
from typing import BinaryIO

import click

from alloyref.cli.calculate import BAD_INPUT, NO_ANSWER
from alloyref.cli.data import bench
from alloyref.domain.numbers import COMMA, POINT
from alloyref.web.bulk.fastlane import BLOCK_BYTES, WORTH_BYTES, load_polars
from alloyref.web.bulk.form import Bench
from alloyref.web.bulk.run import BULK, CSV, NDJSON, Refusal, Run, begin

FORMATS = {"csv": CSV, "ndjson": NDJSON}


@click.command(short_help="Answer many rows, csv or NDJSON")
@click.argument("calculation", type=click.Choice(list(BULK)))
@click.option("--format", "form", type=click.Choice(list(FORMATS)), default="csv", show_default=True)
@click.option("--keep", help="Columns of your own to carry along, by commas.")
@click.option(
    "--decimal",
    type=click.Choice([POINT, COMMA]),
    default=POINT,
    envvar="ALLOYREF_DECIMAL",
    show_default=True,
    show_envvar=True,
    help="Decimal mark of csv; with a comma, semicolons part the cells. NDJSON keeps the point.",
)
@click.option("--summary", is_flag=True, help="End with a row of counts and the SHA-256 of all before it.")
def bulk(calculation: str, form: str, keep: str | None, decimal: str, summary: bool) -> None:
    """Answer each row of standard input on standard output, with result columns and an error column added.

    Ends with 0 if every row was answered, 1 if some had no answer, 2 if the head or an option is wrong.

    \b
    Example:
      alloyref bulk transfer < in.csv > out.csv
    """
    here = bench()
    first = sys.stdin.buffer.read(WORTH_BYTES)
    polars = load_polars() if len(first) == WORTH_BYTES else None
    parameters = [("summary", "true")] if summary else []
    parameters += [("keep", keep)] if keep else []
    parameters += [("decimal", decimal)] if form == "csv" else []
    try:
        with_polars = Bench(here.reference, here.loaders, here.writers, polars)
        run = begin(calculation, FORMATS[form], "", parameters, with_polars)
        show = _progress(run)
        for piece in _pieces(run, first, sys.stdin.buffer):
            sys.stdout.buffer.write(piece)
            show()
    except Refusal as refusal:
        for line in [issue.detail for issue in refusal.issues] or [refusal.detail]:
            click.echo(line, err=True)
        sys.exit(BAD_INPUT)
    sys.stdout.buffer.flush()
    show(last=True)
    sys.exit(NO_ANSWER if run.errors else 0)


def _pieces(run: Run, first: bytes, source: BinaryIO) -> Iterator[bytes]:
    parts = (first[at : at + BLOCK_BYTES] for at in range(0, len(first), BLOCK_BYTES))
    for data in chain(parts, iter(partial(source.read, BLOCK_BYTES), b"")):
        yield from run.take(data)
    yield from run.end()


def _progress(run: Run) -> Callable[..., None]:
    """Tells a terminal how far it is; anything else is told nothing."""

    def show(last: bool = False) -> None:
        if sys.stderr.isatty():
            click.echo(f"\r{run.rows} rows, {run.errors} without an answer", err=True, nl=last)

    return show
