"""Looking alloys up: what can be asked of the catalogue, declared once like a calculation's inputs."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import CatalogueWord, Choice, ElementList, Number, Text, Whole, WordList, item
from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import CARAT_WORDS, KARAT_WORDS

THOUSAND = Decimal(1000)
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
