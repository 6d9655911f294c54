"""How each served value of an alloy came about, in sentences: the sums, the rows, and what the ranges hold."""

from __future__ import annotations

from collections.abc import Iterator

from alloyref.catalogue.prefer import density_tolerance, hardness_tolerance, melting_tolerance
from alloyref.domain.composition import THOUSAND
from alloyref.domain.density import AS_CAST_POROSITY, DENSITY_MODEL, IDEAL_MIXING
from alloyref.domain.melting import MODEL_SOURCES
from alloyref.domain.metal import KARATS, Alloy, PublishedValue
from alloyref.domain.numbers import plain
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference

VOLUME_DECIMALS = 3


def derivations(alloy: Alloy, reference: Reference) -> tuple[str, ...]:
    """One sentence or two for each value that is served of an alloy."""
    metal = alloy.metal
    found = [f"density: {_density(alloy, reference)}"]
    if alloy.base == "Au":
        found.append(f"karat: {plain(metal.fineness)} x {KARATS} / {THOUSAND} = {plain(round(alloy.karat, 3))}")
    for name, one in (("solidus", metal.solidus), ("liquidus", metal.liquidus)):
        if one is not None:
            found.append(f"{name}: {_melting(name, one, alloy)}")
    if alloy.hardness is not None:
        rows = " and ".join(dict.fromkeys(_rows(alloy, "hardness")))
        error = f"+-{_percent(hardness_tolerance(alloy.hardness.status))}"
        found.append(f"hardness: {_held(alloy.hardness.status)} in {rows}; the range holds {error} and every figure")
    return tuple(found)


def _density(alloy: Alloy, reference: Reference) -> str:
    served = alloy.metal.density
    if len(alloy.metal.composition.parts) == 1:
        return (
            f"that of the element, from {served.source}; the range holds the independent published figures "
            f"and, below, {_percent(AS_CAST_POROSITY)} porosity"
        )
    if served.source in (IDEAL_MIXING, DENSITY_MODEL):
        width = reference.density_model.width(alloy.metal.composition)
        error = f"-{100 * width.below:.1f} % and +{100 * width.above:.1f} % for the mixing rule ({width.basis})"
        return f"{_mixing(alloy, reference)}; {_density_range(error, alloy)}"
    printed = next((one.row for one in _published(alloy, "density") if one.preferred), served.source)
    error = f"+-{_percent(density_tolerance(served.status))} for the composition"
    held = f"{_held(served.status)} in {printed}; {_density_range(error, alloy)}"
    return f"{held}. Mixing would give: {_mixing(alloy, reference)}"


def _density_range(error: str, alloy: Alloy) -> str:
    """What the range of a density holds."""
    others = " and every figure held" if any(_published(alloy, "density")) else ""
    return f"the range holds {error}, {_percent(AS_CAST_POROSITY)} porosity below{others}"


def _mixing(alloy: Alloy, reference: Reference) -> str:
    """The sum of specific volumes, written out, with what the terms of the model take off it."""
    composition, model = alloy.metal.composition, reference.density_model
    densities, elements = reference.element_density, " + ".join(composition.elements)
    terms = " + ".join(f"{plain(share)}/{plain(densities[symbol])}" for symbol, share in composition.parts)
    density, excess = model.density(composition), model.excess(composition) * THOUSAND
    volume = round(THOUSAND / density, VOLUME_DECIMALS)
    sums = [f"{terms} = {round(THOUSAND / density - excess, VOLUME_DECIMALS)} cm3 ({elements})"]
    if excess:
        pairs = ", ".join(term.id for term in model.terms if term.volume(dict(composition.fractions)))
        sums.append(f"{round(excess, VOLUME_DECIMALS):+} for {pairs} = {volume} cm3")
    return f"1000 g take {', '.join(sums)}, so {density:.2f} g/cm3"


def _melting(name: str, one: Property, alloy: Alloy) -> str:
    printed = next((row.row for row in _published(alloy, name) if row.preferred), None)
    if one.source in MODEL_SOURCES:
        low, high = plain(one.value - one.low), plain(one.high - one.value)
        remembered = " and ".join(_rows(alloy, name))
        why = f"{remembered} is only remembered" if remembered else "nothing printed"
        others = " and what is remembered" if remembered else ""
        return f"{why}, so from {one.source}; the range, -{low} and +{high} C, holds the model's error{others}"
    if printed is None:
        pure = len(alloy.metal.composition.parts) == 1
        return f"that of the element, from {one.source}" if pure else f"{one.status.value}, {one.source}"
    tolerance = plain(melting_tolerance(one.status, one.value))
    return f"{_held(one.status)} in {printed}; the range holds +-{tolerance} C about it and every figure"


def _held(status: Status) -> str:
    """How a figure of this standing is held: read in print, or only remembered."""
    return "remembered" if status is Status.FROM_MEMORY else "printed"


def _published(alloy: Alloy, name: str) -> Iterator[PublishedValue]:
    return (one for one in alloy.published if one.property == name)


def _rows(alloy: Alloy, name: str) -> Iterator[str]:
    return (one.row for one in _published(alloy, name))


def _percent(share: object) -> str:
    return f"{float(str(share)) * 100:g} %"
