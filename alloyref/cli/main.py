"""The command `alloyref`."""

from __future__ import annotations

import click

from alloyref import __version__
from alloyref.cli.bulk import bulk
from alloyref.cli.calculate import COMMANDS
from alloyref.cli.dataset import dataset, openapi
from alloyref.cli.db import db
from alloyref.cli.demo import demo
from alloyref.cli.lookup import alloys
from alloyref.cli.picture import picture
from alloyref.cli.serve import serve
from alloyref.cli.workbook import workbook


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__)
def main() -> None:
    """Alloy properties with source and uncertainty, and the metal math of a casting shop.

    Exit codes: 0 fine, 1 no answer, 2 bad input.
    """


for _command in (*COMMANDS, alloys, picture, serve, demo, workbook, db, dataset, openapi):
    main.add_command(_command)

main.add_command(bulk)
