"""The tables of the reference data, each declared in one line."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from alloyref.domain.reference import Reference
from alloyref.services import size_views, views
from alloyref.services.size_views import ColourView, GaugeView, RingSizeView
from alloyref.services.views import (
    CautionView,
    ConstantView,
    ElementView,
    MarkView,
    MaterialView,
    RuleView,
    SourceDetail,
    SourceView,
    TradeNameView,
    UnitView,
)


@dataclass(frozen=True, slots=True)
class TableRoute:
    """A table at `/v1/{name}`: its rows and how they are had from the data; `key` if entries have addresses.

    `example` is the key that the API description shows. An entry shows what its row shows, or with `detail` more:
    what `entry` makes of its key.
    """

    name: str
    summary: str
    view: type
    rows: Callable[[Reference], Iterable[Any]]
    key: str | None = None
    example: str = ""
    detail: type | None = None
    entry: Callable[[str, Reference], Any] | None = None

    @property
    def field(self) -> str:
        """The name of the list in the JSON answer."""
        return self.name.replace("-", "_")


TABLES = (
    TableRoute(
        "elements",
        "Elements: density, melting point, atomic mass",
        ElementView,
        lambda ref: map(views.element_view, ref.elements.values()),
        "symbol",
        "Ag",
    ),
    TableRoute(
        "units",
        "Units of measure with exact factors",
        UnitView,
        lambda ref: map(views.unit_view, ref.units.all),
    ),
    TableRoute(
        "sources",
        "Sources of the data",
        SourceView,
        lambda ref: map(views.source_view, ref.sources.values()),
        "id",
        "ideal-mixing",
        SourceDetail,
        lambda name, ref: views.source_detail(ref.sources[name], ref),
    ),
    TableRoute(
        "patterns",
        "Pattern materials",
        MaterialView,
        lambda ref: map(views.material_view, ref.patterns.values()),
    ),
    TableRoute(
        "stones",
        "Stones and their densities",
        MaterialView,
        lambda ref: map(views.material_view, ref.stones.values()),
    ),
    TableRoute("trade-rules", "Figures of the trade", RuleView, lambda ref: map(views.rule_view, ref.rules.values())),
    TableRoute(
        "constants",
        "Figures that calculations rest on: coefficients, conventions, usual doubts",
        ConstantView,
        lambda ref: map(views.constant_view, ref.constants.values()),
    ),
    TableRoute(
        "cautions",
        "Cautions and what they apply to",
        CautionView,
        lambda ref: map(views.caution_view, ref.cautions),
    ),
    TableRoute("fineness-marks", "Finenesses in law", MarkView, lambda ref: map(views.mark_view, ref.marks)),
    TableRoute(
        "trade-names",
        "Names that the trade uses for several alloys",
        TradeNameView,
        lambda ref: map(views.trade_name_view, ref.trade_names.values()),
        "id",
        "14k-yellow-gold",
    ),
    TableRoute("gauges", "Wire and sheet gauges", GaugeView, lambda ref: map(size_views.gauge_view, ref.gauges)),
    TableRoute(
        "ring-sizes",
        "Ring sizes of five systems",
        RingSizeView,
        lambda ref: map(size_views.ring_size_view, ref.ring_sizes),
    ),
    TableRoute(
        "colour-designations",
        "Colour designations of gold alloys",
        ColourView,
        lambda ref: (size_views.colour_view(one, ref) for one in ref.colour_designations),
    ),
)
