"""Density against karat for the gold alloys, with a measured ring placed among them."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from alloyref.domain.calculation import Number, Quantity, density_quantity, item
from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.metal import Alloy
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.reference import Reference
from alloyref.domain.units import Dimension
from alloyref.pictures.drawing import INK, SOFT, WARM, Drawing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Each colour family has a sign of its own too: colour alone would not tell them apart for everyone.
SIGNS = {
    "yellow": ("o", "#b8860b"),
    "rose": ("s", "#c05a4a"),
    "red": ("D", "#a23b2a"),
    "green": ("^", "#5f8a3a"),
    "white": ("v", "#6f7f8f"),
}
OTHER = ("x", "#6b4f9a")
KARATS = tuple(range(8, 25))
SHOWN_DECIMALS = 3
LEAST_KARAT = Decimal("7.5")


@dataclass(frozen=True, slots=True)
class FamiliesInputs:
    """A measured density with its range, and the karat it is stamped, if any."""

    density: Decimal | None = item(
        density_quantity(), "Measured density of the ring.", default=None, example="13.6 g/cm3"
    )
    uncertainty: Decimal | None = item(
        Quantity(Dimension.DENSITY, above=None, least=Decimal(0), most=Decimal(5)),
        "Half the width of its range.",
        default=None,
        example="0.2 g/cm3",
    )
    karat: Decimal | None = item(
        Number(above=Decimal(0), most=Decimal(24)), "What it is stamped or thought to be.", default=None, example="14"
    )


def families(inputs: FamiliesInputs, reference: Reference) -> Drawing:
    """Gold alloys by karat and density, the lines of gold-silver and gold-copper, and the measured ring.

    Raises `InvalidInput` for an uncertainty or a karat without a density.
    """
    for name in ("uncertainty", "karat"):
        if inputs.density is None and getattr(inputs, name) is not None:
            raise InvalidInput.of("missing", f"{name} goes with a measured density.", "/density")
    golds = [alloy for alloy in reference.alloys.values() if alloy.metal.base == "Au" and alloy.karat >= LEAST_KARAT]
    half = inputs.uncertainty or Decimal(0)
    says = (
        f"Density in g/cm³ against karat for {len(golds)} gold alloys by colour, with lines for gold with silver "
        "only and with copper only: density rises with karat; between the lines lies what silver and copper can make."
    )
    if inputs.density is not None:
        low, high = inputs.density - half, inputs.density + half
        within = [one for one in golds if one.metal.density.low <= high and one.metal.density.high >= low]
        karats = sorted({round(alloy.karat) for alloy in within})
        span = f", of {karats[0]} to {karats[-1]} karat" if karats else ""
        stamped = f", stamped {plain(inputs.karat)} karat" if inputs.karat is not None else ""
        value, width = (plain(round_to(one, SHOWN_DECIMALS)) for one in (inputs.density, half))
        says += (
            f" The ring measured {value} ± {width} g/cm³{stamped}; the ranges of {len(within)} of them meet it{span}."
        )
    return Drawing("Density and karat of gold alloys", says, lambda axes: _draw(axes, golds, inputs, reference))


def _draw(axes: Axes, golds: list[Alloy], inputs: FamiliesInputs, reference: Reference) -> None:
    for other, style in (("Ag", "--"), ("Cu", ":")):
        line = [float(_binary(reference, karat, other)) for karat in KARATS]
        axes.plot(KARATS, line, linestyle=style, color=SOFT, linewidth=1.2, label=f"gold with {other} only")
    for colour in (*SIGNS, "other"):
        sign, ink = SIGNS.get(colour, OTHER)
        of_it = [alloy for alloy in golds if (alloy.colour if alloy.colour in SIGNS else "other") == colour]
        xs, ys = [float(one.karat) for one in of_it], [float(one.metal.density.value) for one in of_it]
        axes.plot(xs, ys, sign, color=ink, markersize=6, markerfacecolor="none", label=colour)
    if inputs.density is not None:
        value, half = float(inputs.density), float(inputs.uncertainty or 0)
        axes.axhspan(value - half, value + half, color=WARM, alpha=0.12)
        axes.axhline(value, color=WARM, linewidth=1)
        if inputs.karat is not None:
            axes.errorbar([float(inputs.karat)], [value], yerr=[half], fmt="*", color=WARM, markersize=14, capsize=5)
        axes.annotate("the ring", (KARATS[0], value), (2, 4), textcoords="offset points", color=WARM)
    axes.set_xlabel("karat")
    axes.set_ylabel("density, g/cm³")
    axes.set_xticks(KARATS[::2])
    axes.legend(frameon=False, fontsize=9, labelcolor=INK)
    axes.spines[["top", "right"]].set_visible(False)


def _binary(reference: Reference, karat: int, other: str) -> Decimal:
    """Density along the line from gold to one other metal."""
    gold = THOUSAND * karat / 24
    shares = {"Au": gold, other: THOUSAND - gold}
    composition = Composition.from_permille({symbol: share for symbol, share in shares.items() if share}, shares)
    return reference.estimated_density(composition).value
