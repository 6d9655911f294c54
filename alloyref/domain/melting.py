"""Melting range of a composition."""

from __future__ import annotations

from collections.abc import Mapping

from alloyref.domain.composition import Composition
from alloyref.domain.errors import Issue, NotAvailable
from alloyref.domain.metal import Element
from alloyref.domain.provenance import Property


def estimate_melting(composition: Composition, elements: Mapping[str, Element]) -> tuple[Property, Property]:
    """Solidus and liquidus in degrees Celsius, each with range, standing and source.

    A pure element melts at one temperature. Raises `NotAvailable` where there is no honest estimate.
    """
    symbol = composition.parts[0][0]
    point = elements[symbol].melting_point if len(composition.parts) == 1 and symbol in elements else None
    if point is None:
        detail = "No melting range can be estimated for this composition."
        raise NotAvailable(Issue("melting-not-available", detail))
    return point, point
