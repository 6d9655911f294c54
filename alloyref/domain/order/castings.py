"""The three ways in: what one piece weighs as cast in the final metal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from alloyref.domain.calculation import Assumption
from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import ONE, ZERO, Estimate, Spread
from alloyref.domain.numbers import EXACT, plain, round_to
from alloyref.domain.order.inputs import MOST_LOSS, OrderInputs, Other, Pattern, Stage, Stone, Trial
from alloyref.domain.order.spares import castings_needed
from alloyref.domain.order.terms import ANY_PATTERN, Terms, pieces_of
from alloyref.domain.provenance import Property, Status
from alloyref.domain.transfer import contraction_assumed, density_assumption, mass_ratio

BOOK_DECIMALS = 4
"""The books are kept to a tenth of a milligram; every share of a mass is brought to that once."""
CONTRACTION_RANGE = Decimal("0.03")
"""A casting from a pattern or model may come out 3 percent smaller: 1 percent of length (common practice)."""

TOO_SMALL = "The piece comes out below a tenth of a milligram; check the mass and its unit."


@dataclass(frozen=True, slots=True)
class Said:
    """What one way in says of a piece as cast in the final metal, in g, before it is booked."""

    way: str
    exact: Estimate
    per_material: Decimal
    """Grams of final metal for each gram (trial, pattern) weighed, or for each gram of a volume model."""

    @property
    def as_cast(self) -> Estimate:
        """The same as the books have it."""
        return Estimate(
            *(round_to(one, BOOK_DECIMALS) for one in (self.exact.value, self.exact.low, self.exact.high))
        )


@dataclass(frozen=True, slots=True)
class Line:
    """One kind of piece in the flask. Masses in g of the final metal, per piece unless said otherwise."""

    piece: Other
    castings: int
    said: tuple[Said, ...]
    """What each way in says; the first is used."""
    finishing_loss: Decimal
    finished: Estimate
    """One piece after finishing, metal only."""
    stones_mass: Decimal
    """Stones in the finished piece: those that were there and those to be set."""
    castings_mass: Decimal = ZERO
    """All castings of this line, spares included, as the books have it: filled in with the charge."""

    @property
    def name(self) -> str:
        """What it is."""
        return self.piece.name

    @property
    def pieces(self) -> int:
        """How many are delivered."""
        return self.piece.pieces

    @property
    def as_cast(self) -> Estimate:
        """One piece as cast, booked."""
        return self.said[0].as_cast

    @property
    def exact(self) -> Decimal:
        """All castings of this line, before anything is booked."""
        return EXACT.multiply(self.said[0].exact.value, Decimal(self.castings))

    @property
    def delivered_mass(self) -> Decimal:
        """The castings of this line that are delivered, before finishing."""
        share = EXACT.divide(EXACT.multiply(self.castings_mass, Decimal(self.pieces)), Decimal(self.castings))
        return round_to(share, BOOK_DECIMALS)

    @property
    def spares_mass(self) -> Decimal:
        """The castings of this line that are not delivered."""
        return self.castings_mass - self.delivered_mass

    @property
    def lemel(self) -> Decimal:
        """What finishing takes off the pieces that are delivered."""
        return round_to(self.delivered_mass * self.finishing_loss, BOOK_DECIMALS)


def lines_of(inputs: OrderInputs, terms: Terms) -> tuple[tuple[Line, ...], tuple[Assumption, ...]]:
    """All pieces of the flask, the main one first, and what their densities rest on."""
    castings = castings_needed(inputs.pieces, inputs.spares)
    lines, assumed = [], [density_assumption(inputs.final_metal)]
    for place, piece in enumerate(pieces_of(inputs)):
        try:
            line, basis = _line(piece, castings if place == 0 else piece.pieces, terms)
        except InvalidInput as error:
            prefix = "" if place == 0 else f"/others/{place - 1}"
            raise InvalidInput(*(issue.under(prefix) for issue in error.issues)) from None
        lines.append(line)
        assumed += [one for one in basis if one not in assumed]
    return tuple(lines), tuple(assumed)


def extremes_of(inputs: OrderInputs, terms: Terms) -> list[tuple[Terms, tuple[Line, ...]]]:
    """The terms at every corner of what the defaults may be, with the lines as they are there."""
    made: dict[tuple[Decimal, ...], tuple[Line, ...]] = {}
    corners = list(terms.corners()) if terms.defaults else []
    for corner in corners:
        if corner.of_the_pieces not in made:
            made[corner.of_the_pieces] = lines_of(inputs, corner)[0]
    return [(corner, made[corner.of_the_pieces]) for corner in corners]


def spanning(lines: Sequence[Line], extremes: Sequence[Sequence[Line]]) -> tuple[Line, ...]:
    """The lines with ranges that hold those of the same lines on every extreme of the terms."""
    return tuple(
        replace(
            line,
            said=tuple(
                replace(one, exact=one.exact.spanning(*(other.said[place].exact for other in others)))
                for place, one in enumerate(line.said)
            ),
            finished=line.finished.spanning(*(other.finished for other in others)),
        )
        for line, *others in zip(lines, *extremes, strict=True)
    )


def _line(piece: Other, castings: int, terms: Terms) -> tuple[Line, tuple[Assumption, ...]]:
    ways = [way for way in piece.ANY_OF if getattr(piece, way) is not None]
    if not ways:
        raise InvalidInput.of("one-of", "Give a way in: trial, pattern or volume.")
    there = stones_mass(piece.stones)
    loss = piece.finishing_loss if piece.finishing_loss is not None else terms.finishing_loss
    if piece.trial is not None:
        loss = _finishing_loss(piece.trial, loss, there)
    said, assumed = [], []
    for way in ways:
        if way == "trial" and piece.trial is not None:
            as_cast, basis, ratio = _from_trial(piece.trial, there, loss, terms)
        else:
            as_cast, basis, ratio = _from_model(piece, way, terms)
        if not round_to(as_cast.value, BOOK_DECIMALS):
            raise InvalidInput.of("too-small", TOO_SMALL)
        said.append(Said(way, as_cast, ratio))
        assumed += [one for one in basis if one not in assumed]
    finished = said[0].as_cast.times(ONE - loss)
    return Line(piece, castings, tuple(said), loss, finished, there + stones_mass(piece.stones_to_set)), tuple(
        assumed
    )


def stones_mass(stones: Sequence[Stone]) -> Decimal:
    """The stones of one piece, in g."""
    return sum((stone.mass * stone.count for stone in stones), ZERO)


def _finishing_loss(trial: Trial, usual: Decimal, stones: Decimal) -> Decimal:
    """The loss the trial itself shows, if it was weighed before and after; else the given or usual one.

    A share of mass is a share of volume, so it carries over to any metal as it stands.
    """
    if trial.finished_mass is None:
        return usual
    if trial.stage != Stage.AS_CAST:
        raise InvalidInput.of(
            "contradiction", "finished_mass goes with a trial weighed as-cast.", "/trial/finished_mass"
        )
    finished = trial.finished_mass - stones * trial.pieces_weighed
    if not ZERO < finished <= trial.mass:
        raise InvalidInput.of(
            "out-of-range",
            f"After finishing the metal weighs {plain(finished)} g, but before it {plain(trial.mass)} g.",
            "/trial/finished_mass",
        )
    loss = ONE - EXACT.divide(finished, trial.mass)
    if loss >= MOST_LOSS:
        raise InvalidInput.of(
            "out-of-range", "Finishing took off nearly all of it; check both masses.", "/trial/finished_mass"
        )
    return loss


def _from_trial(
    trial: Trial, stones: Decimal, finishing_loss: Decimal, terms: Terms
) -> tuple[Estimate, tuple[Assumption, ...], Decimal]:
    """As-cast mass of one piece in the final metal, from the trial's mass at its stage."""
    metal = trial.mass - (stones * trial.pieces_weighed if trial.finished_mass is None else ZERO)
    if metal <= 0:
        raise InvalidInput.of("out-of-range", "The stones weigh as much as the whole trial or more.", "/trial/mass")
    metal, kept = _without_sprue(trial, metal, terms)
    piece = EXACT.divide(metal * kept, Decimal(trial.pieces_weighed))
    if trial.stage == Stage.FINISHED:
        piece = EXACT.divide(piece, ONE - finishing_loss)
    contractions = trial.contraction, terms.final_contraction
    ratio = mass_ratio(trial.metal, terms.final_metal, *contractions)
    spreads = [Spread.of(ratio)]
    if trial.readability is not None:
        # Half a step of the balance is half a step of the metal, however much of the weighing was not metal.
        spreads.append(Spread.even(EXACT.divide(trial.readability / 2, metal)))
    as_cast = Estimate.widened(piece * ratio.value, *spreads)
    assumed = contraction_assumed(trial.metal, terms.final_metal, *contractions)
    return as_cast, (density_assumption(trial.metal), *assumed), ratio.value


def _without_sprue(trial: Trial, metal: Decimal, terms: Terms) -> tuple[Decimal, Decimal]:
    """Weighed with its sprue: the metal less a known sprue, and the share of it that is pieces."""
    if trial.stage != Stage.WITH_SPRUE:
        if trial.sprue_mass is not None:
            raise InvalidInput.of("contradiction", "sprue_mass goes with the stage with-sprue.", "/trial/sprue_mass")
        return metal, ONE
    sprue = trial.sprue_mass if trial.sprue_mass is not None else terms.allowances.sprue_mass
    if sprue is None:
        return metal, EXACT.divide(ONE, ONE + terms.sprue_share)
    if sprue >= metal:
        raise InvalidInput.of(
            "out-of-range", "The sprue weighs as much as the whole trial or more.", "/trial/sprue_mass"
        )
    return metal - sprue, ONE


def _from_model(piece: Other, way: str, terms: Terms) -> tuple[Estimate, tuple[Assumption, ...], Decimal]:
    """As-cast mass of one piece from a pattern's mass or a model's volume, stones' displacement taken off."""
    assumed = [STONES_DISPLACE] if piece.stones else []
    spreads = [Spread.of(terms.final_metal.density)]
    if way == "pattern" and piece.pattern is not None:
        density, basis = _pattern_density(piece.pattern, terms)
        assumed.append(basis)
        spreads.append(Spread.of(density).inverse())
        volume = EXACT.divide(piece.pattern.mass, density.value * piece.pattern.pieces_weighed)
        ratio = EXACT.divide(terms.final_metal.density.value, density.value)
    else:
        volume, ratio = piece.volume or ZERO, ONE
    stones = sum((_stone_volume(stone, place) for place, stone in enumerate(piece.stones)), ZERO)
    if stones >= volume:
        raise InvalidInput.of(
            "out-of-range", "The stones take up as much room as the whole model or more.", "/stones"
        )
    factor = ONE
    if terms.final_contraction is not None:
        factor = (ONE - terms.final_contraction) ** 3
    else:
        spreads.append(Spread(below=CONTRACTION_RANGE))
        assumed.append(NO_CONTRACTION)
    mass = EXACT.multiply((volume - stones) * factor, terms.final_metal.density.value)
    return Estimate.widened(mass, *spreads), tuple(assumed), ratio


def _pattern_density(pattern: Pattern, terms: Terms) -> tuple[Property, Assumption]:
    """The density to reckon with, and what it rests on; of an unnamed material the terms say which to take."""
    text = "Density of the pattern's material."
    if pattern.density is not None:
        density = Property(pattern.density, "g/cm3", pattern.density, pattern.density, Status.GIVEN, "caller")
    elif pattern.material is not None:
        note = f"{pattern.material.name}; weigh a block of your own for a better figure."
        density = replace(pattern.material.density, note=note)
    else:
        basis, one = terms.defaults[ANY_PATTERN], terms.pattern_density
        text = (
            "Density of the pattern: neither material nor density was said, so masses span wax and resin. Say which "
            "it is, or better weigh a block of it and give its density, to narrow them."
        )
        return replace(basis, value=one, low=one, high=one), Assumption("pattern-density", text, basis)
    return density, Assumption("pattern-density", text, density)


def _stone_volume(stone: Stone, place: int) -> Decimal:
    density = stone.density if stone.density is not None else stone.kind.density.value if stone.kind else None
    if density is None:
        detail = "A stone drawn in a pattern or model needs its kind or density: its room is not metal."
        raise InvalidInput.of("missing", detail, f"/stones/{place}/kind")
    return EXACT.divide(stone.mass * stone.count, density)


NO_CONTRACTION = Assumption(
    "no-contraction",
    "No contraction of the final metal was given: none is taken off; the low end allows 3 % of volume.",
    Property(ZERO, "1", ZERO, Decimal("0.01"), Status.COMMON_PRACTICE, "common-practice"),
)
STONES_DISPLACE = Assumption(
    "stones-displace",
    "Stones drawn in a pattern or model take up room that is not cast: their volume is taken off.",
    Property(ONE, "1", ONE, ONE, Status.CALCULATED, "definition"),
)
