"""The terms of an order: its allowances with every default filled in, and the ends of what each default may be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import product

from alloyref.domain.calculation import Assumption
from alloyref.domain.errors import InvalidInput
from alloyref.domain.estimate import ZERO
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import EXACT
from alloyref.domain.order.inputs import Allowances, OrderInputs, Other, Stage, Trial
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference

ANY_PATTERN = "pattern_density"


@dataclass(frozen=True, slots=True)
class Terms:
    """The allowances as they will be used, and what was assumed for them.

    `defaults` are the fields that were not given, by name, each with its range.
    """

    final_metal: Metal
    final_contraction: Decimal | None
    allowances: Allowances
    sprue_share: Decimal
    melt_loss: Decimal
    finishing_loss: Decimal
    pattern_density: Decimal
    """For a pattern of which neither density nor material was said, in g/cm3."""
    sprue_in_a_trial: bool
    """Whether a trial was weighed with a sprue of unknown mass, so that the share also tells what a piece weighs."""
    defaults: Mapping[str, Property]
    assumptions: tuple[Assumption, ...]

    @property
    def added_share(self) -> Decimal:
        """Sprue and button to be cast, as a share of the pieces: none beside a mass of both."""
        given = self.allowances
        return ZERO if given.sprue_mass is not None or _is_button_alone(given) else self.sprue_share

    @property
    def of_the_pieces(self) -> tuple[Decimal, ...]:
        """Those of the terms that a piece's mass depends on; the rest are of the charge only."""
        share = (self.sprue_share,) if self.sprue_in_a_trial else ()
        return (self.finishing_loss, self.pattern_density, *share)

    def corners(self) -> Iterator[Terms]:
        """The same terms with each default at its low and at its high end, in every combination."""
        for ends in product(*((one.low, one.high) for one in self.defaults.values())):
            taken = dict(zip(self.defaults, ends, strict=True))
            yield replace(
                self,
                sprue_share=taken.get("sprue_share", self.sprue_share),
                melt_loss=taken.get("melt_loss", self.melt_loss),
                finishing_loss=taken.get("finishing_loss", self.finishing_loss),
                pattern_density=taken.get(ANY_PATTERN, self.pattern_density),
            )


def pieces_of(inputs: OrderInputs) -> tuple[Other, ...]:
    """All kinds of piece in the flask, the main one first."""
    main = Other(
        inputs.name,
        inputs.trial,
        inputs.pattern,
        inputs.volume,
        inputs.pieces,
        inputs.stones,
        inputs.stones_to_set,
    )
    return (main, *inputs.others)


def terms_of(inputs: OrderInputs, reference: Reference) -> Terms:
    """Fill in the allowances that were not given from the trade's own figures, and say so."""
    given = inputs.allowances
    if given.sprue_mass is not None and given.sprue_share is not None:
        raise InvalidInput.of("one-of", "Give sprue_mass or sprue_share, not both.", "/allowances/sprue_share")
    assumed: list[Assumption] = []
    defaults: dict[str, Property] = {}

    def rule(field: str, value: Decimal | None, rule_id: str, text: str) -> Decimal:
        if value is not None:
            return value
        figure = reference.rules[rule_id].figure
        assumed.append(Assumption(rule_id, text, figure))
        defaults[field] = figure
        return figure.value

    share, sprue_in_a_trial = ZERO, any(_has_sprue(piece.trial) for piece in pieces_of(inputs))
    alone = _is_button_alone(given)
    if given.sprue_mass is None and (sprue_in_a_trial or not alone):
        known = given.sprue_share if given.sprue_share is not None else _share_of_the_trial(inputs)
        share = rule("sprue_share", known, "sprue-share", "Sprue and button, as a share of the castings.")
    if alone:
        assumed.append(BUTTON_ALONE)
    zinc = inputs.final_metal.may_contain("Zn")
    melt_rule = "melt-loss-zinc" if zinc else "melt-loss"
    melt_loss = rule("melt_loss", given.melt_loss, melt_rule, "Melt loss, as a share of the charge.")
    text = "Finishing loss, as a share of the as-cast mass."
    finishing = rule("finishing_loss", given.finishing_loss, "finishing-loss", text)
    density = any_pattern(reference)
    if any(_is_unnamed(piece) for piece in pieces_of(inputs)):
        defaults[ANY_PATTERN] = density
    return Terms(
        inputs.final_metal,
        inputs.final_contraction,
        given,
        share,
        melt_loss,
        finishing,
        density.value,
        sprue_in_a_trial,
        defaults,
        tuple(assumed),
    )


def _is_button_alone(given: Allowances) -> bool:
    return given.button_mass is not None and given.sprue_mass is None and given.sprue_share is None


def _has_sprue(trial: Trial | None) -> bool:
    """Whether a trial was weighed with a sprue of unknown mass."""
    return trial is not None and trial.stage == Stage.WITH_SPRUE and trial.sprue_mass is None


def _share_of_the_trial(inputs: OrderInputs) -> Decimal | None:
    """Sprue and button as a share of the pieces, where the trial was weighed with a sprue of known mass."""
    trial = inputs.trial
    if trial is None or trial.sprue_mass is None or trial.stage != Stage.WITH_SPRUE:
        return None
    stones = sum((stone.mass * stone.count for stone in inputs.stones), ZERO) * trial.pieces_weighed
    pieces = trial.mass - stones - trial.sprue_mass
    return EXACT.divide(trial.sprue_mass, pieces) if pieces > 0 else None


def _is_unnamed(piece: Other) -> bool:
    """Whether it has a pattern of which neither density nor material was said."""
    return piece.pattern is not None and piece.pattern.density is None and piece.pattern.material is None


def any_pattern(reference: Reference) -> Property:
    """The density of some pattern material in g/cm3: the middle of the range that spans all of the table."""
    densities = [material.density for material in reference.patterns.values()]
    low, high = min(one.low for one in densities), max(one.high for one in densities)
    note = "Not said which: " + ", ".join(material.name for material in reference.patterns.values()) + "."
    return Property((low + high) / 2, "g/cm3", low, high, Status.COMMON_PRACTICE, densities[0].source, note)


BUTTON_ALONE = Assumption(
    "button-alone",
    "Only button_mass was given: it is taken as sprue and button together. Give sprue_mass or sprue_share for more.",
    Property(ZERO, "1", ZERO, ZERO, Status.CALCULATED, "definition"),
)
