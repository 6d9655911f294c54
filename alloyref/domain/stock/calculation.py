"""How much stock a mass makes, and what a length or a number of pieces weighs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_FLOOR, Decimal
from typing import ClassVar

from alloyref.domain.calculation import (
    Assumption,
    Calculation,
    Choice,
    Exact,
    MapOf,
    Measured,
    MetalName,
    Outcome,
    Quantity,
    Text,
    Whole,
    item,
)
from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import Estimate, Spread
from alloyref.domain.gauge import GAUGE_SYSTEMS, Gauge, find_gauge
from alloyref.domain.given import require_one
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import EXACT
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.sections import half_ellipse, segment
from alloyref.domain.stock.forms import DIMENSIONS, FORMS, Form, check_size
from alloyref.domain.transfer import density_assumption
from alloyref.domain.units import Dimension

ONE = Decimal(1)
AMOUNTS = ("mass", "length", "pieces")
MM3_PER_CM3 = Decimal(1000)
MOST_PIECES = 10_000_000
MOST_COUNTED = 10**9
MOST_WEIGHED = Decimal(10**9)
SIZE = Quantity(Dimension.LENGTH, above=None, least=Decimal("0.001"), most=Decimal(2000))
RUN = Quantity(Dimension.LENGTH, above=None, least=Decimal("0.001"), most=Decimal(10_000_000))
LENGTH = Measured(Dimension.LENGTH, decimals=3)


@dataclass(frozen=True, slots=True)
class StockInputs:
    """A form with its dimensions, its metal, and how much of it: by mass, by length, or by pieces."""

    ONE_OF: ClassVar[tuple[str, ...]] = AMOUNTS

    form: str = item(Choice(tuple(FORMS)), "What it is.", example="round-wire")
    metal: Metal = item(MetalName(), "What it is made of.", example="sterling-silver")
    thickness: Decimal | None = item(
        SIZE, "Thickness of sheet, strip, disc or blank; side of square wire; height of half-round.", default=None
    )
    width: Decimal | None = item(SIZE, "Width of sheet, strip, blank, rectangular or half-round wire.", default=None)
    diameter: Decimal | None = item(
        SIZE, "Diameter of round wire, disc or granule; outside diameter of tube.", default=None, example="1.3 mm"
    )
    inside_diameter: Decimal | None = item(
        SIZE, "Inside diameter of tube, or of the ring a blank is for.", default=None
    )
    wall: Decimal | None = item(SIZE, "Wall of tube, instead of its inside diameter.", default=None)
    gauge: str | None = item(
        Text(pattern=r"^[0-9]{1,7}(/0)?$", digits=True),
        "Gauge number, in place of the diameter of round wire or the thickness of what is flat or square.",
        default=None,
    )
    gauge_system: str | None = item(
        Choice(GAUGE_SYSTEMS), "Which gauge: AWG and B&S are the same, SWG is another.", default=None
    )
    mass: Decimal | None = item(Quantity(Dimension.MASS), "How much metal there is.", default=None, example="5 dwt")
    length: Decimal | None = item(RUN, "Or how long the stock is.", default=None)
    pieces: int | None = item(Whole(1, MOST_PIECES), "Or how many pieces.", default=None)
    piece_length: Decimal | None = item(
        RUN, "Length of one piece, where sheet, strip, wire or tube is cut into pieces.", default=None
    )


@dataclass(frozen=True, slots=True)
class StockResult:
    """The same stock by mass, length and pieces."""

    answer: tuple[Decimal, str] = item(
        Exact(Dimension.RATIO), "What was asked for: of a mass its length, or its pieces; of these their mass."
    )
    mass: Estimate = item(Measured(Dimension.MASS, display=True), "Mass.")
    length: Estimate | None = item(LENGTH, "Length; none for discs and granules.")
    pieces: Estimate | None = item(
        Measured(Dimension.RATIO, decimals=3),
        "Pieces, with the part of a piece; none if nothing says how long one is.",
    )
    whole_pieces: int | None = item(Whole(0, MOST_COUNTED), "Whole pieces.")
    piece_mass: Estimate | None = item(Measured(Dimension.MASS, display=True), "Mass of one piece.")
    mass_per_metre: Estimate | None = item(
        Measured(Dimension.MASS, decimals=3), "Mass of one metre; none for discs and granules."
    )
    volume: Estimate = item(Measured(Dimension.VOLUME, decimals=5), "Volume of the metal.")
    dimensions: Mapping[str, Decimal] = item(
        MapOf(Measured(Dimension.LENGTH, decimals=5)), "The dimensions as understood, a gauge as what it stands for."
    )


@dataclass(frozen=True, slots=True)
class _Shape:
    """Volumes in mm3: of one mm of length, and of one piece; and the mm of length in a piece."""

    per_mm: Decimal | None
    per_piece: Decimal | None
    piece_length: Decimal | None


def stock(inputs: StockInputs, reference: Reference) -> Outcome:
    """Mass, length and pieces of stock from any one of them.

    m = rho V, with V the area of the section times the length, or the volume of a piece times their number;
    lengths in mm, masses in g, density rho in g/cm3. Of what is given nothing is uncertain; the rest has the
    range of the density (about 95 percent). Dimensions are taken as exact.
    Raises `InvalidInput`, by name, for dimensions that are missing, that the form has no use for, or that
    leave no metal; for a gauge without its system; and for more than a thousand tonnes.
    Check: a sphere, a disc and a tube by hand; the masses of pieces add up to that of the whole.
    """
    form = FORMS[inputs.form]
    amount = require_one(inputs, AMOUNTS, "How much stock there is")
    gauge = _gauge(inputs, form, reference)
    size = _size(inputs, form, gauge)
    check_size(inputs.form, form, size)
    result = _result(inputs, amount, _shape(inputs, form, size), size)
    assumed = [density_assumption(inputs.metal), EXACT_DIMENSIONS, *_assumed(inputs, gauge, size)]
    return Outcome(result, tuple(assumed), reference.cautions_for((inputs.metal,)))


def _gauge(inputs: StockInputs, form: Form, reference: Reference) -> Gauge | None:
    """The gauge that was given, if any."""
    if inputs.gauge is None:
        if inputs.gauge_system is not None:
            raise InvalidInput.of("missing", "A gauge system is given, but no gauge.", "/gauge")
        return None
    if not form.gauge:
        detail = f"A {inputs.form} is not sized by gauge here: give its dimensions."
        raise InvalidInput.of("not-needed", detail, "/gauge")
    if getattr(inputs, form.gauge) is not None:
        raise InvalidInput.of("too-many", f"The gauge is the {form.gauge}: give only one of them.", f"/{form.gauge}")
    return find_gauge(inputs.gauge, inputs.gauge_system, reference.gauges)


def _size(inputs: StockInputs, form: Form, gauge: Gauge | None) -> dict[str, Decimal]:
    """The dimensions that were given, in mm."""
    given = {name: value for name in DIMENSIONS if (value := getattr(inputs, name)) is not None}
    return given if gauge is None else {**given, form.gauge: gauge.diameter.value}


def _shape(inputs: StockInputs, form: Form, size: dict[str, Decimal]) -> _Shape:
    if form.section is not None:
        area = form.section(size).area
        long = inputs.piece_length
        return _Shape(area, None if long is None else EXACT.multiply(area, long), long)
    if inputs.piece_length is not None:
        detail = f"A {inputs.form} is a piece of itself: its dimensions say how long it is."
        raise InvalidInput.of("not-needed", detail, "/piece_length")
    if form.piece is None:
        raise LookupError(inputs.form)
    volume = form.piece(size)
    if form.piece_length is None:
        return _Shape(None, volume, None)
    long = form.piece_length(size)
    return _Shape(EXACT.divide(volume, long), volume, long)


def _result(inputs: StockInputs, amount: str, shape: _Shape, size: Mapping[str, Decimal]) -> StockResult:
    density, spread = inputs.metal.density.value, Spread.of(inputs.metal.density)
    volume = _volume(inputs, amount, shape)
    if inputs.mass is None:
        exact, unsure = volume, EXACT.multiply(volume, density)
        found, mass = Estimate.widened(exact), Estimate.widened(unsure, spread)
    else:
        found, mass = Estimate.widened(volume, spread.inverse()), Estimate.widened(inputs.mass)
    length = _by(found, shape.per_mm)
    pieces = _by(found, shape.per_piece)
    if pieces is not None and pieces.value > MOST_COUNTED:
        detail = "That makes more than a billion pieces: check the dimensions and their units."
        raise InvalidInput.of("out-of-range", detail, f"/{amount}")
    if mass.value > MOST_WEIGHED:
        detail = "That weighs more than a thousand tonnes: check the dimensions and their units."
        raise InvalidInput.of("out-of-range", detail, f"/{amount}")
    result_of = {"mass": length or pieces, "length": mass, "pieces": mass}[amount] or found
    unit = "g" if amount != "mass" else "mm" if length is not None else "1"
    return StockResult(
        answer=(round(result_of.value, 4), unit),
        mass=mass,
        length=length,
        pieces=pieces,
        whole_pieces=None if pieces is None else whole_of(pieces.value),
        piece_mass=_weighing(shape.per_piece, density, spread),
        mass_per_metre=_weighing(None if shape.per_mm is None else shape.per_mm * 1000, density, spread),
        volume=found,
        dimensions=size,
    )


def whole_of(pieces: Decimal) -> int:
    """The whole pieces in a number of them; what falls short by the last digits of a division counts as whole.

    >>> whole_of(Decimal("6.99999999999999999999999999")), whole_of(Decimal("6.99"))
    (7, 6)
    """
    return int(round(pieces, 12).to_integral_value(ROUND_FLOOR))


def _volume(inputs: StockInputs, amount: str, shape: _Shape) -> Decimal:
    """Volume in cm3 of what was given."""
    if inputs.mass is not None:
        return EXACT.divide(inputs.mass, inputs.metal.density.value)
    each = shape.per_mm if amount == "length" else shape.per_piece
    if each is None:
        if amount == "length":
            raise InvalidInput.of("not-needed", f"A {inputs.form} has no length: give mass or pieces.", "/length")
        raise InvalidInput.of("missing", f"Pieces of {inputs.form} need the length of one.", "/piece_length")
    many = inputs.length if inputs.length is not None else Decimal(inputs.pieces or 0)
    return EXACT.divide(EXACT.multiply(each, many), MM3_PER_CM3)


def _by(volume: Estimate, each: Decimal | None) -> Estimate | None:
    """A volume in cm3 counted in units of so many mm3."""
    return None if each is None else volume.times(EXACT.divide(MM3_PER_CM3, each))


def _weighing(volume: Decimal | None, density: Decimal, spread: Spread) -> Estimate | None:
    """Mass in g of a volume in mm3."""
    return None if volume is None else Estimate.widened(EXACT.multiply(volume, density) / MM3_PER_CM3, spread)


def _assumed(inputs: StockInputs, gauge: Gauge | None, size: Mapping[str, Decimal]) -> list[Assumption]:
    found = []
    if gauge is not None:
        found.append(Assumption(f"gauge:{gauge.id}", f"{gauge.id} is {gauge.diameter_in} inch.", gauge.diameter))
    if inputs.form == "half-round-wire":
        found.append(_half_round(size))
    if inputs.form == "granules":
        found.append(_practice("spheres", "Granules are counted as spheres of one size.", "1"))
    return found


def _half_round(size: Mapping[str, Decimal]) -> Assumption:
    """Which curve stands above the flat: mills draw half-round wire as half an ellipse or as an arc of a circle."""
    if "thickness" not in size:
        return _practice("half-circle", "Half-round wire without a thickness is half a circle.", "0.5")
    width, height = size["width"], size["thickness"]
    text = "Half-round wire of this width and thickness is taken as half an ellipse"
    if height >= width / 2:
        return _practice("half-ellipse", f"{text}.", "1")
    share = round(EXACT.divide(segment(width, height).area, half_ellipse(width, height).area), 3)
    return _practice(
        "half-ellipse", f"{text}; with an arc of a circle over its flat it is {share} of that.", str(share)
    )


def _practice(name: str, text: str, value: str) -> Assumption:
    figure = Decimal(value)
    basis = Property(figure, "1", figure, figure, Status.COMMON_PRACTICE, "common-practice")
    return Assumption(name, text, basis)


EXACT_DIMENSIONS = _practice(
    "dimensions",
    "Dimensions count as exact, so the range is that of the density alone. Its low end allows for the pores of a "
    "casting, which rolled and drawn metal hardly has.",
    "0",
)

STOCK = Calculation(
    name="stock",
    title="Mass, length and pieces of stock",
    doc="Sheet, strip, wire, tube, discs, ring blanks and granules: from one of mass, length and pieces the others.",
    inputs=StockInputs,
    result=StockResult,
    run=stock,
    query=True,
    text="answer",
    example={"form": "round-wire", "metal": "sterling-silver", "diameter": "1.3 mm", "mass": "5 dwt"},
)
