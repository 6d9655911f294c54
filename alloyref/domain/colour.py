"""Colour designations of gold: a letter and number for a colour, and the nominal alloy behind it."""

from __future__ import annotations

from dataclasses import dataclass

from alloyref.domain.composition import Composition
from alloyref.domain.provenance import Property, Status


@dataclass(frozen=True, slots=True)
class ColourDesignation:
    """A colour of gold alloys by its designation. Fineness and silver in permille.

    `composition` is the nominal one, or None where none was read; `silver` is the range that the colour allows.
    """

    designation: str
    colour: str
    fineness: Property
    composition: Composition | None
    composition_status: Status
    composition_source: str
    silver: Property | None
    note: str

    @property
    def id(self) -> str:
        """The designation."""
        return self.designation
