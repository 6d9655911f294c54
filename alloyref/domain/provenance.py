"""Where a number comes from and how far to trust it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Status(StrEnum):
    """The standing of a value, best first."""

    STANDARD = "standard"
    MEASURED = "measured"
    HANDBOOK = "handbook"
    CALCULATED = "calculated"
    COMMON_PRACTICE = "common-practice"
    FROM_MEMORY = "from-memory"
    GIVEN = "given"


@dataclass(frozen=True, slots=True)
class Source:
    """One publication, law, library, derivation or practice that values rest on.

    `quality` runs from A (exact or primary) to D (remembered); `read` says whether it was read
    ("yes", "partly", "no").
    """

    id: str
    kind: str
    title: str
    locator: str
    quality: str
    read: str
    note: str


@dataclass(frozen=True, slots=True)
class Property:
    """A value with its unit, its range, its standing and the id of its source."""

    value: Decimal
    unit: str
    low: Decimal
    high: Decimal
    status: Status
    source: str
    note: str = ""
