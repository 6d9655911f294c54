"""`alloyref picture NAME`: one command for each picture, made from its declaration."""

from __future__ import annotations

from pathlib import Path
from typing import Any, BinaryIO

import click

from alloyref.cli.calculate import fail, read_document
from alloyref.cli.data import bench
from alloyref.cli.options import gather, options_for
from alloyref.domain.errors import AlloyrefError
from alloyref.pictures.drawing import PNG, SVG
from alloyref.pictures.kinds import PICTURES, PictureKind
from alloyref.web.schemas.options import flat, option_name

MEDIA = {".svg": SVG, ".png": PNG}


@click.group()
def picture() -> None:
    """Draw the data or an order, as SVG or PNG.

    \b
    Example:
      alloyref picture density-karat picture.svg
    """


def _command_for(kind: PictureKind) -> click.Command:
    def run(out: Path, input_: BinaryIO | None, **given: Any) -> None:
        media = MEDIA.get(out.suffix)
        if media is None:
            raise click.BadParameter("name a file that ends in .svg or .png", param_hint="OUT")
        data = read_document(input_) if input_ else {}
        here = bench()
        try:
            drawing = kind.draw(here.loaders.load(kind.inputs, gather(kind.inputs, given, data)), here.reference)
        except AlloyrefError as error:
            fail(error)
        try:
            out.write_bytes(drawing.render(media))
        except OSError as error:
            raise click.BadParameter(f"{out} cannot be written: {error}", param_hint="OUT") from None
        click.echo(drawing.says)

    return click.Command(
        kind.name,
        callback=run,
        params=[
            click.Argument(["out"], type=click.Path(dir_okay=False, path_type=Path)),
            click.Option(["--input", "input_"], type=click.File("rb"), help="JSON input; - for standard input."),
            *options_for(kind.inputs),
        ],
        help=f"{kind.doc} Prints in words what the picture shows.\n\n\b\nExample:\n  {_example(kind)}",
        short_help=kind.title,
    )


def _example(kind: PictureKind) -> str:
    given = [f"{option_name(path)} '{one.example}'" for path, one in flat(kind.inputs) if kind.query and one.example]
    return " ".join([f"alloyref picture {kind.name} picture.svg", *(given or ["--input order.json"])])


for _kind in PICTURES.values():
    picture.add_command(_command_for(_kind))
