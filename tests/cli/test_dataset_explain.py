"""`alloyref dataset` and `dataset explain`: standings counted, and each value with the way it came about."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal

import pytest
from click.testing import Result

from alloyref.catalogue.derivation import derivations
from alloyref.domain.reference import Reference

Run = Callable[..., Result]
SUM = re.compile(
    r"1000 g take ([^=]+) = ([\d.]+) cm3 \([^)]+\)"
    r"(?:, ([+-][\d.]+) for ([\w, -]+) = ([\d.]+) cm3)?, so ([\d.]+) g/cm3"
)
CALCULATED = ("ideal-mixing", "density-model")


def test_the_standings_of_the_whole_data(run: Run, reference: Reference) -> None:
    text = run("dataset").stdout
    assert reference.dataset.hash in text
    lines = {line.split()[0]: line.split()[1:] for line in text.splitlines() if line.strip()}
    for field in {f"{one.table}.{one.field}" for one in reference.citations}:
        counted = sum(f"{one.table}.{one.field}" == field for one in reference.citations)
        assert sum(map(int, lines[field])) == counted, field


def test_the_sum_behind_a_calculated_density_adds_up(reference: Reference) -> None:
    """The terms shown give the volume shown, and that the density served: done again from the text alone."""
    terms_of = {term.id: term for term in reference.density_terms}
    calculated = 0
    for alloy in reference.alloys.values():
        for terms, ideal, excess, pairs, volume, density in SUM.findall("\n".join(derivations(alloy, reference))):
            shares = [tuple(map(Decimal, term.split("/"))) for term in terms.split(" + ")]
            assert sum(share for share, _ in shares) == 1000
            assert abs(sum(share / one for share, one in shares) - Decimal(ideal)) <= Decimal("0.0005")
            fractions = {symbol: share / 1000 for symbol, share in alloy.metal.composition.parts}
            moved = sum(1000 * terms_of[pair].volume(fractions) for pair in pairs.split(", ") if pair)
            assert abs(moved - Decimal(excess or 0)) <= Decimal("0.0005")
            whole = Decimal(volume or ideal)
            assert abs(Decimal(ideal) + Decimal(excess or 0) - whole) <= Decimal("0.0015")
            assert abs(1000 / whole - Decimal(density)) <= Decimal("0.0051")
            if alloy.metal.density.source in CALCULATED:
                calculated += 1
                assert alloy.metal.density.value == Decimal(density)
    assert calculated == sum(alloy.metal.density.source in CALCULATED for alloy in reference.alloys.values())


def test_every_served_value_has_its_derivation(reference: Reference) -> None:
    for alloy in reference.alloys.values():
        named = [line.partition(":")[0] for line in derivations(alloy, reference)]
        served = [
            ("density", True),
            ("karat", alloy.base == "Au"),
            ("solidus", alloy.metal.solidus is not None),
            ("liquidus", alloy.metal.liquidus is not None),
            ("hardness", alloy.hardness is not None),
        ]
        assert named == [name for name, there in served if there]


def test_a_printed_value_names_the_row_it_stands_in(reference: Reference) -> None:
    for alloy in reference.alloys.values():
        text = "\n".join(derivations(alloy, reference))
        for one in alloy.published:
            if one.preferred and one.property in ("solidus", "liquidus", "hardness"):
                assert one.row in text


@pytest.mark.parametrize("alloy", ["gold-750-yellow", "sterling-silver", "fine-gold", "Nothing"])
def test_it_is_printed(run: Run, reference: Reference, alloy: str) -> None:
    result = run("dataset", "explain", alloy)
    assert result.exit_code == (1 if alloy == "Nothing" else 0)
    if alloy in reference.alloys:
        for line in derivations(reference.alloys[alloy], reference):
            assert line in result.stdout
