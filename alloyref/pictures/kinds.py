"""Every picture that is offered, declared once: the address, the command and the description follow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from alloyref.domain.order import ORDER
from alloyref.domain.order.inputs import OrderInputs
from alloyref.domain.reference import Reference
from alloyref.pictures.drawing import Drawing
from alloyref.pictures.families import FamiliesInputs, families
from alloyref.pictures.flow import flow
from alloyref.pictures.triangle import TriangleInputs, triangle


@dataclass(frozen=True, slots=True)
class PictureKind:
    """A picture: its declared input, and the function that draws it. `query` ones answer GET, others POST."""

    name: str
    title: str
    doc: str
    inputs: type
    draw: Callable[[Any, Reference], Drawing]
    query: bool = True
    example: dict[str, Any] = field(default_factory=dict)


PICTURES = {
    one.name: one
    for one in (
        PictureKind(
            "alloy-triangle",
            "The gold-silver-copper triangle",
            "Contours of liquidus, solidus, density or karat, with an alloy marked in it.",
            TriangleInputs,
            triangle,
        ),
        PictureKind(
            "density-karat",
            "Density against karat of gold alloys",
            "The catalogue's gold alloys by colour, with a measured ring and its range among them.",
            FamiliesInputs,
            families,
        ),
        PictureKind(
            "charge-flow",
            "Where a charge goes",
            "The charge of an order as a flow into pieces, returns and loss, each as wide as it is heavy.",
            OrderInputs,
            flow,
            query=False,
            example=ORDER.example,
        ),
    )
}
