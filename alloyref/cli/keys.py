"""`alloyref keys`: making, listing and revoking API keys. There is no other way to make one."""

from __future__ import annotations

import sys
from dataclasses import asdict
from datetime import UTC, datetime, timedelta

import click
import orjson
from tabulate import tabulate

from alloyref.cli.db import opened
from alloyref.shop.clock import stamp
from alloyref.shop.keys import READ, SCOPES, Key, create, listed, revoke

DAYS = 365
MOST_NAME = 120


@click.group()
def keys() -> None:
    """Make, list and revoke the keys to the shop's own data.

    \b
    Example:
      alloyref keys list
    """


@keys.command("create")
@click.argument("name")
@click.option(
    "--scope",
    "scopes",
    multiple=True,
    type=click.Choice(SCOPES),
    default=(READ,),
    show_default=True,
    help="What it may do; give it once for each.",
)
@click.option("--days", type=click.IntRange(1, 36500), default=DAYS, show_default=True, help="Days until it expires.")
@click.option("--in-query", is_flag=True, help="Let it stand in an address as key=..., for a spreadsheet cell.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def create_key(name: str, scopes: tuple[str, ...], days: int, in_query: bool, as_json: bool) -> None:
    """Make a key called NAME and print it, this once: only a hash of it is kept.

    A key in an address is seen by whoever sees the address: in a copied sheet, a browser's history, a proxy's log. So
    it needs --in-query, only reads, and should be one of its own that is soon revoked.

    \b
    Example:
      alloyref keys create till --scope read --scope write
    """
    if len(name) > MOST_NAME or not name.isprintable():
        raise click.UsageError(f"a name is at most {MOST_NAME} characters on one line")
    expires = stamp(datetime.now(UTC) + timedelta(days=days))
    with opened() as database:
        try:
            made, whole = create(database, name, scopes, expires=expires, in_query=in_query)
        except ValueError as error:
            raise click.UsageError(str(error)) from None
    if as_json:
        click.echo(orjson.dumps({**_row(made), "key": whole}))
        return
    click.echo(f"key {made.id}, {' and '.join(made.scopes)}, until {made.expires}; it is shown only now:", err=True)
    click.echo(whole)


@keys.command("list")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def list_keys(as_json: bool) -> None:
    """List every key, the revoked ones too, without their secrets.

    \b
    Example:
      alloyref keys list
    """
    with opened() as database:
        rows = [_row(one) for one in listed(database)]
    if as_json:
        click.echo(orjson.dumps(rows, option=orjson.OPT_INDENT_2))
    elif not rows:
        click.echo("There are no keys.")
    else:
        click.echo(tabulate([{name: _shown(value) for name, value in row.items()} for row in rows], headers="keys"))


@keys.command("revoke")
@click.argument("id_", metavar="ID")
def revoke_key(id_: str) -> None:
    """Refuse the key of that ID from now on, in every worker on every host.

    \b
    Example:
      alloyref keys revoke 0123456789abcdef
    """
    with opened() as database:
        known = revoke(database, id_)
    if not known:
        click.echo(f"There is no key {id_!r}.", err=True)
        sys.exit(1)
    click.echo(f"key {id_} is revoked")


def _row(key: Key) -> dict[str, object]:
    return {**asdict(key), "scopes": list(key.scopes)}


def _shown(value: object) -> str:
    if isinstance(value, list):
        return ", ".join(map(str, value))
    return {None: "", True: "yes", False: "no"}.get(value, str(value))  # type: ignore[call-overload, no-any-return]
