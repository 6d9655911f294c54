"""What a composition alone lets one expect: density, melting range, karat, fineness, and what lies near it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from alloyref.domain.calculation import (
    Assumption,
    Calculation,
    Choice,
    CompositionOf,
    Exact,
    ListOf,
    Measured,
    Number,
    Outcome,
    Record,
    Text,
    item,
)
from alloyref.domain.composition import PRECIOUS, Composition
from alloyref.domain.errors import AlloyrefError, NotAvailable
from alloyref.domain.metal import KARATS
from alloyref.domain.numbers import round_to
from alloyref.domain.provenance import Property, Status
from alloyref.domain.purity import METALS, NearMark, near_marks
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension

PROPERTIES = ("density", "solidus", "liquidus", "karat", "fineness")
KARAT_DECIMALS = 3
MOST_NEAR = 5
FARTHEST_NEAR = Decimal(100)
"""An alloy of which more than a tenth is another metal is no neighbour (common practice, no source)."""
_MARKED_AS = {symbol: name for name, symbol in METALS.items()}


@dataclass(frozen=True, slots=True)
class EstimateInputs:
    """A composition, and which of its estimates is wanted as one number."""

    composition: Composition = item(
        CompositionOf(),
        "Shares in permille by mass, summing to 1000: an object, or one line of text.",
        example="Au 750, Ag 125, Cu 125",
    )
    wanted: str = item(
        Choice(PROPERTIES), "Which one `number` and the text form give.", name="property", default="density"
    )


@dataclass(frozen=True, slots=True)
class NearAlloy:
    """An alloy of the catalogue that is made of nearly the same."""

    id: str = item(Text(), "Id of the alloy.")
    name: str = item(Text(), "Its name.")
    difference: Decimal = item(Number(), "Permille of its mass that is another element; 0: the same composition.")
    density: Property = item(Measured(Dimension.DENSITY), "Its density as served.")
    solidus: Property | None = item(Measured(Dimension.TEMPERATURE), "Its solidus, if one is published.")
    liquidus: Property | None = item(Measured(Dimension.TEMPERATURE), "Its liquidus, if one is published.")


@dataclass(frozen=True, slots=True)
class Untold:
    """A property without a figure, and the reason."""

    name: str = item(Text(), "Which property.", name="property")
    reason: str = item(Text(), "Why there is no figure.")


@dataclass(frozen=True, slots=True)
class EstimateResult:
    """What is expected of the composition; what has no honest figure is left out and named."""

    metal: str | None = item(Text(), "The precious metal that fineness, karat and marks are told of.")
    density: Property | None = item(Measured(Dimension.DENSITY), "Density at 20 C.")
    solidus: Property | None = item(Measured(Dimension.TEMPERATURE), "Where it begins to melt.")
    liquidus: Property | None = item(Measured(Dimension.TEMPERATURE), "Where it is wholly liquid.")
    karat: Property | None = item(
        Measured(Dimension.PURITY, decimals=KARAT_DECIMALS), "Karat by arithmetic; of gold."
    )
    fineness: Property | None = item(Measured(Dimension.PURITY, decimals=3), "Permille of the precious metal.")
    nearest_marks: tuple[NearMark, ...] = item(
        ListOf(Record(NearMark)), "The marks just below and just above, by law, not by arithmetic."
    )
    nearest_alloys: tuple[NearAlloy, ...] = item(
        ListOf(Record(NearAlloy)), "Alloys of the catalogue of nearly this composition, the nearest first."
    )
    not_available: tuple[Untold, ...] = item(ListOf(Record(Untold)), "What has no figure, and why.")
    wanted: str = item(Text(), "Which property `number` is.", name="property")
    number: tuple[Decimal, str] | None = item(Exact(Dimension.RATIO), "That property as one number with its unit.")

    @property
    def why_none(self) -> str:
        """Why there is no one number."""
        return next((one.reason for one in self.not_available if one.name == self.wanted), "")


def estimate(inputs: EstimateInputs, reference: Reference) -> Outcome:
    """Density (g/cm3), solidus and liquidus (C), karat and fineness (permille) of a composition in permille.

    Density and melting range are estimates, with range, standing and source; karat and fineness are
    arithmetic. A property without an honest figure is None and stands in `not_available` with the reason;
    the rest is answered all the same.
    Check: 750 gold is 18 karat, 585 gold is 14.04 (definition: 24ths by mass).
    """
    composition, untold = inputs.composition, {}
    density, solidus, liquidus = None, None, None
    try:
        density = reference.estimated_density(composition)
    except NotAvailable as error:
        untold["density"] = _reason(error)
    try:
        solidus, liquidus = reference.estimated_melting(composition)
    except NotAvailable as error:
        untold["solidus"] = untold["liquidus"] = _reason(error)
    metal = precious_metal(composition)
    fineness = None if metal is None else fineness_of(composition, metal)
    karat = karat_of(fineness) if fineness is not None and metal == "Au" else None
    if fineness is None:
        untold["fineness"] = "It holds no gold, silver, platinum or palladium."
    if karat is None:
        untold["karat"] = "Karat is told of gold; this is not named for gold."
    found = {"density": density, "solidus": solidus, "liquidus": liquidus, "karat": karat, "fineness": fineness}
    one = found[inputs.wanted]
    result = EstimateResult(
        metal=metal,
        **found,
        nearest_marks=_marks(fineness, metal, reference),
        nearest_alloys=nearest_alloys(composition, reference),
        not_available=tuple(Untold(name, untold[name]) for name in PROPERTIES if name in untold),
        wanted=inputs.wanted,
        number=None if one is None else (one.value, one.unit),
    )
    return Outcome(result, _assumptions(result), reference.cautions_for((), *composition.tokens))


def precious_metal(composition: Composition) -> str | None:
    """The precious metal an alloy would be marked for: its base, else the largest precious share, if any."""
    if composition.base in PRECIOUS:
        return composition.base
    present = [symbol for symbol in PRECIOUS if composition.fineness(symbol)]
    return max(present, key=composition.fineness) if present else None


def fineness_of(composition: Composition, symbol: str) -> Property:
    """The share of one metal in permille, as exact as it was given."""
    share = composition.fineness(symbol)
    return Property(share, "permille", share, share, Status.GIVEN, "caller")


def karat_of(fineness: Property) -> Property:
    """Karat by arithmetic from a fineness in permille: 24ths by mass, not the stamp.

    >>> karat_of(Property(Decimal(585), "permille", Decimal(585), Decimal(585), Status.GIVEN, "caller")).value
    Decimal('14.040')
    """
    value = round_to(fineness.value * KARATS / 1000, KARAT_DECIMALS)
    return Property(value, "karat", value, value, Status.CALCULATED, "definition")


def difference(one: Composition, other: Composition) -> Decimal:
    """How much of the mass is another element, in permille: half the sum of the differences of all shares.

    >>> gold, silver = Composition.pure("Au"), Composition.pure("Ag")
    >>> difference(gold, silver), difference(gold, gold)
    (Decimal('1000'), Decimal('0'))
    """
    shares, others = dict(one.parts), dict(other.parts)
    zero = Decimal(0)
    gaps = (abs(shares.get(symbol, zero) - others.get(symbol, zero)) for symbol in shares.keys() | others.keys())
    return sum(gaps, zero) / 2


def nearest_alloys(composition: Composition, reference: Reference) -> tuple[NearAlloy, ...]:
    """The alloys of the catalogue that differ least, up to a tenth of the mass; of equal ones by id."""
    near = []
    for alloy in reference.alloys.values():
        apart = difference(composition, alloy.metal.composition)
        if apart <= FARTHEST_NEAR:
            near.append((apart, alloy.id, alloy.metal))
    near.sort(key=lambda one: one[:2])
    return tuple(
        NearAlloy(id_, metal.name, apart, metal.density, metal.solidus, metal.liquidus)
        for apart, id_, metal in near[:MOST_NEAR]
    )


def _reason(error: AlloyrefError) -> str:
    return " ".join(issue.detail for issue in error.issues)


def _marks(fineness: Property | None, metal: str | None, reference: Reference) -> tuple[NearMark, ...]:
    if fineness is None or metal is None:
        return ()
    return near_marks(Fraction(fineness.value), _MARKED_AS[metal], reference)


def _assumptions(result: EstimateResult) -> tuple[Assumption, ...]:
    """What the estimates rest on: each model, arithmetic for karat, and what the catalogue knows better."""
    assumed = []
    if result.density is not None:
        text = "Density estimated from the composition; weighing in water or a published figure goes before it."
        assumed.append(Assumption("estimated-density", text, result.density))
    if result.solidus is not None:
        text = "Melting range at equilibrium; a casting segregates and is wholly solid only below the solidus."
        assumed.append(Assumption("estimated-melting", text, result.solidus))
    if result.karat is not None:
        text = "Karat is arithmetic, 24ths by mass; the stamp is law and is listed apart."
        assumed.append(Assumption("karat-by-arithmetic", text, result.karat))
    same = next((one for one in result.nearest_alloys if not one.difference), None)
    if same is not None:
        text = f"The catalogue holds this composition as {same.id}; figures read for it go before estimates."
        assumed.append(Assumption(f"catalogue:{same.id}", text, same.density))
    return tuple(assumed)


ESTIMATE = Calculation(
    name="estimate",
    title="Estimate an alloy from its composition",
    doc="Density, melting range, karat and fineness of any composition, with the marks and alloys nearest to it.",
    inputs=EstimateInputs,
    result=EstimateResult,
    run=estimate,
    query=True,
    text="number",
    bulk=True,
    example={"composition": "Au 750, Ag 125, Cu 125"},
)
