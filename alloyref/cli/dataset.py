"""`alloyref dataset`: proof and explanation of the data; `alloyref openapi`: the API description."""

from __future__ import annotations

import difflib
import json
import os
import sys
from collections.abc import Mapping
from pathlib import Path

import click
import orjson
from tabulate import tabulate

from alloyref.catalogue.checks import check
from alloyref.catalogue.derivation import derivations
from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import read_dataset
from alloyref.catalogue.seal import seal, seal_faults
from alloyref.catalogue.text import DatasetError
from alloyref.cli.calculate import NO_ANSWER, fail
from alloyref.cli.colour import problem
from alloyref.cli.complete import complete_alloys
from alloyref.cli.data import bench
from alloyref.cli.lookup import explain as explain_alloy
from alloyref.domain.citations import standings
from alloyref.domain.errors import AlloyrefError
from alloyref.domain.provenance import Status
from alloyref.domain.reference import Reference
from alloyref.services.lookup import alloy_named
from alloyref.services.views import AlloyDetail, alloy_detail
from alloyref.web.openapi import document, in_yaml
from alloyref.web.schemas.answer import dataset_json

AS_JSON = click.option("--json", "as_json", is_flag=True, help="As JSON.")


@click.group(invoke_without_command=True, short_help="Show, prove and explain the reference data")
@AS_JSON
@click.pass_context
def dataset(context: click.Context, as_json: bool) -> None:
    """Show, prove and explain the reference data; without a command, how many values have which standing.

    \b
    Example:
      alloyref dataset
    """
    if context.invoked_subcommand is not None:
        return
    reference = bench().reference
    counted = standings(reference.citations)
    if as_json:
        _echo_json({"dataset": dataset_json(reference.dataset), "standings": counted})
    else:
        click.echo(_standings(reference, counted))


def _echo_json(document: object) -> None:
    click.echo(orjson.dumps(document, option=orjson.OPT_INDENT_2))


def _standings(reference: Reference, counted: Mapping[str, Mapping[str, int]]) -> str:
    """The version, and for each property the number of values of each standing."""
    shown = [status.value for status in Status if any(status.value in counts for counts in counted.values())]
    rows = [[name, *(counts.get(status, "") for status in shown)] for name, counts in counted.items()]
    version = f"dataset {reference.dataset.version} ({reference.dataset.hash})"
    return f"{version}\n\n{tabulate(rows, headers=('', *shown), tablefmt='simple')}"


@dataset.command("check")
@click.option("--folder", type=click.Path(file_okay=False, exists=True, path_type=Path), help="Data folder to check.")
@AS_JSON
def check_data(folder: Path | None, as_json: bool) -> None:
    """Check every table: sums, ranges, solidus below liquidus, densities against the mixing rule, sources, version.

    \b
    Example:
      alloyref dataset check
    """
    place = folder or data_folder()
    try:
        data = read_dataset(place)
        faults = [*check(data), *seal_faults(place)]
    except DatasetError as error:
        faults = [str(error)]
    for fault in faults:
        click.echo(f"{problem('fault:')} {fault}", err=True)
    if faults:
        if as_json:
            _echo_json({"holds": False, "faults": faults})
        sys.exit(NO_ANSWER)
    counts = {name: len(getattr(data, name)) for name in ("alloys", "elements", "units", "sources")}
    if as_json:
        _echo_json({"holds": True, "faults": [], "dataset": dataset_json(data.dataset), "counts": counts})
    else:
        counted = ", ".join(f"{count} {name}" for name, count in counts.items())
        click.echo(f"dataset {data.dataset.version} ({data.dataset.hash}) holds: {counted}")


@dataset.command("seal")
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.argument("version")
@click.option("--unissued", is_flag=True, help="The present version was never given out: seal it again.")
def seal_data(folder: Path, version: str, unissued: bool) -> None:
    """Give the tables in FOLDER a VERSION (a date and a number): it and their hash go into dataset.toml.

    \b
    Example:
      alloyref dataset seal data 2031-12-24.1
    """
    try:
        hash_ = seal(folder, version, unissued=unissued)
    except DatasetError as error:
        click.echo(f"{problem('fault:')} {error}", err=True)
        sys.exit(NO_ANSWER)
    click.echo(f"version {version} stands for the tables {hash_}")


@dataset.command("explain")
@click.argument("alloy", shell_complete=complete_alloys)
@AS_JSON
def explain(alloy: str, as_json: bool) -> None:
    """Show each value of an ALLOY with its derivation.

    \b
    Example:
      alloyref dataset explain sterling-silver
    """
    try:
        here = bench()
        found = alloy_named(alloy, here.reference)
        if as_json:
            shown = here.writers.record(AlloyDetail)(alloy_detail(found))
            _echo_json({**shown, "derivations": derivations(found, here.reference)})
        else:
            click.echo(explain_alloy(found, here.reference))
    except AlloyrefError as error:
        fail(error)


@click.command(short_help="Print or check the API description")
@click.option(
    "--check",
    "against",
    type=click.Path(dir_okay=False, exists=True, path_type=Path),
    help="Compare with this file.",
)
@click.option(
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write it to this file, which keeps its old content unless all could be written.",
)
def openapi(against: Path | None, output: Path | None) -> None:
    """Print the API description as YAML, write it to a file, or compare it with one.

    \b
    Example:
      alloyref openapi --check openapi/openapi.yaml
    """
    text = in_yaml(json.dumps(document(bench().reference)).encode()).decode()
    if output is not None:
        _write_whole(output, text)
    elif against is None:
        click.echo(text, nl=False)
    if against is None:
        return
    old = against.read_text(encoding="utf-8")
    if old == text:
        click.echo(f"{against} is in step with the code")
        return
    sys.stderr.writelines(difflib.unified_diff(old.splitlines(True), text.splitlines(True), str(against), "the code"))
    click.echo(f"\nout of step; mend it with: alloyref openapi --output {against}", err=True)
    sys.exit(1)


def _write_whole(target: Path, text: str) -> None:
    """Write a file in one move, so that an error leaves the old one."""
    building = target.with_name(f"{target.name}.{os.getpid()}")
    try:
        building.write_text(text, encoding="utf-8", newline="\n")
        building.replace(target)
    finally:
        building.unlink(missing_ok=True)
