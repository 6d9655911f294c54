"""Melting range of a composition: a table of gold, silver and copper by whole percents, read between its nodes.

The table is made beforehand from Gibbs energies (data/models); what it rests on, and how far it may err, differs
from field to field and is said with each value.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.errors import Issue, NotAvailable
from alloyref.domain.metal import Element
from alloyref.domain.numbers import EXACT, Rounding, plain, round_to
from alloyref.domain.provenance import Property, Status

SYSTEM = ("Au", "Ag", "Cu")
STEPS = 100
NODES = (STEPS + 1) * (STEPS + 2) // 2
PER_NODE = 10_000
"""Thousandths of a permille from node to node: compositions are kept to that."""
MELTING_DECIMALS = 1

TRACE = Decimal(1)
"""Permille of other metals that the stated range has room for (common practice, no source)."""
TRACE_ERROR = Decimal(3)
"""What such a trace may move either end by, in C (from memory of binary diagrams: 2 to 3 C a permille at most)."""
HARMLESS = frozenset({"Ir", "Ru", "Rh", "Pd", "Pt", "Ni", "Co", "Zn"})
"""Of these a trace dissolves or stays solid; others, as lead or silicon, make a liquid far below the range."""
LEAST_GOLD = Decimal(330)
"""Below this share of gold, in permille, nothing measured in the ternary was found to hold the model against."""
LITTLE_GOLD = Decimal(24)
"""Up to this share of gold, in permille, silver with copper is read as silver-copper. There the doubt that gold adds
has grown to the 12 C that silver-copper has by itself; beyond, the range would rest on nothing measured."""
GOLD_ERROR = Decimal("0.5")
"""Doubt in C that each permille of gold adds to either end: twice the steepest change that the model has there."""
LEAST_SILVER = Decimal(500)
"""Least permille of silver for that: towards copper the model's solid parts into two and its solidus steps."""
DILUTE = Decimal(40)
"""Up to this much alloying, in permille, the error grows in proportion, since the pure metal is known."""
COLDEST = Decimal(778)
"""Nothing in the system melts below the silver-copper eutectic, in C (Roberts-Austen and Rose 1900)."""


@dataclass(frozen=True, slots=True)
class Field:
    """A part of the system with one standing. Errors in C below and above, from data/models/melting_residuals.csv."""

    source: str
    solidus: tuple[Decimal, Decimal]
    liquidus: tuple[Decimal, Decimal]
    note: str


def _field(source: str, solidus: tuple[int, int], liquidus: tuple[int, int], note: str) -> Field:
    ends = [(Decimal(below), Decimal(above)) for below, above in (solidus, liquidus)]
    return Field(source, ends[0], ends[1], note)


SILVER_COPPER = _field(
    "melting-model-ag-cu",
    (30, 12),
    (12, 12),
    "equilibrium; a casting segregates and may begin to melt at the eutectic, 779 C",
)
GOLD_SILVER = _field(
    "melting-model-ag-au",
    (15, 7),
    (7, 7),
    "recalled parameters, bettered with a measured liquidus; the only measured solidus lies 7 to 13 C lower",
)
_TERNARY_NOTE = "equilibrium; rests in part on recalled parameters and on an own fit of gold-copper"
TERNARY = (
    (Decimal(850), _field("melting-model", (25, 25), (25, 25), _TERNARY_NOTE)),
    (Decimal(700), _field("melting-model", (12, 12), (12, 12), _TERNARY_NOTE)),
    (Decimal(550), _field("melting-model", (25, 25), (25, 25), _TERNARY_NOTE)),
    (LEAST_GOLD, _field("melting-model", (30, 30), (30, 30), _TERNARY_NOTE)),
)
"""The fields of alloys of all three, and of gold-copper, by the least permille of gold."""
MODEL_SOURCES = frozenset({SILVER_COPPER.source, GOLD_SILVER.source, *(field.source for _, field in TERNARY)})


@dataclass(frozen=True, slots=True)
class MeltingParameter:
    """A function of temperature that the table was made from; of it the service knows standing and source only."""

    id: str
    status: Status
    source: str


@dataclass(frozen=True, slots=True)
class MeltingTable:
    """Solidus and liquidus at every whole percent of Au, Ag, Cu by mass, in hundredths of a degree C.

    Nodes run by percent of gold, then of silver. Between them the temperature is linear in the composition over
    each triangle of three neighbours, so it is continuous, and exact at the nodes.
    """

    solidus: tuple[int, ...]
    liquidus: tuple[int, ...]

    def __post_init__(self) -> None:
        if len(self.solidus) != NODES or len(self.liquidus) != NODES:
            raise ValueError(f"the melting table has {len(self.solidus)} and {len(self.liquidus)} nodes, not {NODES}")

    def at(self, gold: Decimal, silver: Decimal) -> tuple[Decimal, Decimal]:
        """Solidus and liquidus in C at these permille of gold and silver, the rest copper."""
        row, across = divmod(int(gold * THOUSAND), PER_NODE)
        column, along = divmod(int(silver * THOUSAND), PER_NODE)
        if across + along <= PER_NODE:
            corners = [(row, column, PER_NODE - across - along), (row + 1, column, across), (row, column + 1, along)]
        else:
            corners = [
                (row + 1, column + 1, across + along - PER_NODE),
                (row + 1, column, PER_NODE - along),
                (row, column + 1, PER_NODE - across),
            ]
        used = [(node_index(au, ag), weight) for au, ag, weight in corners if weight]
        solidus = sum(self.solidus[index] * weight for index, weight in used)
        liquidus = sum(self.liquidus[index] * weight for index, weight in used)
        # Hundredths of a degree, weighted in ten-thousandths.
        return Decimal(solidus).scaleb(-6), Decimal(liquidus).scaleb(-6)


def node_index(gold: int, silver: int) -> int:
    """Place in the table of a node by its whole percents.

    >>> node_index(0, 0), node_index(0, 100), node_index(1, 0), node_index(100, 0)
    (0, 100, 101, 5150)
    """
    return gold * (2 * STEPS + 3 - gold) // 2 + silver


def estimate_melting(
    composition: Composition, elements: Mapping[str, Element], table: MeltingTable
) -> tuple[Property, Property]:
    """Solidus and liquidus in degrees Celsius, each with range, standing and source.

    A pure element melts at one temperature. Alloys of gold, silver and copper are read from the table, where
    something published was found to hold it against. Raises `NotAvailable` where there is no honest estimate.
    """
    symbol = composition.parts[0][0]
    if len(composition.parts) == 1 and symbol in elements:
        return elements[symbol].melting_point, elements[symbol].melting_point
    gold, silver, copper = _shares(composition)
    field = _field_of(gold, silver, copper)
    solidus, liquidus = table.at(gold, silver)
    dilution = min(Decimal(1), EXACT.divide(THOUSAND - max(gold, silver, copper), DILUTE))
    more, note = Decimal(0) if set(composition.elements) <= set(SYSTEM) else TRACE_ERROR, field.note
    if field is SILVER_COPPER and gold:
        more += round_to(GOLD_ERROR * gold, MELTING_DECIMALS, Rounding.UP)
        note += f"; what its {plain(gold)} permille of gold do is not measured: {GOLD_ERROR} C of doubt for each"

    def estimate(value: Decimal, error: tuple[Decimal, Decimal]) -> Property:
        value = round_to(value, MELTING_DECIMALS)
        low, high = (round_to(part * dilution + more, MELTING_DECIMALS, Rounding.UP) for part in error)
        lowest = max(value - low, min(value, COLDEST) - more)
        return Property(value, "C", lowest, value + high, Status.CALCULATED, field.source, note)

    return estimate(solidus, field.solidus), estimate(liquidus, field.liquidus)


def _shares(composition: Composition) -> tuple[Decimal, Decimal, Decimal]:
    """Permille of gold, silver and copper, traces of other metals left out; refused if there is more of them."""
    others = {symbol: share for symbol, share in sorted(composition.parts) if symbol not in SYSTEM}
    harmful = [symbol for symbol in others if symbol not in HARMLESS]
    if len(others) == len(composition.parts) or sum(others.values()) > TRACE or harmful:
        raise _not_available(_why_not_these(list(others), harmful))
    known = THOUSAND - sum(others.values())
    gold, silver = (round_to(EXACT.divide(composition.fineness(s) * THOUSAND, known), 3) for s in ("Au", "Ag"))
    return gold, silver, THOUSAND - gold - silver


def _why_not_these(others: list[str], harmful: list[str]) -> str:
    knows = "The melting model knows alloys of gold, silver and copper only"
    if harmful:
        return f"{knows}; even a little {' and '.join(harmful)} may melt far below what it would say."
    return f"{knows}; this one holds {' and '.join(others)}, in all more than a trace of {TRACE} permille."


def _field_of(gold: Decimal, silver: Decimal, copper: Decimal) -> Field:
    """The field of a composition; a trace of the third metal does not make a binary alloy a ternary one."""
    if gold <= TRACE:
        return SILVER_COPPER
    if copper <= TRACE:
        return GOLD_SILVER
    if gold <= LITTLE_GOLD and silver >= LEAST_SILVER:
        return SILVER_COPPER
    for least, field in TERNARY:
        if gold >= least:
            return field
    raise _not_available(
        f"With copper, and with gold above {TRACE} (in silver {LITTLE_GOLD}) but below {LEAST_GOLD} permille, no "
        "measured melting range was found to hold the melting model against, so none is served."
    )


def _not_available(reason: str) -> NotAvailable:
    return NotAvailable(Issue("melting-not-available", f"No melting range can be estimated. {reason}"))
