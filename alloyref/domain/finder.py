"""Looking alloys up: what can be asked of the catalogue, declared once like a calculation's inputs."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from alloyref.domain.calculation import CatalogueWord, Choice, ElementList, Number, Text, Whole, WordList, item
from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import CARAT_WORDS, KARAT_WORDS, Alloy
from alloyref.domain.provenance import Property

THOUSAND = Decimal(1000)
HALF_KARAT = Decimal("0.5")
USES = ("casting", "solder", "trial", "stock")
SORTS = ("id", "name", "fineness", "density", "solidus", "liquidus")
MOST_PAGE = 500
FIELDS = (
    "id",
    "name",
    "aliases",
    "family",
    "base",
    "colour",
    "uses",
    "composition",
    "composition_status",
    "composition_source",
    "fineness",
    "karat",
    "density",
    "solidus",
    "liquidus",
    "hardness",
    "contains_nickel",
    "contains_cadmium",
    "contains_lead",
    "note",
)
"""The fields that an alloy is listed with; a test holds them to what is shown."""


@dataclass(frozen=True, slots=True)
class AlloyQuery:
    """A question to the catalogue; every part narrows it further."""

    base: str | None = item(
        CatalogueWord("base"),
        "Symbol or name of the metal it is named for.",
        default=None,
        example="Au",
    )
    family: str | None = item(
        CatalogueWord("family"), "Family, such as gold or copper-alloy.", default=None, example="gold"
    )
    colour: str | None = item(CatalogueWord("colour"), "Colour in the trade's words.", default=None, example="yellow")
    karat: Decimal | None = item(
        Number(least=Decimal(0), most=Decimal(24), units=(*KARAT_WORDS, *CARAT_WORDS)),
        "Gold of this karat, within half a karat: 14, 14k or 14 ct.",
        default=None,
        example="14",
    )
    fineness_min: Decimal | None = item(
        Number(least=Decimal(0), most=THOUSAND), "Least fineness, permille.", default=None
    )
    fineness_max: Decimal | None = item(
        Number(least=Decimal(0), most=THOUSAND), "Most fineness, permille.", default=None
    )
    contains: tuple[str, ...] = item(
        ElementList(), "Elements it must contain, by symbol or name, with commas between.", default=(), example="Pd"
    )
    free_of: tuple[str, ...] = item(
        ElementList(),
        "Elements it may not contain, by symbol or name, with commas between.",
        default=(),
        example="Ni,Cd",
    )
    use: str | None = item(Choice(USES), "What it is for.", default=None, example="casting")
    q: str | None = item(Text(most=80), "Words that stand in its id, names or notes.", default=None, example="rose")
    sort: str = item(
        Choice((*SORTS, *(f"-{name}" for name in SORTS))),
        "Order; a leading minus turns it round.",
        default="id",
    )
    page: int = item(Whole(1, 10_000), "Page, from 1.", default=1)
    page_size: int = item(Whole(1, MOST_PAGE), "Alloys a page.", default=100)
    fields: tuple[str, ...] = item(
        WordList(FIELDS), "Only these fields of each alloy, by commas.", default=(), example="id,density"
    )

    def check(self) -> None:
        """Refuse a least fineness above the most (`InvalidInput`), which no alloy could answer."""
        if None not in (self.fineness_min, self.fineness_max) and self.fineness_min > self.fineness_max:  # type: ignore[operator]
            detail = "fineness_min lies above fineness_max, so no alloy can be between them."
            raise InvalidInput.of("contradiction", detail, "/fineness_min")


def find(query: AlloyQuery, alloys: Iterable[Alloy]) -> tuple[tuple[str, ...], int]:
    """The ids of one page of the alloys that answer the query, and how many answer it in all.

    In the order asked for, ties by id, alloys without the value last. Raises `InvalidInput` for a question that
    contradicts itself.
    """
    query.check()
    found = sorted((alloy for alloy in alloys if _answers(alloy, query)), key=_SORT_VALUES["id"])
    value = _SORT_VALUES[query.sort.removeprefix("-")]
    known = sorted((one for one in found if value(one) is not None), key=value, reverse=query.sort.startswith("-"))
    unknown = [one for one in found if value(one) is None]
    skipped = (query.page - 1) * query.page_size
    return tuple(one.id for one in (*known, *unknown)[skipped : skipped + query.page_size]), len(found)


def _answers(alloy: Alloy, query: AlloyQuery) -> bool:
    fineness = alloy.metal.fineness
    return (
        query.base in (None, alloy.base)
        and query.family in (None, alloy.family)
        and query.colour in (None, alloy.colour)
        and (query.use is None or query.use in alloy.uses)
        and (query.fineness_min is None or fineness >= query.fineness_min)
        and (query.fineness_max is None or fineness <= query.fineness_max)
        and (query.karat is None or (alloy.base == "Au" and abs(alloy.karat - query.karat) <= HALF_KARAT))
        and all(map(alloy.contains, query.contains))
        and not any(map(alloy.contains, query.free_of))
        and (query.q is None or _has_words(alloy, query.q))
    )


def _has_words(alloy: Alloy, asked: str) -> bool:
    """Whether all the words stand somewhere in what the alloy is called and noted with, in any case."""
    words = (alloy.id, alloy.metal.name, *alloy.aliases, alloy.family, alloy.colour, alloy.note)
    text = " ".join(words).casefold()
    return all(word in text for word in asked.casefold().split())


def _value(one: Property | None) -> Decimal | None:
    return None if one is None else one.value


_SORT_VALUES: dict[str, Callable[[Alloy], Any]] = {
    "id": lambda alloy: alloy.id,
    "name": lambda alloy: alloy.metal.name,
    "fineness": lambda alloy: alloy.metal.fineness,
    "density": lambda alloy: alloy.metal.density.value,
    "solidus": lambda alloy: _value(alloy.metal.solidus),
    "liquidus": lambda alloy: _value(alloy.metal.liquidus),
}
