"""The three ways in: what one piece weighs as cast in the final metal."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from alloyref.domain.calculation import Assumption
from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import ONE, ZERO, Estimate, Spread
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import EXACT, plain, round_to
from alloyref.domain.order.inputs import MOST_LOSS, Allowances, OrderInputs, Other, Pattern, Stage, Stone, Trial
from alloyref.domain.order.spares import castings_needed
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.transfer import contraction_assumed, density_assumption, mass_ratio

BOOK_DECIMALS = 4
"""The books are kept to a tenth of a milligram; every share of a mass is brought to that once."""
DEFAULT_PATTERN = "injection-wax"
CONTRACTION_RANGE = Decimal("0.03")
"""A casting from a pattern or model may come out 3 percent smaller: 1 percent of length (common practice)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One kind of piece in the flask. Masses in g of the final metal, per piece unless said otherwise."""

    name: str
    pieces: int
    castings: int
    as_cast: Estimate
    finishing_loss: Decimal
    stones_mass: Decimal
    per_material: Decimal
    """Grams of final metal for each gram (trial, pattern) weighed, or for each gram of a volume model."""

    @property
    def castings_mass(self) -> Decimal:
        """All castings of this line, spares included."""
        return self.as_cast.value * self.castings

    @property
    def spares_mass(self) -> Decimal:
        """The castings of this line that are not delivered."""
        return self.as_cast.value * (self.castings - self.pieces)

    @property
    def lemel(self) -> Decimal:
        """What finishing takes off the pieces that are delivered."""
        return round_to(self.as_cast.value * self.pieces * self.finishing_loss, BOOK_DECIMALS)

    @property
    def finished(self) -> Estimate:
        """One piece after finishing, metal only."""
        return self.as_cast.times(ONE - self.finishing_loss)


@dataclass(frozen=True, slots=True)
class Terms:
    """The allowances as they will be used, with every default filled in, and what was assumed for it."""

    final_metal: Metal
    final_contraction: Decimal | None
    allowances: Allowances
    sprue_share: Decimal
    melt_loss: Decimal
    finishing_loss: Decimal
    assumptions: tuple[Assumption, ...]


def _share_of_the_trial(inputs: OrderInputs) -> Decimal | None:
    """Sprue and button as a share of the pieces, where the trial was weighed with a sprue of known mass."""
    trial = inputs.trial
    if trial is None or trial.sprue_mass is None or trial.stage != Stage.WITH_SPRUE:
        return None
    stones = sum((stone.mass * stone.count for stone in inputs.stones), ZERO) * trial.pieces_weighed
    pieces = trial.mass - stones - trial.sprue_mass
    return EXACT.divide(trial.sprue_mass, pieces) if pieces > 0 else None


def terms_of(inputs: OrderInputs, reference: Reference) -> Terms:
    """Fill in the allowances that were not given from the trade's own figures, and say so."""
    given = inputs.allowances
    if given.sprue_mass is not None and given.sprue_share is not None:
        raise InvalidInput.of("one-of", "Give sprue_mass or sprue_share, not both.", "/allowances/sprue_share")
    assumed: list[Assumption] = []

    def rule(value: Decimal | None, rule_id: str, text: str) -> Decimal:
        if value is not None:
            return value
        figure = reference.rules[rule_id].figure
        assumed.append(Assumption(rule_id, text, figure))
        return figure.value

    share = ZERO
    if given.sprue_mass is None:
        known = given.sprue_share if given.sprue_share is not None else _share_of_the_trial(inputs)
        share = rule(known, "sprue-share", "Sprue and button, as a share of the castings.")
    zinc = inputs.final_metal.may_contain("Zn")
    melt_loss = rule(
        given.melt_loss, "melt-loss-zinc" if zinc else "melt-loss", "Melt loss, as a share of the charge."
    )
    finishing = rule(given.finishing_loss, "finishing-loss", "Finishing loss, as a share of the as-cast mass.")
    return Terms(inputs.final_metal, inputs.final_contraction, given, share, melt_loss, finishing, tuple(assumed))


def lines_of(
    inputs: OrderInputs, terms: Terms, reference: Reference
) -> tuple[tuple[Line, ...], tuple[Assumption, ...]]:
    """All pieces of the flask, the main one first, and what their densities rest on."""
    main = Other(inputs.name, inputs.trial, inputs.pattern, inputs.volume, inputs.pieces, inputs.stones, None)
    castings = castings_needed(inputs.pieces, inputs.spares)
    lines, assumed = [], [density_assumption(inputs.final_metal)]
    for place, piece in enumerate((main, *inputs.others)):
        try:
            line, basis = _line(piece, castings if place == 0 else piece.pieces, terms, reference)
        except InvalidInput as error:
            prefix = "" if place == 0 else f"/others/{place - 1}"
            raise InvalidInput(*(issue.under(prefix) for issue in error.issues)) from None
        lines.append(line)
        assumed += [one for one in basis if one not in assumed]
    return tuple(lines), tuple(assumed)


def _line(piece: Other, castings: int, terms: Terms, reference: Reference) -> tuple[Line, tuple[Assumption, ...]]:
    ways = [way for way in piece.ONE_OF if getattr(piece, way) is not None]
    if len(ways) != 1:
        raise InvalidInput.of(
            "one-of",
            "Give exactly one way in: trial, pattern or volume." + (f" Given: {', '.join(ways)}." if ways else ""),
        )
    stones_mass = sum((stone.mass * stone.count for stone in piece.stones), ZERO)
    if piece.trial is not None:
        loss = _finishing_loss(piece.trial, piece, stones_mass, terms)
        as_cast, basis, ratio = _from_trial(piece.trial, stones_mass, loss, terms)
    else:
        loss = piece.finishing_loss if piece.finishing_loss is not None else terms.finishing_loss
        as_cast, basis, ratio = _from_model(piece, terms, reference)
    as_cast = _booked(as_cast)
    if as_cast.value <= 0:
        raise InvalidInput.of(
            "too-small", "The piece comes out below a tenth of a milligram; check the mass and its unit."
        )
    return Line(piece.name, piece.pieces, castings, as_cast, loss, stones_mass, ratio), basis


def _booked(estimate: Estimate) -> Estimate:
    return Estimate(*(round_to(value, BOOK_DECIMALS) for value in (estimate.value, estimate.low, estimate.high)))


def _finishing_loss(trial: Trial, piece: Other, stones_mass: Decimal, terms: Terms) -> Decimal:
    """The loss the trial itself shows, if it was weighed before and after; else the given or usual one.

    A share of mass is a share of volume, so it carries over to any metal as it stands.
    """
    if trial.finished_mass is None:
        return piece.finishing_loss if piece.finishing_loss is not None else terms.finishing_loss
    if trial.stage != Stage.AS_CAST:
        raise InvalidInput.of(
            "contradiction", "finished_mass goes with a trial weighed as-cast.", "/trial/finished_mass"
        )
    finished = trial.finished_mass - stones_mass * trial.pieces_weighed
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
    trial: Trial, stones_mass: Decimal, finishing_loss: Decimal, terms: Terms
) -> tuple[Estimate, tuple[Assumption, ...], Decimal]:
    """As-cast mass of one piece in the final metal, from the trial's mass at its stage."""
    stones = stones_mass * trial.pieces_weighed if trial.finished_mass is None else ZERO
    metal = trial.mass - stones
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


def _from_model(piece: Other, terms: Terms, reference: Reference) -> tuple[Estimate, tuple[Assumption, ...], Decimal]:
    """As-cast mass of one piece from a pattern's mass or a model's volume, stones' displacement taken off."""
    assumed = [STONES_DISPLACE] if piece.stones else []
    spreads = [Spread.of(terms.final_metal.density)]
    if piece.pattern is not None:
        density = _pattern_density(piece.pattern, reference)
        assumed.append(Assumption("pattern-density", "Density of the pattern's material.", density))
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


def _pattern_density(pattern: Pattern, reference: Reference) -> Property:
    if pattern.density is not None:
        return Property(pattern.density, "g/cm3", pattern.density, pattern.density, Status.GIVEN, "caller")
    material = pattern.material or reference.patterns[DEFAULT_PATTERN]
    return replace(material.density, note=f"{material.name}; weigh a block of your own for a better figure.")


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
