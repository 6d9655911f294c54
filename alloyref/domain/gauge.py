"""Wire and sheet gauges: which number stands for which diameter or thickness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from alloyref.domain.errors import InvalidInput
from alloyref.domain.numbers import EXACT
from alloyref.domain.provenance import Property

AWG = "AWG"
SWG = "SWG"
SYSTEMS = (AWG, SWG)
"""American wire gauge, which is Brown and Sharpe's; and the British standard wire gauge."""
AWG_LARGEST, AWG_RATIO, AWG_STEPS = Decimal("0.46"), Decimal(92), 39
"""Gauge 0000 is 0.46 inch, 36 is 0.005 inch, and the 39 steps between them are one ratio."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """One gauge number of one system. Diameter in mm; the same in inches, as the systems define it."""

    system: str
    gauge: str
    aliases: tuple[str, ...]
    diameter: Property
    diameter_in: Decimal

    @property
    def id(self) -> str:
        """System and number."""
        return f"{self.system} {self.gauge}"


def gauge_number(gauge: str) -> int:
    """The place of a gauge in its row: 1, 2, ... are themselves, 0 is 0, 00 or 2/0 is -1, and so on.

    >>> gauge_number("18"), gauge_number("0"), gauge_number("0000"), gauge_number("7/0")
    (18, 0, -3, -6)
    """
    if gauge.endswith("/0"):
        return 1 - int(gauge.removesuffix("/0"))
    return 1 - len(gauge) if set(gauge) == {"0"} else int(gauge)


def awg_inches(number: int) -> Decimal:
    """Diameter in inches of an American wire gauge by its number (0000 is -3).

    d = 0.005 x 92^((36 - n)/39) inch, by the rule of ASTM B258.

    >>> round(awg_inches(18), 6), awg_inches(36)
    (Decimal('0.040303'), Decimal('0.005'))

    Reference: ASTM B258, as quoted in GNU units 2.22.
    """
    return EXACT.multiply(Decimal("0.005"), EXACT.power(AWG_RATIO, EXACT.divide(Decimal(36 - number), AWG_STEPS)))


GAUGE_SYSTEMS = ("AWG", "B&S", "SWG")
"""What a gauge system may be called."""


def find_gauge(number: str, system: str | None, gauges: Sequence[Gauge]) -> Gauge:
    """The gauge of that number; `InvalidInput` if the system is not said, or has no such number.

    B&S is AWG by another name.
    """
    named = {one.system: one for one in gauges if number in (one.gauge, *one.aliases)}
    if system is None:
        shown = " and ".join(f"{one.diameter.value:.3f} mm in {name}" for name, one in named.items())
        detail = f"Which gauge is {number}? {f'It is {shown}.' if shown else 'Say AWG (B&S) or SWG.'}"
        raise InvalidInput.of("gauge-ambiguous", detail, "/gauge_system", GAUGE_SYSTEMS)
    meant = AWG if system == "B&S" else system
    if meant not in named:
        of_system = [one.gauge for one in gauges if one.system == meant]
        detail = f"There is no gauge {number} in {system}: it runs from {of_system[0]} to {of_system[-1]}."
        raise InvalidInput.of("unknown-gauge", detail, "/gauge", (of_system[0], of_system[-1]))
    return named[meant]
