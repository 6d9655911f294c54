"""How far an estimated density may err, by field of composition: what published rows show, and beside them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.estimate import ZERO, Spread


class LimitKind(StrEnum):
    """What a limit is a fraction of."""

    WITHIN = "within"
    """Of the density of a composition that lies in the field."""
    BESIDE = "beside"
    """Of the volume that these elements take in an alloy that no field holds."""


@dataclass(frozen=True, slots=True)
class DensityLimit:
    """How far the density model may err to either side: the fraction `error` of what the kind says.

    A field (`within`) holds compositions of its elements whose shares in permille keep to `least` and
    `most`; a limit `beside` without elements holds for all that no other one names.
    """

    id: str
    kind: LimitKind
    elements: tuple[str, ...]
    least: Mapping[str, Decimal]
    most: Mapping[str, Decimal]
    error: Decimal
    rows: int
    basis: str

    def holds(self, shares: Mapping[str, Decimal]) -> bool:
        """Whether these shares, brought to a sum of 1000, lie in this field; others do not count."""
        if self.kind is not LimitKind.WITHIN:
            return False
        total = sum((shares[symbol] for symbol in self.elements if symbol in shares), ZERO)
        return (
            total > 0
            and all(shares.get(symbol, ZERO) * THOUSAND >= share * total for symbol, share in self.least.items())
            and all(shares.get(symbol, ZERO) * THOUSAND <= share * total for symbol, share in self.most.items())
        )


@dataclass(frozen=True, slots=True)
class Width:
    """Relative half-widths below and above an estimate, and in words what they rest on."""

    below: Decimal
    above: Decimal
    basis: str


def width_of(
    composition: Composition,
    volumes: Mapping[str, Decimal],
    spreads: Mapping[str, Spread],
    limits: Sequence[DensityLimit],
) -> Width:
    """How far the model may err: the narrowest of the bounds that the limits give.

    Each bound starts from a core: the elements of a field, or the metal that takes most of the volume. The core
    keeps the error that rows show for its field, or the spread of the metal's own printed densities; every other
    element may swell or shrink by a fraction of the volume it takes, beside its own spread. `volumes` are
    fractions of the ideal volume.
    """
    shares = dict(composition.parts)
    beside = {symbol: limit for limit in limits if limit.kind is LimitKind.BESIDE for symbol in limit.elements}
    other = next(limit for limit in limits if limit.kind is LimitKind.BESIDE and not limit.elements)
    moved = {symbol: beside.get(symbol, other).error for symbol in volumes}
    metals = [symbol for symbol in volumes if symbol not in beside] or list(volumes)
    cores: list[tuple[tuple[str, ...], DensityLimit | None]] = [((max(metals, key=volumes.__getitem__),), None)]
    cores += [(limit.elements, limit) for limit in limits if limit.holds(shares)]
    bounds = [_bound(volumes, spreads, moved, core, field) for core, field in cores]
    (below, above), (core, field) = min(zip(bounds, cores, strict=True), key=lambda one: max(one[0]))
    return Width(below, above, _in_words(volumes, core, field))


def _bound(
    volumes: Mapping[str, Decimal],
    spreads: Mapping[str, Spread],
    moved: Mapping[str, Decimal],
    core: Collection[str],
    field: DensityLimit | None,
) -> tuple[Decimal, Decimal]:
    """The bound below and above that starts from this core; `field` is the limit of the core if it has one."""
    below = above = ZERO
    for symbol, volume in volumes.items():
        if symbol not in core:
            below += volume * (spreads[symbol].below + moved[symbol])
            above += volume * (spreads[symbol].above + moved[symbol])
        elif field:
            below += volume * field.error
            above += volume * field.error
        else:
            below += volume * spreads[symbol].below
            above += volume * spreads[symbol].above
    return below, above


def _in_words(volumes: Mapping[str, Decimal], core: Collection[str], field: DensityLimit | None) -> str:
    """What the bound rests on: the rows of its field, or how much of the alloy no row backs."""
    rest = [symbol for symbol in volumes if symbol not in core]
    if field and not rest:
        return field.basis
    base = ", ".join(symbol for symbol in volumes if symbol in core)
    share = sum((volumes[symbol] for symbol in rest), ZERO)
    return f"{', '.join(rest)} at {share:.1%} of the volume in {base}, where no closer published density backs it"
