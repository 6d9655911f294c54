"""The command `alloyref`."""

from __future__ import annotations

import errno
import os
from typing import Any

import click

from alloyref import __version__
from alloyref.catalogue.text import DatasetError
from alloyref.cli.bulk import bulk
from alloyref.cli.calculate import COMMANDS
from alloyref.cli.data import BadStart
from alloyref.cli.dataset import dataset, openapi
from alloyref.cli.db import db
from alloyref.cli.demo import demo
from alloyref.cli.help import help_
from alloyref.cli.keys import keys
from alloyref.cli.lookup import alloys
from alloyref.cli.picture import picture
from alloyref.cli.serve import serve
from alloyref.cli.workbook import workbook

STOPPED = 130
"""128 and the number of SIGINT, as shells have it."""


class Root(click.Group):
    """The commands; Ctrl-C ends each of them quietly, and NO_COLOR (https://no-color.org) keeps them plain."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command that was named."""
        if os.environ.get("NO_COLOR"):
            ctx.color = False
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            ctx.exit(STOPPED)
        except DatasetError as error:
            raise BadStart(_in_a_line(error)) from None
        except OSError as error:
            if error.errno == errno.EPIPE:  # whoever read the output has gone
                raise
            raise BadStart(f"{error.filename}: {error.strerror}" if error.filename else str(error)) from None


def _in_a_line(error: DatasetError) -> str:
    """The first fault of the data, and how many more there are."""
    title, *faults = str(error).splitlines()
    if not faults:
        return f"the data do not hold: {title}"
    more = f" (and {len(faults) - 1} more: alloyref dataset check)" if len(faults) > 1 else ""
    return f"{title} {faults[0]}{more}"


@click.group(cls=Root, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__)
def main() -> None:
    """Alloy properties with source and uncertainty, and the metal math of a casting shop.

    Exit codes: 0 fine, 1 no answer, 2 bad input. More: alloyref help.

    \b
    Example:
      alloyref transfer --mass '4.82 dwt' --from-metal sterling-silver --to-metal gold-750-yellow
    """


for _command in (*COMMANDS, alloys, picture, serve, demo, workbook, db, keys, dataset, openapi, help_):
    main.add_command(_command)

main.add_command(bulk)
