"""`alloyref help TOPIC`: what matters at the bench, told once; README points here."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import click
from click.shell_completion import CompletionItem
from tabulate import tabulate

from alloyref.catalogue.files import shipped
from alloyref.cli.calculate import BAD_INPUT
from alloyref.cli.data import bench
from alloyref.domain.errors import did_you_mean, nearest
from alloyref.domain.numbers import fraction_to_decimal, plain
from alloyref.domain.order.inputs import OrderInputs
from alloyref.domain.terms import TERMS
from alloyref.domain.units import BASE_UNIT
from alloyref.web.schemas.options import flat, option_name

TEXTS = Path(__file__).resolve().parent / "topics"
FACTOR_DECIMALS = 12


def _units() -> str:
    """Each unit with what it is in the base unit of its kind."""
    rows = [
        [one.dimension.value, one.symbol, one.name, f"{_factor(one.factor)} {BASE_UNIT[one.dimension]}"]
        for one in bench().reference.units.all
    ]
    return tabulate(rows, headers=("of", "symbol", "name", "is"), tablefmt="simple", disable_numparse=True)


def _factor(factor: Fraction) -> str:
    """A factor with all its digits, or as a fraction where they never end.

    >>> _factor(Fraction(19439673, 12500000)), _factor(Fraction(1, 24))
    ('1.55517384', '1/24')
    """
    shown = plain(fraction_to_decimal(factor, FACTOR_DECIMALS))
    return shown if Fraction(shown) == factor else str(factor)


def _order() -> str:
    """Each option of an order with what it means."""
    rows = [[option_name(path), one.doc] for path, one in flat(OrderInputs)]
    return tabulate(rows, tablefmt="plain", maxcolwidths=[None, 70])


def _terms() -> str:
    """Each term of the trade with what it means."""
    return tabulate(sorted(TERMS.items()), tablefmt="plain", maxcolwidths=[None, 70])


def _environment() -> str:
    """The settings as README lists them."""
    readme = shipped("_readme/README.md", "README.md").read_text(encoding="utf-8")
    section = re.split(r"^## ", readme, flags=re.MULTILINE)
    (settings,) = (one for one in section if one.startswith("Settings\n"))
    lines = [
        line.strip("| ").replace("`", "").split(" | ") for line in settings.splitlines() if line.startswith("| ")
    ]
    return tabulate(
        lines[1:], headers=lines[0], tablefmt="simple", disable_numparse=True, maxcolwidths=[None, 60, 30]
    )


ADDED: dict[str, Callable[[], str]] = {"units": _units, "order": _order, "environment": _environment, "terms": _terms}
"""What is put together from the data, the declarations or README, rather than written."""


def topics() -> dict[str, str]:
    """Each topic with what it is about."""
    return {
        path.stem: path.read_text(encoding="utf-8").splitlines()[0].partition(": ")[2]
        for path in sorted(TEXTS.glob("*.txt"))
    }


def told(topic: str) -> str:
    """A topic as it is printed."""
    parts = [(TEXTS / f"{topic}.txt").read_text(encoding="utf-8").rstrip()]
    if topic in ADDED:
        parts.append(ADDED[topic]())
    return "\n\n".join(parts)


class _TopicOrCommand(click.ParamType[str]):
    """A topic or the name of a command."""

    name = "topic"

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """The topics and commands that begin so."""
        return [CompletionItem(one) for one in _names(ctx) if one.startswith(incomplete)]


def _names(context: click.Context) -> Iterator[str]:
    yield from topics()
    root = context.find_root().command
    if isinstance(root, click.Group):
        yield from root.commands


@click.command("help", short_help="Tell of a topic or a command")
@click.argument("topic", required=False, type=_TopicOrCommand())
@click.pass_context
def help_(context: click.Context, topic: str | None) -> None:
    """Tell of a TOPIC, or show the help of a command; without one, list the topics.

    \b
    Example:
      alloyref help units
    """
    root = context.find_root()
    commands = root.command.commands if isinstance(root.command, click.Group) else {}
    if topic is None:
        listed = tabulate(list(topics().items()), tablefmt="plain")
        click.echo(f"Topics:\n{listed}\n\nalloyref COMMAND --help tells of a command.")
    elif topic in topics():
        click.echo(told(topic))
    elif topic in commands:
        click.echo(commands[topic].get_help(click.Context(commands[topic], info_name=topic, parent=root)))
    else:
        near = nearest(topic, list(_names(context)))
        click.echo(f"There is no topic {topic[:40]!r}.{did_you_mean(near)}", err=True)
        context.exit(BAD_INPUT)
