"""What a density test cannot tell, in words, from the numbers of the very test."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.density_test.candidates import Candidate, GoldField
from alloyref.domain.density_test.hydrostatic import Budget, Pair, Surroundings, budget, covered
from alloyref.domain.errors import NotAvailable
from alloyref.domain.estimate import Estimate, Ranged
from alloyref.domain.metal import Alloy
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.reference import Reference

WHITE = "white"
WHITE_KARATS = (14, 18)
HARDENERS = {"nickel": ("Ni", "Pd"), "palladium": ("Pd", "Ni")}
"""What whitens the gold, and what would make it of another kind."""
BUBBLE = Decimal("0.001")
"""One cubic millimetre, in cm3."""
HALF = Decimal("0.5")


@dataclass(frozen=True, slots=True)
class Finding:
    """All that the sentences are drawn from; `unit` is what the piece was weighed in, of so many `grams`."""

    mass: Decimal
    readability: Decimal
    around: Surroundings
    budget: Budget
    measured: Estimate
    ranked: Sequence[Candidate]
    gold: GoldField | None
    unit: str
    grams: Decimal

    def weighing(self, mass: Decimal) -> str:
        """A mass in g as the asker's balance would show it."""
        return f"{plain(round_to(mass / self.grams, 6))} {self.unit}"


def what_it_cannot_tell(found: Finding, reference: Reference) -> tuple[str, ...]:
    """The sentences, those about this measurement first."""
    return (
        *_catalogue(found),
        *_karats(found),
        *_white_golds(found, reference),
        *_balance(found),
        *_tungsten(found, reference),
        *_whole_piece(found),
    )


def _two(value: Decimal) -> str:
    return plain(round_to(value, 2))


def _span(one: Ranged) -> str:
    low, high = _two(one.low), _two(one.high)
    return low if low == high else f"{low} to {high}"


def _catalogue(found: Finding) -> Iterator[str]:
    agreeing = sum(one.agrees for one in found.ranked)
    if not agreeing:
        yield (
            f"No alloy of the catalogue agrees with {_span(found.measured)} g/cm3: suspect a hollow, a stone, a "
            "bubble, a plated core or a misread weight before an unknown alloy."
        )
    elif agreeing > 1:
        yield f"{agreeing} alloys of the catalogue agree: density alone does not choose among them."


def _karats(found: Finding) -> Iterator[str]:
    if found.gold is None:
        return
    open_ = [str(one.karat) for one in found.gold.karats if one.agrees]
    ends = f"{plain(found.gold.karat_low)} to {plain(found.gold.karat_high)} karat"
    if len(open_) > 1:
        yield f"Of gold with silver and copper it leaves open {ends}: it cannot tell {_listed(open_)} karat apart."
    elif found.gold.karat_low < found.gold.karat_high:
        yield f"Of gold with silver and copper it leaves open {ends}: by how much silver stands for copper."


def _listed(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}"


def _white_golds(found: Finding, reference: Reference) -> Iterator[str]:
    """Which karats of white gold agree, and whether a piece so heavy on this balance could tell 14 from 18."""
    whites = [alloy for alloy in reference.alloys.values() if alloy.base == "Au" and alloy.colour == WHITE]
    agreeing = {one.id for one in found.ranked if one.agrees}
    by_karat = {round(alloy.karat): alloy.id for alloy in reversed(whites) if alloy.id in agreeing}
    if len(by_karat) > 1:
        each = [f"{karat} karat ({by_karat[karat]})" for karat in sorted(by_karat)]
        yield f"White golds of {_listed(each)} all agree."
    for kind, (hardener, other) in HARDENERS.items():
        alike = [one for one in whites if one.contains(hardener) and not one.contains(other)]
        yield from _white_pair(kind, alike, found)


def _white_pair(kind: str, alloys: Sequence[Alloy], found: Finding) -> Iterator[str]:
    """That a piece of this mass on this balance cannot tell the two usual karats of one kind of white gold apart."""
    densities = [
        sorted(one.metal.density.value for one in alloys if round(one.karat) == karat) for karat in WHITE_KARATS
    ]
    if not all(densities):
        return
    low, high = (one[len(one) // 2] for one in densities)
    low_read, high_read = _would_read(low, found), _would_read(high, found)
    reason = "the doubt about its volume is more than half of it"
    if low_read is not None and high_read is not None:
        if low_read.high < high_read.low:
            return
        reason = f"the one may read {_span(low_read)}, the other {_span(high_read)}"
    if found.measured.low <= high and found.measured.high >= low:
        yield (
            f"A piece of {found.weighing(found.mass)} on a balance of {found.weighing(found.readability)} cannot "
            f"tell {WHITE_KARATS[0]} karat {kind} white gold (about {_two(low)} g/cm3) from {WHITE_KARATS[1]} (about "
            f"{_two(high)}): {reason}."
        )


def _would_read(density: Decimal, found: Finding) -> Estimate | None:
    """What one weighing of this mass in that density would give, in g/cm3; None where it would give nothing."""
    around = found.around
    lost = found.mass * (around.liquid - around.air) / (density - around.air)
    try:
        return covered(density, budget([Pair(found.mass, found.mass - lost)], found.readability, False, around))
    except NotAvailable:
        return None


def _balance(found: Finding) -> Iterator[str]:
    part = found.budget.parts["readability"]
    if part * part > HALF * found.budget.total**2:
        lost = found.mass * (found.around.liquid - found.around.air) / (found.measured.value - found.around.air)
        step = found.measured.value * found.readability / lost
        yield (
            f"Most of the doubt is the balance's: one step of {found.weighing(found.readability)} in the liquid is "
            f"{plain(round_to(step, 3))} g/cm3 here. Weigh several alike together, or on a finer balance."
        )


def _tungsten(found: Finding, reference: Reference) -> Iterator[str]:
    tungsten, gold = (reference.elements[symbol].density for symbol in ("W", "Au"))
    measured = found.measured
    if measured.low <= tungsten.high and measured.high >= tungsten.low:
        yield (
            f"It cannot tell gold from gilt tungsten: tungsten is {_two(tungsten.value)} g/cm3 (published "
            f"{_span(tungsten)}), fine gold {_two(gold.value)}, and this measurement leaves open {_span(measured)}."
        )
    elif found.gold is not None and found.gold.fineness_low and measured.value < tungsten.value:
        yield (
            f"Tungsten ({_two(tungsten.value)}, gold {_two(gold.value)}) with something lighter under a gold skin "
            "can have this density too: density alone never proves gold."
        )


def _whole_piece(found: Finding) -> Iterator[str]:
    value = found.measured.value
    pores = value / 100
    volume = found.mass / value
    bubble = value - found.mass / (volume + BUBBLE)
    yield (
        "It is of the whole piece: hollows, stones, porosity, solder, plating and enamel count in. One percent of "
        f"empty volume takes {plain(round_to(pores, 3))} g/cm3 off, a clinging bubble of 1 mm3 "
        f"{plain(round_to(bubble, 3)) if round_to(bubble, 3) else 'less than 0.001'}."
    )
