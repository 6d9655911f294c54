"""Which alloys of the catalogue, and which golds, a measured density agrees with."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import partial
from math import exp, log

from alloyref.domain.calculation import Flag, ListOf, Measured, Number, Record, Text, Whole, item
from alloyref.domain.density_test.hydrostatic import LARGE_SAMPLE
from alloyref.domain.estimate import Estimate, Spread
from alloyref.domain.metal import KARATS, Alloy
from alloyref.domain.numbers import Rounding, round_to
from alloyref.domain.provenance import Property
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

ZERO, ONE = Decimal(0), Decimal(1)
MOST_CANDIDATES = 12
USUAL_KARATS = (8, 9, 10, 14, 18, 20, 21, 22, 24)
SILVER_SHARES = (ZERO, Decimal("0.25"), Decimal("0.5"), Decimal("0.75"), ONE)
"""Shares of silver in what is not gold, along which the field of gold, silver and copper is searched."""
FINEST = 10_000
"""Fine gold in tenths of a permille."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """An alloy of the catalogue and how well it agrees."""

    id: str = item(Text(), "Id of the alloy.")
    name: str = item(Text(), "Its name.")
    density: Property = item(Measured(Dimension.DENSITY), "Its density as served.")
    deviations: Decimal = item(
        Number(), "How far off it is, in standard deviations of measurement and alloy together."
    )
    agrees: bool = item(Flag(), "Whether that is within about 95 %.")
    likelihood: Decimal = item(
        Number(), "Its share of all likelihood, every alloy counting alike beforehand; 0 if no alloy agrees."
    )


@dataclass(frozen=True, slots=True)
class KaratLine:
    """One karat of gold, silver and copper."""

    karat: int = item(Whole(1, 24), "Karat by arithmetic.")
    density: Estimate = item(
        Measured(Dimension.DENSITY, decimals=2),
        "Density with silver and copper in equal parts; ends: copper, silver.",
    )
    agrees: bool = item(Flag(), "Whether some gold of this karat agrees within about 95 %.")


@dataclass(frozen=True, slots=True)
class GoldField:
    """What the density says of gold with silver and copper only, white golds aside."""

    fineness_low: Decimal = item(Number(), "Least permille of gold that agrees.")
    fineness_high: Decimal = item(Number(), "Most permille of gold that agrees.")
    karat_low: Decimal = item(Number(), "The same as karat.")
    karat_high: Decimal = item(Number(), "The same as karat.")
    karats: tuple[KaratLine, ...] = item(ListOf(Record(KaratLine)), "The usual karats, each with its densities.")


def rank(measured: Estimate, standard: Decimal, alloys: Iterable[Alloy]) -> tuple[Candidate, ...]:
    """Every alloy with its likelihood, best first; the likelihoods sum to one.

    `standard` is the standard uncertainty in g/cm3 whose normal distribution covers the measured range. Volume
    for mass is compared, 1 - rho/rho_alloy, in which the doubt of a weighing is even; an alloy's range counts
    as about 95 % on the side that the measurement lies on. Likelihood: a normal density, exp(-z^2/2)/sigma.
    """
    value = measured.value
    weighed = [(*_log_likelihood(value, standard, alloy.metal.density), alloy) for alloy in alloys]
    most = max(score for score, _, _ in weighed)
    total = sum(exp(score - most) for score, _, _ in weighed)
    weighed.sort(key=lambda one: (-one[0], one[2].id))
    return tuple(
        Candidate(
            alloy.id,
            alloy.metal.name,
            alloy.metal.density,
            round_to(deviations, 2),
            abs(deviations) <= LARGE_SAMPLE,
            Decimal(exp(score - most) / total),
        )
        for score, deviations, alloy in weighed
    )


def _log_likelihood(value: Decimal, standard: Decimal, density: Property) -> tuple[float, Decimal]:
    """Logarithm of the likelihood of a measured value, less a constant, and the standard deviations it is off."""
    spread = Spread.of(density)
    side = spread.below if value < density.value else spread.above
    sigma = ((standard / value) ** 2 + (side / LARGE_SAMPLE) ** 2).sqrt()
    deviations = (ONE - value / density.value) / sigma
    return -(float(deviations) ** 2) / 2 - log(float(sigma)), deviations


def shown(ranked: Sequence[Candidate]) -> tuple[tuple[Candidate, ...], Decimal]:
    """The best candidates, likelihoods cut to six decimals, and what is left for all others: together exactly one.

    Where no alloy of the catalogue agrees, the least bad is no likely one: all is left for others. Each likelihood
    is rounded down: to nearest, the best together can be more than one and leave less than nothing.
    """

    def likelihood(one: Candidate) -> Decimal:
        return round_to(one.likelihood, 6, Rounding.DOWN) if likely else ZERO

    likely = any(one.agrees for one in ranked)
    best = tuple(replace(one, likelihood=likelihood(one)) for one in ranked[:MOST_CANDIDATES])
    return best, ONE - sum((one.likelihood for one in best), ZERO)


def gold_field(measured: Estimate, reference: Reference) -> GoldField | None:
    """The finenesses of gold, silver and copper whose estimated density may be the measured one; None if none is.

    An alloy agrees if the range of its estimate and the measured range (both about 95 %) overlap. More silver
    for copper is denser, so the least gold that agrees is found with silver, the most with copper; the field is
    searched along lines of one ratio, in tenths of a permille of gold.
    """
    density = reference.gold_silver_copper
    ends = [one for share in SILVER_SHARES for one in _ends(measured, partial(density, share))]
    if not ends:
        return None
    low, high = min(ends), max(ends)
    lines = tuple(_line(karat, measured, density) for karat in USUAL_KARATS)
    return GoldField(low, high, _karat(low), _karat(high), lines)


def _karat(permille: Decimal) -> Decimal:
    return round_to(permille * KARATS / 1000, 2)


def _ends(measured: Estimate, density: Callable[[int], Estimate]) -> Iterator[Decimal]:
    """The least and the most gold in permille that agree along one line, if any does."""
    fine = density(FINEST)
    if fine.low <= measured.high and fine.high >= measured.low:
        yield Decimal(1000)
    tenths = range(FINEST)
    least = bisect_left(tenths, True, key=lambda gold: density(gold).high >= measured.low)
    beyond = bisect_left(tenths, True, key=lambda gold: density(gold).low > measured.high)
    if least < beyond:
        yield Decimal(least) / 10
        yield Decimal(beyond - 1) / 10


def _line(karat: int, measured: Estimate, field: Callable[[Decimal, int], Estimate]) -> KaratLine:
    tenths = round(Decimal(karat) * FINEST / KARATS)
    copper, equal, silver = (field(share, tenths) for share in (ZERO, Decimal("0.5"), ONE))
    density = Estimate(equal.value, copper.low, silver.high)
    return KaratLine(karat, density, density.low <= measured.high and density.high >= measured.low)
