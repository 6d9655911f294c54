"""Hydrostatic weighing: density from masses in air and in a liquid, and where its uncertainty comes from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.errors import Issue, NotAvailable
from alloyref.domain.estimate import Estimate

ZERO, ONE = Decimal(0), Decimal(1)
MOST_DOUBT = Decimal("0.5")
"""A volume in more doubt than this tells no metal from another."""
# A value known only within a half-width is spread evenly over it: its standard deviation is half-width / sqrt(3).
ROOT3 = Decimal(3).sqrt()
LARGE_SAMPLE = Decimal("1.960")
TOO_SMALL = "too-small"
# Student's factor of 95 % coverage, two-sided, by degrees of freedom (compared in the tests with a library).
_STUDENT = {
    1: "12.706",
    2: "4.303",
    3: "3.182",
    4: "2.776",
    5: "2.571",
    6: "2.447",
    7: "2.365",
    8: "2.306",
    9: "2.262",
    10: "2.228",
    12: "2.179",
    15: "2.131",
    20: "2.086",
    30: "2.042",
    50: "2.009",
    100: "1.984",
}
STUDENT = {freedom: Decimal(factor) for freedom, factor in _STUDENT.items()}


@dataclass(frozen=True, slots=True)
class Pair:
    """The readings of one piece, in g; the liquid's is without the suspension."""

    air: Decimal
    liquid: Decimal


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What the piece was weighed in. Densities in g/cm3, `slope` of the liquid in g/cm3 for each C, half-widths of
    doubt in the same units, temperature's in C."""

    liquid: Decimal
    liquid_doubt: Decimal
    slope: Decimal
    temperature_doubt: Decimal
    air: Decimal
    air_doubt: Decimal


@dataclass(frozen=True, slots=True)
class Budget:
    """Standard uncertainty of a density in g/cm3 by its parts, and the factor for about 95 % coverage."""

    parts: dict[str, Decimal]
    factor: Decimal

    @property
    def total(self) -> Decimal:
        """The combined standard uncertainty in g/cm3: the parts are independent."""
        return sum((part * part for part in self.parts.values()), ZERO).sqrt()

    @property
    def expanded(self) -> Decimal:
        """Half the width of about 95 % coverage, in g/cm3."""
        return self.factor * self.total


def hydrostatic_density(pair: Pair, around: Surroundings) -> Decimal:
    """Density in g/cm3 from readings in g: rho = m_air (rho_l - rho_a)/(m_air - m_liquid) + rho_a.

    The readings may be those of a balance adjusted with weights of any density: the factor cancels.
    Reference: the relation of hydrostatic weighing with the buoyancy of air.

    >>> around = Surroundings(Decimal("0.998207"), ZERO, ZERO, ZERO, Decimal("0.0012"), ZERO)
    >>> round(hydrostatic_density(Pair(Decimal("10.0000"), Decimal("9.4834")), around), 3)
    Decimal('19.301')
    """
    return pair.air * (around.liquid - around.air) / (pair.air - pair.liquid) + around.air


def budget(pairs: Sequence[Pair], readability: Decimal, suspended: bool, around: Surroundings) -> Budget:
    """The uncertainty of the mean density of the pairs, by first-order propagation.

    `readability` in g: each reading is within half a step of it, and repeating does not help, since a steady
    piece is rounded alike each time; a weighed suspension is one reading more. Repeats: the standard
    deviation of the mean, with Student's factor. Equation: u^2 = sum((d rho / d x)^2 u(x)^2).
    """
    count = len(pairs)
    air = sum((pair.air for pair in pairs), ZERO) / count
    lost = air - sum((pair.liquid for pair in pairs), ZERO) / count
    reading = readability / 2 / ROOT3
    by_liquid = (around.liquid - around.air) * air / lost**2
    by_air = by_liquid * (air - lost) / air
    times = air / lost
    densities = [hydrostatic_density(pair, around) for pair in pairs]
    parts = {
        "readability": reading * (by_air**2 + by_liquid**2 * (2 if suspended else 1)).sqrt(),
        "repeats": _deviation_of_mean(densities),
        "temperature": times * abs(around.slope) * around.temperature_doubt / ROOT3,
        "liquid": times * around.liquid_doubt / ROOT3,
        "buoyancy": abs(ONE - times) * around.air_doubt / ROOT3,
    }
    return Budget(parts, coverage_factor(parts, count - 1))


def _deviation_of_mean(values: Sequence[Decimal]) -> Decimal:
    count = len(values)
    if count == 1:
        return ZERO
    mean = sum(values, ZERO) / count
    return (sum(((value - mean) ** 2 for value in values), ZERO) / (count * (count - 1))).sqrt()


def coverage_factor(parts: dict[str, Decimal], freedom: int) -> Decimal:
    """The factor of about 95 % coverage where only the repeats are a sample, of that many degrees of freedom.

    Effective degrees of freedom by Welch and Satterthwaite, cut down to the next one tabulated.
    """
    repeats = parts["repeats"]
    if not repeats:
        return LARGE_SAMPLE
    total = sum((part * part for part in parts.values()), ZERO)
    effective = freedom * (total / repeats**2) ** 2
    below = [one for one in STUDENT if one <= effective]
    return LARGE_SAMPLE if effective > max(STUDENT) * 2 else STUDENT[max(below)]


def covered(value: Decimal, found: Budget) -> Estimate:
    """The density in g/cm3 with the ends of about 95 % coverage.

    The doubt lies in the volume, so the ends are taken there and stand unevenly about the density. Raises
    `NotAvailable` where the doubt about the volume is more than half of it: by the balance, or by the repeats.
    """
    share = found.expanded / value
    if share > MOST_DOUBT and found.parts["repeats"] ** 2 > found.total**2 / 2:
        detail = "The pairs disagree too much to tell a density: are all of the same piece, and none misread?"
        raise NotAvailable(Issue("repeats-disagree", detail, "/weighings"))
    if share > MOST_DOUBT:
        doubt = f"by {share * 100:.0f} %" if share < ONE else "by as much as it is"
        detail = (
            f"The piece is too small for this balance: its volume is in doubt {doubt}. "
            "Weigh several alike together, or on a finer balance."
        )
        raise NotAvailable(Issue(TOO_SMALL, detail))
    return Estimate(value, value / (ONE + share), value / (ONE - share))
