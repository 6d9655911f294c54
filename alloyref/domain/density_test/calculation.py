"""The density test as a calculation: readings in, density with its uncertainty and what agrees with it out."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from alloyref.domain.calculation import Assumption, Calculation, Outcome, asked_unit
from alloyref.domain.density_test.candidates import gold_field, rank, shown
from alloyref.domain.density_test.hydrostatic import (
    LARGE_SAMPLE,
    TOO_SMALL,
    Budget,
    Pair,
    Surroundings,
    budget,
    covered,
    hydrostatic_density,
)
from alloyref.domain.density_test.inputs import WATER, DensityTestInputs, Liquid
from alloyref.domain.density_test.results import DensityTestResult, OnePair, UncertaintyPart
from alloyref.domain.density_test.water import water_density, water_slope
from alloyref.domain.density_test.words import Finding, what_it_cannot_tell
from alloyref.domain.errors import InvalidInput, Issue, NotAvailable
from alloyref.domain.estimate import Estimate
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.typed import Typed, step_of
from alloyref.domain.units import Dimension

DENSEST = Decimal(23)
"""No metal is denser: osmium is 22.6 g/cm3."""
ZERO, ONE = Decimal(0), Decimal(1)
MILLI = Decimal(1000)
FINEST_BALANCE = Decimal("0.00001")
"""In g: no bench balance shows finer steps (common practice, no source)."""


def density_test(inputs: DensityTestInputs, reference: Reference) -> Outcome:
    """Density (g/cm3) from readings (g) in air and in a liquid at a temperature (C), and what agrees with it.

    rho = m_air (rho_l - rho_a)/(m_air - m_liquid) + rho_a, the mean of the pairs. The uncertainty combines
    readability, repeats, temperature, liquid and air, each to first order. Raises `InvalidInput` where a
    reading in the liquid is not less than that in air, where no metal is so dense, and for water outside
    0 to 40 C; `NotAvailable` where the piece is too small for the balance.
    Check: 10.0000 g in air and 9.4834 g in water at 20 C give 19.30, fine gold.
    """
    pairs = _pairs(inputs)
    around, assumed = _surroundings(inputs, reference)
    readability = _readability(inputs, reference, assumed)
    densities = [hydrostatic_density(pair, around) for pair in pairs]
    value = sum(densities, ZERO) / len(densities)
    if value > DENSEST:
        detail = f"The readings give {plain(round_to(value, 2))} g/cm3; no metal is that dense. Weigh again."
        raise InvalidInput.of("impossible-density", detail, "/weighings")
    doubt = budget(pairs, readability, inputs.suspension is not None, around)
    measured = _covered(value, doubt, None if inputs.readability is not None else readability)
    ranked = rank(measured, doubt.expanded / LARGE_SAMPLE, reference.alloys.values())
    best, others = shown(ranked)
    gold = gold_field(measured, reference)
    mass = sum((pair.air for pair in pairs), ZERO) / len(pairs)
    unit = asked_unit(inputs) or "g"
    grams = reference.units.to_base(ONE, unit, Dimension.MASS)
    finding = Finding(mass, readability, around, doubt, measured, ranked, gold, unit, grams)
    result = DensityTestResult(
        density=Property(value, "g/cm3", measured.low, measured.high, Status.MEASURED, "hydrostatic-weighing"),
        standard_uncertainty=doubt.total,
        coverage_factor=doubt.factor,
        uncertainty_parts=_parts(doubt),
        volume=Estimate(mass / value, mass / measured.high, mass / measured.low),
        liquid_density=_liquid_property(inputs, around),
        pairs=tuple(OnePair(density) for density in densities),
        candidates=best,
        other_likelihood=others,
        agreeing=sum(one.agrees for one in ranked),
        gold=gold,
        cannot_tell=what_it_cannot_tell(finding, reference),
    )
    cautions = reference.cautions_for((), "step:weighing-in-solvent") if _is_other(inputs.liquid) else ()
    return Outcome(result, (*assumed, _even_odds(reference)), cautions)


def _pairs(inputs: DensityTestInputs) -> list[Pair]:
    """The readings without the suspension; each must lose weight in the liquid, and keep some."""
    if not inputs.weighings:
        raise InvalidInput.of("missing", "At least one pair of readings is needed.", "/weighings")
    wire, pairs, issues = inputs.suspension or ZERO, [], []
    for index, one in enumerate(inputs.weighings):
        liquid = one.in_liquid - wire
        pointer = f"/weighings/{index}/in_liquid"
        if liquid >= one.in_air:
            detail = "A piece weighs less in a liquid than in air: are the two readings changed about?"
            issues.append(Issue("contradiction", detail, pointer))
        elif liquid <= 0:
            detail = "The reading in the liquid is no more than the suspension's: nothing is left for the piece."
            issues.append(Issue("contradiction", detail, pointer))
        pairs.append(Pair(one.in_air, liquid))
    if issues:
        raise InvalidInput(*issues)
    return pairs


def _is_other(liquid: Liquid | None) -> bool:
    """Whether it is not water; a density without a name is that of another liquid."""
    if liquid is None:
        return False
    return liquid.density is not None if liquid.name is None else liquid.name.strip().casefold() != WATER


def _surroundings(inputs: DensityTestInputs, reference: Reference) -> tuple[Surroundings, list[Assumption]]:
    """What the piece was weighed in, and what of it was not said."""
    constants, assumed = reference.constants, []
    air = constants["air-density"].figure
    air_value, air_doubt = air.value, (air.high - air.low) / 2
    if inputs.air_density is not None:
        air_value, air_doubt = inputs.air_density, ZERO
    else:
        air_value, air_doubt = air_value / MILLI, air_doubt / MILLI
        assumed.append(Assumption("air-density", "Density of the air, not given.", air))
    given = inputs.liquid.density if inputs.liquid is not None else None
    if given is None and _is_other(inputs.liquid):
        detail = "Only the density of water is held here; give that of the liquid at the temperature of the weighing."
        raise InvalidInput.of("missing", detail, "/liquid/density")
    if given is not None:
        doubt = constants["given-liquid-doubt"].figure
        assumed.append(Assumption("given-liquid", "Density of the liquid as given is good to within this.", doubt))
        return Surroundings(given, doubt.high / MILLI, ZERO, ZERO, air_value, air_doubt), assumed
    celsius, within = _temperature(inputs, reference, assumed)
    purity = constants["water-doubt"].figure
    assumed.append(
        Assumption("clean-water", "Clean water, by formula for pure water; its doubt for a bench.", purity)
    )
    density, slope = water_density(celsius, constants), water_slope(celsius, constants)
    return Surroundings(density, purity.high / MILLI, slope, within, air_value, air_doubt), assumed


def _temperature(
    inputs: DensityTestInputs, reference: Reference, assumed: list[Assumption]
) -> tuple[Decimal, Decimal]:
    """The temperature of the water in C and the half-width of its doubt."""
    if inputs.temperature is None:
        room = reference.constants["room-temperature"].figure
        assumed.append(Assumption("temperature", "Temperature of the water, not given: that of a room.", room))
        return room.value, (room.high - room.low) / 2
    reading = reference.constants["thermometer-doubt"].figure
    assumed.append(Assumption("thermometer", "The temperature of the water is read to within this.", reading))
    return inputs.temperature, reading.high


def _readability(inputs: DensityTestInputs, reference: Reference, assumed: list[Assumption]) -> Decimal:
    """The step of the balance in g: as given, else that of the last digit of the finest reading.

    That a balance shows all its digits is common practice, no source. Readings finer than any bench balance were
    worked out, not read; the usual step then stands in, as it does where nobody knows how they were written.
    """
    if inputs.readability is not None:
        return inputs.readability
    readings = [one for pair in inputs.weighings for one in (pair.in_air, pair.in_liquid) if isinstance(one, Typed)]
    steps = {reference.units.to_base(step_of(one), one.unit, Dimension.MASS): one for one in readings}
    least = min(steps, default=ZERO)
    if least < FINEST_BALANCE:
        usual = reference.constants["balance-readability"].figure
        text = "Smallest step of the balance, not given, and not to be told from the digits of the readings."
        assumed.append(Assumption("readability", text, usual))
        return usual.value
    finest = steps[least]
    shown = Property(least, "g", least, least, Status.COMMON_PRACTICE, "common-practice")
    text = (
        f"Smallest step of the balance, not given: {plain(step_of(finest))} {finest.unit}, by the last digit of the "
        "readings. Noughts that were left off at their ends would make it finer."
    )
    assumed.append(Assumption("readability", text, shown))
    return least


def _covered(value: Decimal, doubt: Budget, by_digits: Decimal | None) -> Estimate:
    """The density with its range; a refusal says so where the step of the balance (g) was only told by the digits."""
    try:
        return covered(value, doubt)
    except NotAvailable as error:
        if by_digits is None or error.issues[0].code != TOO_SMALL:
            raise
        hint = f" Its step is taken to be {plain(by_digits)} g, by the digits given: say readability if it is finer."
        raise NotAvailable(*(replace(one, detail=one.detail + hint) for one in error.issues)) from None


def _liquid_property(inputs: DensityTestInputs, around: Surroundings) -> Property:
    doubt = around.liquid_doubt + abs(around.slope) * around.temperature_doubt
    given = inputs.liquid is not None and inputs.liquid.density is not None
    status, source = (Status.GIVEN, "caller") if given else (Status.CALCULATED, "tanaka-2001")
    return Property(around.liquid, "g/cm3", around.liquid - doubt, around.liquid + doubt, status, source)


def _parts(doubt: Budget) -> tuple[UncertaintyPart, ...]:
    """The parts with their shares of the variance; the largest share takes what rounding leaves."""
    variance = doubt.total**2
    shares = {name: round_to(part * part / variance, 4) for name, part in doubt.parts.items()}
    largest = max(shares, key=lambda name: shares[name])
    shares[largest] += ONE - sum(shares.values())
    return tuple(UncertaintyPart(name, part, shares[name]) for name, part in doubt.parts.items())


def _even_odds(reference: Reference) -> Assumption:
    count = Decimal(len(reference.alloys))
    basis = Property(count, "alloys", count, count, Status.COMMON_PRACTICE, "common-practice")
    return Assumption("even-odds", "Every alloy of the catalogue counts alike before the weighing.", basis)


DENSITY_TEST = Calculation(
    name="density-test",
    title="Density by weighing in air and in a liquid",
    doc="Density with its uncertainty, the alloys and karats that agree with it, and what it cannot tell.",
    inputs=DensityTestInputs,
    result=DensityTestResult,
    run=density_test,
    text="density",
    example={
        "weighings": [{"in_air": "10.0000 g", "in_liquid": "9.4834 g"}],
        "liquid": {"name": "water"},
        "temperature": "20 C",
        "readability": "0.0001 g",
    },
)
