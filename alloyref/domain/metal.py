"""A metal as a calculation sees it, and an alloy as the catalogue keeps it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.numbers import plain
from alloyref.domain.provenance import Property, Status

KARATS = Decimal(24)
KARAT_WORDS = ("karat", "kt", "k")
"""How a karat is written behind its number."""
CARAT_WORDS = ("carat", "ct")
"""How the trade writes it too. They also weigh stones, so they are taken only where nothing but a karat can stand."""
DEADLY_FUME = {"Cd": "cadmium", "Be": "beryllium"}
"""Elements whose fume kills in small doses (common practice, no source)."""
NOT_MELTED = {**DEADLY_FUME, "Pb": "lead"}
"""What no recipe or purchase is made of: lead poisons too, and makes gold and silver brittle."""


@dataclass(frozen=True, slots=True)
class Metal:
    """What a calculation needs of a metal. Density is in g/cm3, temperatures in C.

    `id` is a catalogue id, an element symbol, an alloy of a shop's own, a trade name, or empty for a composition
    given by the caller. `uses` and `note` are the catalogue's; a metal that is not from there has none. `premium` is
    the share that a supplier asks above the worth of its elements.

    A trade name has `members`, the ids of the alloys that bear it, and `may_hold`, the symbols that some of them hold
    beside the marked metal. Of its composition only the promised share is known, and that it is at most `most_fine`.
    """

    id: str
    name: str
    composition: Composition
    density: Property
    solidus: Property | None = None
    liquidus: Property | None = None
    uses: tuple[str, ...] = ()
    note: str = ""
    premium: Decimal = Decimal(0)
    members: tuple[str, ...] = ()
    may_hold: tuple[str, ...] = ()
    most_fine: Decimal | None = None

    @property
    def is_trade_name(self) -> bool:
        """Whether several alloys bear the name, so that no composition follows from it."""
        return bool(self.members)

    @property
    def tokens(self) -> frozenset[str]:
        """What tables of cautions and notes know it by; of a trade name also what a member may hold."""
        return self.composition.tokens.union(f"contains:{symbol}" for symbol in self.may_hold)

    def may_contain(self, symbol: str) -> bool:
        """Whether the element is part of it, or of an alloy that bears its trade name."""
        return symbol in self.may_hold or self.composition.fineness(symbol) > 0

    @property
    def base(self) -> str:
        """The symbol of the metal it is marked for."""
        return self.composition.base

    @property
    def fineness(self) -> Decimal:
        """Permille of the base metal; of a trade name what it promises."""
        return self.composition.fineness(self.base)


def refuse_deadly(metal: Metal | None, pointer: str) -> None:
    """`InvalidInput` for metal that nobody should melt in a workshop: no recipe or order is made of it."""
    held = [name for symbol, name in NOT_MELTED.items() if metal is not None and metal.composition.fineness(symbol)]
    if held:
        detail = f"It holds {' and '.join(held)}, whose fume poisons: do not melt it, hand it to a licensed refiner."
        raise InvalidInput.of("not-melted", detail, pointer)


@dataclass(frozen=True, slots=True)
class PublishedValue:
    """One published figure of one property, kept beside the preferred one."""

    property: str
    value: Decimal
    unit: str
    status: Status
    source: str
    row: str
    preferred: bool
    note: str


@dataclass(frozen=True, slots=True)
class Alloy:
    """A catalogue entry: the metal, what the trade calls it, and every figure held for it."""

    metal: Metal
    aliases: tuple[str, ...]
    family: str
    colour: str
    uses: tuple[str, ...]
    composition_status: Status
    composition_source: str
    hardness: Property | None
    published: tuple[PublishedValue, ...]
    note: str

    @property
    def id(self) -> str:
        """The catalogue id."""
        return self.metal.id

    @property
    def base(self) -> str:
        """Symbol of the metal it is named for."""
        return self.metal.base

    @property
    def karat(self) -> Decimal:
        """Karat of a gold alloy by arithmetic: 24ths by mass, not the stamp."""
        return self.metal.fineness * KARATS / 1000

    def contains(self, symbol: str) -> bool:
        """Whether the element is part of the nominal composition."""
        return self.metal.composition.fineness(symbol) > 0


@dataclass(frozen=True, slots=True)
class Element:
    """A chemical element as the service holds it. Density in g/cm3 at 20 C, melting point in C."""

    symbol: str
    name: str
    atomic_mass: Property
    density: Property
    melting_point: Property
    note: str

    @property
    def metal(self) -> Metal:
        """The pure element as a metal."""
        melting = self.melting_point
        return Metal(self.symbol, self.name, Composition.pure(self.symbol), self.density, melting, melting)


@dataclass(frozen=True, slots=True)
class Material:
    """A pattern material or a stone: something with a density that is not cast. Density in g/cm3."""

    id: str
    name: str
    density: Property


@dataclass(frozen=True, slots=True)
class Constant:
    """A figure that a calculation rests on and that is no metal's: a coefficient, a convention, a usual doubt."""

    id: str
    name: str
    figure: Property


@dataclass(frozen=True, slots=True)
class TradeRule:
    """A figure of the trade, or only a range: a default that the caller may replace."""

    id: str
    topic: str
    item: str
    value: Decimal | None
    low: Decimal | None
    high: Decimal | None
    unit: str
    condition: str
    status: Status
    source: str
    note: str

    @property
    def figure(self) -> Property:
        """The figure with its range; where only a range is published, its middle."""
        low = self.low if self.low is not None else self.value
        high = self.high if self.high is not None else self.value
        if low is None or high is None:
            raise ValueError(f"trade rule {self.id} has neither a figure nor a whole range")
        value = self.value if self.value is not None else (low + high) / 2
        return Property(value, self.unit, low, high, self.status, self.source, self.note)


@dataclass(frozen=True, slots=True)
class BenchNote:
    """One line for the casting slip: which flux, crucible, quench, for metals matching `applies`."""

    id: str
    step: str
    applies: tuple[str, ...]
    text: str
    status: Status
    source: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning and what it applies to: tokens such as `contains:Ni`, `step:melting`, `base:Pt`, `use:solder`."""

    id: str
    applies: tuple[str, ...]
    title: str
    text: str
    refer: str
    status: Status
    source: str


@dataclass(frozen=True, slots=True)
class Requirement:
    """What some metals must come to in all: element symbols and the least sum of their shares in permille."""

    symbols: tuple[str, ...]
    least: Decimal

    def __str__(self) -> str:
        return f"{' '.join(self.symbols)} >= {plain(self.least)}"


@dataclass(frozen=True, slots=True)
class FinenessMark:
    """A rule of a jurisdiction: a fineness that it knows, with its tolerance below the mark in permille, or another.

    `kind` says what the rule is and `tested` on what it is tested; `when` narrows it to one kind of article,
    `mark_from` and `mark_to` (permille) to some marks; `words` is the word or karat that it names; `limit`
    with its `unit` is its figure, where that is not the mark itself. `counts` are the sets of symbols that count
    together towards its fineness, whichever set comes to most (none: the metal alone); `requires` is asked beside it.
    """

    jurisdiction: str
    instrument: str
    article: str
    kind: str
    metal: str
    fineness: Decimal | None
    minus_tolerance: Decimal | None
    tested: str
    when: str
    words: str
    mark_from: Decimal | None
    mark_to: Decimal | None
    limit: Decimal | None
    unit: str
    counts: tuple[tuple[str, ...], ...]
    requires: Requirement | None
    rule: str
    status: Status
    source: str
    note: str

    @property
    def id(self) -> str:
        """Jurisdiction, metal, mark and article; rules for one mark may share them."""
        mark = "" if self.fineness is None else f"{plain(self.fineness)} "
        return f"{self.jurisdiction} {self.metal} {mark}{self.article}".rstrip()
