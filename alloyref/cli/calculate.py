"""One command for each calculation, made from its declaration."""

from __future__ import annotations

import json
import sys
from typing import Any, BinaryIO, NoReturn

import click
import orjson

from alloyref.cli.colour import problem
from alloyref.cli.data import bench
from alloyref.cli.options import example_of, gather, options_for
from alloyref.cli.sheets import sheet_of
from alloyref.domain.calculation import Calculation
from alloyref.domain.errors import AlloyrefError, InvalidInput
from alloyref.domain.figures import with_mark
from alloyref.domain.numbers import COMMA, EITHER, POINT
from alloyref.services.calculations import CALCULATIONS, answer
from alloyref.shop.errors import ShopError
from alloyref.web.schemas.answer import answer_json
from alloyref.web.schemas.decimals import with_points
from alloyref.web.schemas.document import parse

NO_ANSWER, BAD_INPUT = 1, 2


def command_for(calculation: Calculation) -> click.Command:
    """The command of one calculation."""

    def run(input_: BinaryIO | None, as_json: bool, decimal: str | None, **given: Any) -> None:
        data = read_document(input_) if input_ else {}
        here = bench()
        try:
            whole = gather(calculation.inputs, given, data)
            inputs = here.loaders.load(calculation.inputs, with_points(calculation.inputs, whole, decimal or EITHER))
            found = answer(calculation, inputs, here.reference)
        except AlloyrefError as error:
            fail(error)
        except ShopError as error:
            click.echo(str(error), err=True)
            sys.exit(NO_ANSWER)
        document = orjson.dumps(answer_json(found, here.writers), option=orjson.OPT_INDENT_2).decode()
        sheet = "" if as_json else sheet_of(calculation.name, json.loads(document))
        click.echo(document if as_json else with_mark(sheet, decimal or POINT))
        if not found.outcome.answered:
            sys.exit(NO_ANSWER)

    example = example_of(calculation.inputs, calculation.example)
    return click.Command(
        calculation.name,
        callback=run,
        params=[
            click.Option(
                ["--input", "input_"],
                type=click.File("rb"),
                help="JSON input; - for standard input.",
            ),
            click.Option(["--json", "as_json"], is_flag=True, help="The whole answer as JSON."),
            decimal_option(),
            *options_for(calculation.inputs),
        ],
        help=f"{calculation.doc}\n\n\b\nExample:\n  alloyref {calculation.name} {example}",
        short_help=calculation.title,
    )


def decimal_option() -> click.Option:
    """How decimals are written, in what is given and on the sheet."""
    return click.Option(
        ["--decimal"],
        type=click.Choice([POINT, COMMA]),
        envvar="ALLOYREF_DECIMAL",
        show_envvar=True,
        help="Decimals with a point or a comma, here and on the sheet; JSON answers keep the point. If it is not "
        "said, a comma is understood where it can mean nothing else.",
    )


def read_document(stream: BinaryIO) -> dict[str, Any]:
    """The JSON object in a file; anything else ends the command with 2."""
    try:
        data = parse(stream.read())
    except ValueError as error:
        raise click.BadParameter(f"not JSON: {error}", param_hint="--input") from None
    if not isinstance(data, dict):
        raise click.BadParameter("a JSON object is needed", param_hint="--input")
    return data


def fail(error: AlloyrefError) -> NoReturn:
    """Print each issue where it was found, and end with 2 for bad input or 1 for no answer."""
    for issue in error.issues:
        place = issue.pointer.lstrip("/").replace("/", "-").replace("_", "-")
        click.echo(f"{problem(f'--{place}:') + ' ' if place else ''}{issue.detail}", err=True)
        for choice in issue.choices:
            click.echo(f"  {choice.id}: {choice.name}; {choice.what}", err=True)
    sys.exit(BAD_INPUT if isinstance(error, InvalidInput) else NO_ANSWER)


COMMANDS = [command_for(one) for one in CALCULATIONS.values()]
