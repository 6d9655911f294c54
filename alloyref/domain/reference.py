"""What a calculation may ask of the reference data: a port, so that a test can pass a plain fake."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property, lru_cache
from typing import Any, TypeVar

from alloyref.domain.citations import Citation, citations
from alloyref.domain.colour import ColourDesignation
from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.density import DensityModel, MixingTerm
from alloyref.domain.density_range import DensityLimit
from alloyref.domain.errors import Candidate, InvalidInput, Issue, NotAvailable, did_you_mean, one_slip_off
from alloyref.domain.estimate import Estimate
from alloyref.domain.gauge import Gauge
from alloyref.domain.melting import MeltingParameter, MeltingTable, estimate_melting
from alloyref.domain.metal import (
    Alloy,
    BenchNote,
    Caution,
    Constant,
    Element,
    FinenessMark,
    Material,
    Metal,
    TradeRule,
)
from alloyref.domain.names import MOST_NAME, Names, name_key
from alloyref.domain.numbers import plain
from alloyref.domain.provenance import Property, Source
from alloyref.domain.ring_sizes import RingSize
from alloyref.domain.searches import searched
from alloyref.domain.trade_names import Said, TradeName, is_coating, read_trade_name
from alloyref.domain.units import Units

MOST_NEAR = 4
FINE = {symbol: Composition.pure(symbol) for symbol in ("Au", "Pt", "Pd")}
LEAST_FINE = 990
"""Permille from which a name means a fine metal rather than an alloy (common practice, no source)."""
MOST_TRADE_NAMES = 8
"""As many trade names are offered: white gold of two karats, with nickel and with palladium, and more."""
KEPT_CHOICES = 512
KEPT_ESTIMATES = 16_384
"""Of gold with silver and copper: half a kilobyte each."""
Key = TypeVar("Key", bound=Hashable)
Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class DatasetVersion:
    """Which data an answer rests on: date of issue and hash of the content."""

    version: str
    hash: str
    date: str


@dataclass(frozen=True)
class Reference:
    """The whole reference data, read-only, in plain objects."""

    dataset: DatasetVersion
    units: Units
    elements: Mapping[str, Element]
    alloys: Mapping[str, Alloy]
    patterns: Mapping[str, Material]
    stones: Mapping[str, Material]
    rules: Mapping[str, TradeRule]
    constants: Mapping[str, Constant]
    cautions: Sequence[Caution]
    bench_notes: Sequence[BenchNote]
    marks: Sequence[FinenessMark]
    gauges: Sequence[Gauge]
    ring_sizes: Sequence[RingSize]
    colour_designations: Sequence[ColourDesignation]
    sources: Mapping[str, Source]
    density_terms: Sequence[MixingTerm]
    density_limits: Sequence[DensityLimit]
    melting: MeltingTable
    melting_parameters: Sequence[MeltingParameter]
    trade_names: Mapping[str, TradeName]

    def metal(self, name: str) -> Metal:
        """The metal of an id, an element symbol, a trade name, or an exact name or alias, however it is spelt.

        `InvalidInput` with near matches if there is none, and with the candidates if the name means several.
        """
        metal = self._metals.get(name)
        if metal is not None:
            return metal
        id_ = self.alloy_id(name)
        if id_ is not None:
            return self._metals[id_]
        trade = self.trade_name(name)
        if trade is not None:
            return self._trade_metals[trade.id]
        symbol = self.symbol(name)
        if symbol is not None:
            return self._metals[symbol]
        raise self._refusal(name)

    def is_named(self, name: str) -> bool:
        """Whether an alloy or a trade name goes by that name."""
        return bool(self.names.alloys(name)) or self.trade_name(name) is not None

    def trade_name(self, name: str) -> TradeName | None:
        """The trade name of that id or meaning, however it is spelt; None if it is none that an alloy bears."""
        if len(name) > MOST_NAME:
            return None
        said = read_trade_name(name)
        return self._trade_by_key.get(name_key(name)) or (self._trade_by_meaning.get(said) if said else None)

    def alloys_of(self, trade: TradeName) -> tuple[Alloy, ...]:
        """The alloys that count for a trade name's ranges."""
        return tuple(self.alloys[id_] for id_ in (*trade.members, *trade.near_members))

    def _refusal(self, name: str) -> InvalidInput:
        """Why a name means no metal, with the trade names and alloys that may be meant."""
        if is_coating(name[:MOST_NAME]):
            detail = f"{name[:80]!r} says a layer on another metal, not an alloy: what it holds is by far less."
            return InvalidInput.of("not-an-alloy", detail)
        rest, without = self.names.free_of(name[:MOST_NAME])
        trade = self.trade_name(rest) if without else None
        if trade is not None:
            meant = (alloy.id for alloy in self.alloys_of(trade) if not alloy.contains(without))
            near = tuple(meant)[:MOST_TRADE_NAMES]
            closing = f" Alloys without {without} are found by free_of={without}."
            detail = f"Not all that goes by {trade.name} is without {without}: name one.{did_you_mean(near)}{closing}"
            return self._invalid("ambiguous-metal", detail, near)
        said = read_trade_name(name[:MOST_NAME])
        near = searched(("metal", name[:MOST_NAME]), lambda: self._near_metals(name[:MOST_NAME], said))
        if said is None or not said.says_more_than_a_metal:
            return self._invalid("unknown-metal", self.no_such("metal", name, near), near)
        if said.has_fineness:
            detail = f"No alloy that may be called {name[:80]!r} is held.{did_you_mean(near)}"
            return self._invalid("unknown-metal", detail, near)
        detail = f"{name[:80]!r} says no karat or fineness, and what it is differs by both.{did_you_mean(near)}"
        return self._invalid("ambiguous-metal", detail, near)

    def _near_metals(self, name: str, said: Said | None) -> tuple[str, ...]:
        """Ids that a name may mean: where it says more than a metal, trade names that say the like come first.

        Of another, ids that are one slip off do, then its words rightly spelt as a trade name, then alloys.
        """
        close = tuple(self._id_keys[key] for key in one_slip_off(name_key(name), self._id_keys))
        if said is not None and said.says_more_than_a_metal:
            likely = tuple(trade.id for trade in self._trade_names_near(said))
            if said.promised >= LEAST_FINE:
                likely = tuple(id_ for id_, one in self.alloys.items() if one.metal.composition == FINE[said.base])
            return tuple(dict.fromkeys((*likely, *(id_ for id_ in close if id_ in self.alloys))))
        trade = self.trade_name(self.names.corrected(name))
        spelt = () if trade is None else (trade.id,)
        return tuple(dict.fromkeys((*close, *spelt, *self.names.search(name, MOST_NEAR))))

    def _invalid(self, code: str, detail: str, near: tuple[str, ...]) -> InvalidInput:
        return InvalidInput(Issue(code, detail, "", near, tuple(map(self.candidate, near))))

    def candidate(self, id_: str) -> Candidate:
        """An alloy, trade name or element by its id, with its name and what it is."""
        if id_ in self.trade_names:
            trade = self.trade_names[id_]
            density = f"{trade.density.low} to {trade.density.high} {trade.density.unit}"
            alloys = "one alloy" if len(trade.members) == 1 else f"{len(trade.members)} alloys"
            return Candidate(id_, trade.name, f"trade name of {alloys} held here, {density}")
        metal = self._metals[id_]
        shares = ", ".join(f"{symbol} {plain(share)}" for symbol, share in metal.composition.parts)
        return Candidate(id_, metal.name, f"{shares} permille; {metal.density.value} {metal.density.unit}")

    def _trade_names_near(self, said: Said) -> tuple[TradeName, ...]:
        """Trade names of the same metal and colour: where a fineness was said the nearest, else the likeliest.

        The table has the likeliest first. White golds are offered with nickel and with palladium told apart.
        """
        alike = [one for one in self.trade_names.values() if said.is_narrowed_by(one.said)]
        if not said.has_fineness:
            return tuple(alike[:MOST_TRADE_NAMES])
        return tuple(sorted(alike, key=lambda one: said.distance_to(one.said))[:MOST_NEAR])

    @cached_property
    def _trade_metals(self) -> Mapping[str, Metal]:
        return {id_: trade.metal for id_, trade in self.trade_names.items()}

    @cached_property
    def _id_keys(self) -> Mapping[str, str]:
        return {name_key(id_): id_ for id_ in (*self.alloys, *self.trade_names)}

    @cached_property
    def _trade_by_key(self) -> Mapping[str, TradeName]:
        return {name_key(name): trade for trade in self.trade_names.values() for name in trade.names}

    @cached_property
    def _trade_by_meaning(self) -> Mapping[Said, TradeName]:
        return {trade.said: trade for trade in self.trade_names.values()}

    def no_such(self, kind: str, name: str, near: tuple[str, ...]) -> str:
        """Why a name means no alloy or metal, in words, with those near it."""
        fine = self.names.symbol(name)
        if fine is not None and fine != self.symbol(name):
            return f"{name!r} alone could be many alloys; the fine metal is {fine}.{did_you_mean(near)}"
        _, without = self.names.free_of(name[:MOST_NAME])
        closing = f" Alloys without {without} are found by free_of={without}." if without else ""
        return f"There is no {kind} {name[:80]!r} here.{did_you_mean(near)}{closing}"

    def symbol(self, name: str) -> str | None:
        """The element of that symbol, in any case; a bare "gold" or "silver" mostly means an alloy of it, so none."""
        symbol = self.names.symbol(name)
        return symbol if symbol is not None and name_key(symbol) == name_key(name) else None

    def alloy_id(self, name: str) -> str | None:
        """The id of the one alloy that the id, name or alias means; `InvalidInput` if it means several."""
        if name in self.alloys:
            return name
        found = self.names.alloys(name)
        if len(found) > 1:
            raise self._invalid("ambiguous-metal", f"{name!r} could be several alloys." + did_you_mean(found), found)
        return found[0] if found else None

    @cached_property
    def names(self) -> Names:
        """Every name of the alloys and elements."""
        return Names(self.alloys.values(), self.elements)

    @cached_property
    def _metals(self) -> Mapping[str, Metal]:
        """Every metal that has a name of its own, one object for each."""
        pure = {symbol: element.metal for symbol, element in self.elements.items()}
        return {**pure, **{name: alloy.metal for name, alloy in self.alloys.items()}}

    def catalogue_words(self, of: str) -> tuple[str, ...]:
        """The families, colours or bases that alloys of the catalogue have, or the jurisdictions of the marks."""
        if of == "jurisdiction":
            return tuple(dict.fromkeys(mark.jurisdiction for mark in self.marks))
        return tuple(sorted({word for alloy in self.alloys.values() if (word := getattr(alloy, of))}))

    def alloys_made_of(self, composition: Composition) -> tuple[Alloy, ...]:
        """The alloys of the catalogue with exactly these shares, in whatever order they are told."""
        return self._by_shares.get(frozenset(composition.parts), ())

    @cached_property
    def _by_shares(self) -> Mapping[frozenset[tuple[str, Decimal]], tuple[Alloy, ...]]:
        found: dict[frozenset[tuple[str, Decimal]], tuple[Alloy, ...]] = {}
        for alloy in self.alloys.values():
            shares = frozenset(alloy.metal.composition.parts)
            found[shares] = (*found.get(shares, ()), alloy)
        return found

    def near_alloys(self, name: str) -> tuple[str, ...]:
        """Catalogue ids that the words of `name` stand in, or that look like it, the likeliest first."""
        return self.names.near(name, MOST_NEAR)

    @cached_property
    def citations(self) -> tuple[Citation, ...]:
        """Every value of every table with the source it cites."""
        return tuple(citations(self))

    @cached_property
    def element_density(self) -> Mapping[str, Decimal]:
        """Density in g/cm3 at 20 C by symbol."""
        return {symbol: element.density.value for symbol, element in self.elements.items()}

    @cached_property
    def density_model(self) -> DensityModel:
        """The density model with the terms and limits of the data."""
        densities = {symbol: element.density for symbol, element in self.elements.items()}
        return DensityModel(densities, self.density_terms, self.density_limits)

    def estimated_density(self, composition: Composition) -> Property:
        """The density estimate of a composition in g/cm3; `NotAvailable` where there is none."""
        return self.density_model.estimate(composition)

    @cached_property
    def gold_silver_copper(self) -> Callable[[Decimal, int], Estimate]:
        """The density estimate in g/cm3 by the share of silver in what is not gold, and gold in tenths of a permille.

        What is neither is copper. Kept, since each density test searches the same few lines of this field.
        """

        @lru_cache(maxsize=KEPT_ESTIMATES)
        def density(silver_share: Decimal, gold_tenths: int) -> Estimate:
            gold = Decimal(gold_tenths) / 10
            silver = (THOUSAND - gold) * silver_share
            shares = {"Au": gold, "Ag": silver, "Cu": THOUSAND - gold - silver}
            estimate = self.estimated_density(Composition.from_permille(shares, shares))
            return Estimate(estimate.value, estimate.low, estimate.high)

        return density

    def estimated_melting(self, composition: Composition) -> tuple[Property, Property]:
        """Solidus and liquidus estimates of a composition in C; `NotAvailable` where there are none."""
        return estimate_melting(composition, self.elements, self.melting)

    def why_no_melting(self, composition: Composition) -> str:
        """Why no melting range can be estimated of a composition; empty if one can."""
        try:
            self.estimated_melting(composition)
        except NotAvailable as refusal:
            return str(refusal)
        return ""

    def cautions_for(self, metals: Iterable[Metal], *tokens: str) -> tuple[Caution, ...]:
        """The cautions that apply: first those about what the metals hold, then those about the steps."""
        held = tokens_of(metals)
        return self._cautions_by_token(held, frozenset(tokens))

    @cached_property
    def _cautions_by_token(self) -> Callable[[frozenset[str], frozenset[str]], tuple[Caution, ...]]:
        """The choice of cautions, kept for what was asked of late: most orders are of few metals."""

        @lru_cache(maxsize=KEPT_CHOICES)
        def choose(held: frozenset[str], tokens: frozenset[str]) -> tuple[Caution, ...]:
            present = held | tokens
            found = [caution for caution in self.cautions if present.intersection(caution.applies)]
            return tuple(sorted(found, key=lambda caution: held.isdisjoint(caution.applies)))

        return choose

    def kept(self, work: Callable[[Key, Reference], Made], key: Key) -> Made:
        """What a pure function makes of a key and these data, kept for what was asked of late."""
        made: Made = self._kept(work, key)
        return made

    @cached_property
    def _kept(self) -> Callable[[Callable[..., Any], Hashable], Any]:
        @lru_cache(maxsize=KEPT_CHOICES)
        def make(work: Callable[..., Any], key: Hashable) -> Any:
            return work(key, self)

        return make

    def notes_for(self, metal: Metal, *tokens: str) -> tuple[BenchNote, ...]:
        """For each step of the casting slip, the first note in the table that fits the metal and the tokens."""
        return self._notes_by_token(tokens_of((metal,)).union(tokens))

    @cached_property
    def _notes_by_token(self) -> Callable[[frozenset[str]], tuple[BenchNote, ...]]:
        """The choice of notes, kept like that of cautions."""

        @lru_cache(maxsize=KEPT_CHOICES)
        def choose(tokens: frozenset[str]) -> tuple[BenchNote, ...]:
            chosen: dict[str, BenchNote] = {}
            for note in self.bench_notes:
                if "any" in note.applies or not tokens.isdisjoint(note.applies):
                    chosen.setdefault(note.step, note)
            return tuple(chosen.values())

        return choose


def tokens_of(metals: Iterable[Metal]) -> frozenset[str]:
    """The tokens that tables of cautions and notes speak in: what the metals contain and are based on."""
    return frozenset().union(*(metal.tokens for metal in metals))
