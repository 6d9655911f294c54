"""`alloyref alloys`: the catalogue as a table, or one alloy whole."""

from __future__ import annotations

from typing import Any

import click
import orjson
from tabulate import tabulate

from alloyref.catalogue.derivation import derivations
from alloyref.cli.calculate import decimal_option, fail
from alloyref.cli.complete import complete_alloys
from alloyref.cli.data import Bench, bench
from alloyref.cli.options import gather, options_for
from alloyref.domain.errors import AlloyrefError
from alloyref.domain.figures import with_mark
from alloyref.domain.finder import AlloyQuery
from alloyref.domain.metal import Alloy
from alloyref.domain.numbers import EITHER, POINT
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.services.lookup import alloy_named, find_alloys
from alloyref.services.views import AlloyDetail, AlloyView, alloy_detail, alloy_view
from alloyref.web.schemas.decimals import with_points


def _run(name: str | None, as_json: bool, decimal: str | None, **given: Any) -> None:
    here = bench()
    mark = decimal or POINT
    try:
        if name is not None:
            text = _one(name, as_json, here)
            click.echo(text if as_json else with_mark(text, mark))
            return
        whole = with_points(AlloyQuery, gather(AlloyQuery, given, {}), decimal or EITHER)
        query: AlloyQuery = here.loaders.load(AlloyQuery, whole)
    except AlloyrefError as error:
        fail(error)
    ids, total = find_alloys(query, here.reference)
    found = [here.reference.alloys[id_] for id_ in ids]
    if as_json:
        write = here.writers.record(AlloyView)
        click.echo(orjson.dumps([write(alloy_view(alloy)) for alloy in found], option=orjson.OPT_INDENT_2))
        return
    headers = ("id", "fineness", "density", "solidus C", "liquidus C", "standing", "name")
    align = ("left", "right", "right", "right", "right", "left", "left")
    rows = [_line(alloy) for alloy in found]
    if rows:
        table = tabulate(rows, headers=headers, tablefmt="simple", disable_numparse=True, colalign=align)
        click.echo(with_mark(table, mark))
    click.echo(f"\n{len(found)} of {total} alloys")


def _line(alloy: Alloy) -> list[str]:
    metal = alloy.metal
    ends = [f"{one.value:f}" if one is not None else "-" for one in (metal.solidus, metal.liquidus)]
    density = metal.density
    return [
        alloy.id,
        f"{metal.base} {metal.fineness:.1f}",
        f"{density.value:f}",
        *ends,
        density.status.value,
        metal.name,
    ]


def _one(name: str, as_json: bool, here: Bench) -> str:
    alloy = alloy_named(name, here.reference)
    if as_json:
        document = here.writers.record(AlloyDetail)(alloy_detail(alloy))
        return orjson.dumps(document, option=orjson.OPT_INDENT_2).decode()
    return explain(alloy, here.reference)


def explain(alloy: Alloy, reference: Reference) -> str:
    """An alloy with every value, its standing, its source and derivation, and every figure held for it."""
    metal = alloy.metal
    shares = " ".join(f"{symbol} {share.normalize():f}" for symbol, share in metal.composition.parts)
    rows = [
        ["composition", f"{shares} permille", "", alloy.composition_status.value, alloy.composition_source],
        *(
            _property_row(label, one)
            for label, one in (
                ("density", metal.density),
                ("solidus", metal.solidus),
                ("liquidus", metal.liquidus),
                ("hardness", alloy.hardness),
            )
        ),
    ]
    parts = [
        f"{alloy.id}: {metal.name}",
        tabulate(
            rows,
            headers=("", "value", "range", "standing", "source"),
            tablefmt="simple",
            disable_numparse=True,
        ),
    ]
    parts.append("How it came about:\n" + "\n".join(f"  {line}" for line in derivations(alloy, reference)))
    if alloy.published:
        held = [
            [
                one.property,
                f"{one.value} {one.unit}",
                f"{one.status.value}, not read" if one.status is Status.FROM_MEMORY else one.status.value,
                one.row,
                "served" if one.preferred else "",
            ]
            for one in alloy.published
        ]
        parts.append("Figures held:\n" + tabulate(held, tablefmt="plain", disable_numparse=True))
    if alloy.note:
        parts.append(f"Note: {alloy.note}")
    return "\n\n".join(parts)


def _property_row(label: str, one: Property | None) -> list[str]:
    if one is None:
        return [label, "not known", "", "", ""]
    return [label, f"{one.value} {one.unit}", f"{one.low} to {one.high}", one.status.value, one.source]


HELP = """Find alloys, or show one with every value and source.

\b
Example:
  alloyref alloys --base Au --karat 14 --use casting
  alloyref alloys sterling-silver
"""

alloys = click.Command(
    "alloys",
    callback=_run,
    params=[
        click.Argument(["name"], required=False, shell_complete=complete_alloys),
        click.Option(["--json", "as_json"], is_flag=True, help="As JSON."),
        decimal_option(),
        *options_for(AlloyQuery),
    ],
    help=HELP,
    short_help="Find alloys, or show one whole",
)
