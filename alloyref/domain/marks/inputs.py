"""What a mark is checked with."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.calculation import (
    CatalogueWord,
    Choice,
    Flag,
    MarkName,
    MetalName,
    Permille,
    Quantity,
    Share,
    item,
)
from alloyref.domain.mark_name import METAL_NAMES, Mark
from alloyref.domain.metal import Metal
from alloyref.domain.units import Dimension

ASSAY = Permille(least=Decimal(100))


@dataclass(frozen=True, slots=True, kw_only=True)
class MarkCheckInputs:
    """An assay or a metal, the mark it would carry, and where."""

    metal: Metal | None = item(
        MetalName(),
        "The metal. Without an assay its nominal composition is judged; with one it tells what else is in it.",
        default=None,
        example="gold-585-yellow",
    )
    assay: Decimal | None = item(
        ASSAY,
        "Assay of the article melted as one piece, with any solder, in permille of the precious metal.",
        default=None,
        example=588,
    )
    part_assay: Decimal | None = item(
        ASSAY, "Soldered: assay of a part that is free of solder, in permille.", default=None
    )
    uncertainty: Decimal | None = item(
        Permille(least=Decimal(0), most=Decimal(100)), "Half-width of each assay's range, in permille.", default=None
    )
    of: str | None = item(
        Choice(METAL_NAMES), "Which precious metal; told by the metal or the mark where they can.", default=None
    )
    mark: Mark | None = item(
        MarkName(),
        "The mark: 585, .583, 14K, 22 ct, sterling, Pt950. Without it, only the highest lawful mark is told.",
        default=None,
        example="585",
    )
    jurisdiction: str | None = item(
        CatalogueWord("jurisdiction"), "Where; all that are known here without it.", default=None, example="Finland"
    )
    soldered: bool = item(Flag(), "Whether it has solder joints.", default=False)
    solder: Metal | None = item(MetalName(), "The solder, if known.", default=None)
    solder_share: Decimal | None = item(
        Share(below=Decimal("0.5"), above=Decimal(0)),
        "Solder as a share of the article's mass: the assay of the whole is then reckoned.",
        default=None,
    )
    article: str = item(
        Choice(("jewellery", "flatware", "watchcase", "filigree")), "What kind of article.", default="jewellery"
    )
    white: bool | None = item(Flag(), "Whether it is white gold; told by a catalogue alloy.", default=None)
    mass: Decimal | None = item(
        Quantity(Dimension.MASS),
        "Its precious metal without stones, for the weight below which no hallmark is needed; all its metal where "
        "base metal is part of it.",
        default=None,
    )
