"""Served figures of base metals, platinum and stones against pages that were read, the source beside each.

They replace or widen what was only remembered.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from alloyref.domain.composition import Composition
from alloyref.domain.provenance import Status
from alloyref.domain.reference import Reference

SERVED = [
    # Copper data sheet C52400, phosphor bronze 10 % D: 1550 to 1830 F, 0.317 lb/in3.
    ("bronze-cusn10", "solidus", "843"),
    ("bronze-cusn10", "liquidus", "999"),
    ("bronze-cusn10", "density", "8.78"),
    # Foundry data page C90700: 1528 to 1830 F.
    ("bronze-c90700", "solidus", "831"),
    ("bronze-c90700", "liquidus", "999"),
    # Data sheet of 316L: 2510 to 2550 F.
    ("steel-316l", "solidus", "1377"),
    ("steel-316l", "liquidus", "1399"),
    ("steel-316l", "density", "8.00"),
    # AWS A5.8-1981, Table 1a, BAg-7, as printed in Machinery's Handbook: 1145 to 1205 F.
    ("solder-silver-56-22-17", "solidus", "618"),
    ("solder-silver-56-22-17", "liquidus", "652"),
    # Material data page by ASTM grade, 85 platinum 15 iridium.
    ("platinum-850-ir", "solidus", "1790"),
    ("platinum-850-ir", "liquidus", "1820"),
    # Eleven standard kilograms, 21.548 to 21.552, as a page on platinum-iridium gives them.
    ("platinum-900-ir", "density", "21.550"),
]


@pytest.mark.parametrize(("alloy", "name", "printed"), SERVED)
def test_what_was_read_is_served(reference: Reference, alloy: str, name: str, printed: str) -> None:
    served = getattr(reference.metal(alloy), name)
    assert (served.value, served.status) == (Decimal(printed), Status.HANDBOOK)


HELD = [
    # Data sheets of 316L: 7.99 twice, and 7.87 to 8.07 of the annealed steel.
    *[("steel-316l", "density", printed) for printed in ("7.99", "7.87", "8.07")],
    *[("steel-316l", "solidus", printed) for printed in ("1371", "1375")],
    # The page on 90 platinum 10 iridium prints 1830, more than that on 15 % iridium.
    ("platinum-900-ir", "liquidus", "1830"),
    # The same page on 85 platinum 15 iridium: 1350 lb/ft3.
    ("platinum-850-ir", "density", "21.62"),
    # C90300 (8.3 tin, 4 zinc) and C90500 (10 tin, 2 zinc), foundry data pages.
    *[("bronze-cusn10", "liquidus", printed) for printed in ("999", "1000")],
]


@pytest.mark.parametrize(("alloy", "name", "printed"), HELD)
def test_what_was_read_lies_in_the_range(reference: Reference, alloy: str, name: str, printed: str) -> None:
    served = getattr(reference.metal(alloy), name)
    assert served.low <= Decimal(printed) <= served.high


# Platinum Metals Rev. 27 (1983) 174, as cast, of 95.5 % platinum; a gemmological institute's benchmark; trade pages.
HARDNESS = [
    ("platinum-950-co", "135"),
    ("platinum-950-pd", "65"),
    ("platinum-900-ir", "100"),
    ("platinum-900-ir", "110"),
    ("platinum-952-ru", "120"),
    # Platinum Metals Rev. 53 (2009) 189, annealed.
    ("palladium-950-cu", "70"),
]


@pytest.mark.parametrize(("alloy", "printed"), HARDNESS)
def test_a_hardness_that_was_read_lies_in_the_range(reference: Reference, alloy: str, printed: str) -> None:
    served = reference.alloys[alloy].hardness
    assert served is not None
    assert served.low < Decimal(printed) <= served.high


# Specific gravities as printed: a gem society (lesson and table), an encyclopaedia's table of important gemstones,
# a page on mineral gems, public gem data files, and trade or forum pages (turquoise, low zircon, pearl, jadeite).
STONES = {
    "diamond": "3.51 3.52 3.53",
    "corundum": "3.97 4.03 4.0 4.1 3.96 4.05",
    "quartz": "2.63 2.68 2.65 2.66",
    "beryl": "2.66 2.80 2.68 2.74 2.63 2.91",
    "cubic-zirconia": "5.50 6.00 5.6",
    "topaz": "3.53 3.56",
    "tourmaline": "2.84 3.10 3.06",
    "spinel": "3.60 3.6",
    "chrysoberyl": "3.6 3.8 3.68 3.78 3.73",
    "zircon": "4.70 3.93 4.73",
    "peridot": "3.27 3.48 3.3 3.5 3.34",
    "garnet-almandine": "3.93 4.30 4.3 4.05 4.25",
    "garnet-pyrope": "3.51 3.65 3.6 3.78",
    "tanzanite": "3.35",
    "jadeite": "3.2 3.4 3.24",
    "nephrite": "3.0 3.4 2.96 2.90 3.10",
    "opal": "1.99 2.25 2.0 2.3",
    "turquoise": "2.30 2.90",
    "moonstone": "2.56 2.57",
    "lapis-lazuli": "2.7 2.9 2.8",
    "pearl": "2.71",
    "amber": "1.05 1.096 1.08",
}


@pytest.mark.parametrize(("stone", "printed"), STONES.items())
def test_the_range_of_a_stone_holds_what_was_read(reference: Reference, stone: str, printed: str) -> None:
    density = reference.stones[stone].density
    for one in map(Decimal, printed.split()):
        assert density.low <= one <= density.high


def test_only_stones_of_which_nothing_was_read_figure_by_figure_are_remembered(reference: Reference) -> None:
    remembered = {one.id for one in reference.stones.values() if one.density.status is Status.FROM_MEMORY}
    assert {"diamond", "corundum", "quartz", "beryl", "topaz", "spinel", "moonstone"}.isdisjoint(remembered)
    assert "moissanite" in remembered


# NIST, silver-copper system page after Hayes et al. (1986): eutectic 779.1 C at 71.59 % silver, and the most copper
# that solid silver dissolves leaves 91.73 % silver.
def test_the_melting_model_has_the_printed_eutectic(reference: Reference) -> None:
    def melting(silver: str) -> tuple[float, float]:
        shares = {"Ag": Decimal(silver), "Cu": 1000 - Decimal(silver)}
        ends = reference.estimated_melting(Composition.from_permille(shares, {"Ag", "Cu"}))
        return float(ends[0].value), float(ends[1].value)

    assert melting("715.9")[0] == pytest.approx(779.1, abs=0.1)
    # The cusp lies between two nodes of the table, at whole percents.
    assert melting("715.9")[1] == pytest.approx(779.1, abs=2.5)
    assert melting("910")[0] == pytest.approx(779.1, abs=0.1)
    assert melting("930")[0] > 790
