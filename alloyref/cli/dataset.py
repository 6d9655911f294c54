"""`alloyref dataset`: proof and explanation of the data; `alloyref openapi`: the API description."""

from __future__ import annotations

import difflib
import json
import sys
from pathlib import Path

import click
import yaml
from tabulate import tabulate

from alloyref.catalogue.checks import check
from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import read_dataset
from alloyref.catalogue.text import DatasetError
from alloyref.cli.calculate import fail
from alloyref.cli.data import bench
from alloyref.cli.lookup import explain as explain_alloy
from alloyref.domain.citations import standings
from alloyref.domain.errors import AlloyrefError
from alloyref.domain.provenance import Status
from alloyref.domain.reference import Reference
from alloyref.services.lookup import alloy_named
from alloyref.web.openapi import document


@click.group(invoke_without_command=True)
@click.pass_context
def dataset(context: click.Context) -> None:
    """Show, prove and explain the reference data; without a command, how many values have which standing.

    \b
    Example:
      alloyref dataset
    """
    if context.invoked_subcommand is None:
        click.echo(_standings(bench().reference))


def _standings(reference: Reference) -> str:
    """The version, and for each property the number of values of each standing."""
    counted = standings(reference.citations)
    shown = [status.value for status in Status if any(status.value in counts for counts in counted.values())]
    rows = [[name, *(counts.get(status, "") for status in shown)] for name, counts in counted.items()]
    version = f"dataset {reference.dataset.version} ({reference.dataset.hash})"
    return f"{version}\n\n{tabulate(rows, headers=('', *shown), tablefmt='simple')}"


@dataset.command("check")
@click.option("--folder", type=click.Path(file_okay=False, exists=True, path_type=Path), help="Data folder to check.")
def check_data(folder: Path | None) -> None:
    """Check every table: sums, ranges, solidus below liquidus, densities against the mixing rule, sources.

    \b
    Example:
      alloyref dataset check
    """
    try:
        data = read_dataset(folder or data_folder())
    except DatasetError as error:
        click.echo(f"fault: {error}", err=True)
        sys.exit(1)
    faults = check(data)
    for fault in faults:
        click.echo(f"fault: {fault}", err=True)
    if faults:
        sys.exit(1)
    counts = ", ".join(
        f"{count} {name}"
        for name, count in (
            ("alloys", len(data.alloys)),
            ("elements", len(data.elements)),
            ("units", len(data.units)),
            ("sources", len(data.sources)),
        )
    )
    click.echo(f"dataset {data.dataset.version} ({data.dataset.hash}) holds: {counts}")


@dataset.command("explain")
@click.argument("alloy")
def explain(alloy: str) -> None:
    """Show each value of an ALLOY with its derivation.

    \b
    Example:
      alloyref dataset explain sterling-silver
    """
    try:
        reference = bench().reference
        click.echo(explain_alloy(alloy_named(alloy, reference), reference))
    except AlloyrefError as error:
        fail(error)


@click.command()
@click.option(
    "--check",
    "against",
    type=click.Path(dir_okay=False, exists=True, path_type=Path),
    help="Compare with this file.",
)
def openapi(against: Path | None) -> None:
    """Print the API description as YAML, or compare it with a file.

    \b
    Example:
      alloyref openapi --check openapi/openapi.yaml
    """
    # Through JSON first: the same object standing twice would otherwise come out as a YAML alias.
    described = json.loads(json.dumps(document(bench().reference)))
    text = yaml.safe_dump(described, sort_keys=False, allow_unicode=True, width=110)
    if against is None:
        click.echo(text, nl=False)
        return
    old = against.read_text(encoding="utf-8")
    if old == text:
        click.echo(f"{against} is in step with the code")
        return
    sys.stderr.writelines(difflib.unified_diff(old.splitlines(True), text.splitlines(True), str(against), "the code"))
    click.echo(f"\nout of step; mend it with: alloyref openapi > {against}", err=True)
    sys.exit(1)
