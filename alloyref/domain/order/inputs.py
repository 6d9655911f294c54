"""What an order is asked with."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import ClassVar

from alloyref.domain.calculation import (
    CURRENCY,
    DATE,
    CatalogueWord,
    Choice,
    ListOf,
    MarkName,
    MaterialName,
    MetalName,
    Number,
    Quantity,
    Record,
    Share,
    Text,
    UnitName,
    Whole,
    density_quantity,
    item,
)
from alloyref.domain.mark_name import Mark
from alloyref.domain.metal import Material, Metal
from alloyref.domain.units import Dimension

MASS = Quantity(Dimension.MASS)
MOST_PIECES = 10_000
RADIUS = Quantity(Dimension.LENGTH, above=None, least=Decimal(10), most=Decimal(2000))
"""No casting arm is shorter than a finger or longer than a man."""
LEAST_STEP = Decimal("0.0001")
"""No supplier sells by less than the books' tenth of a milligram."""
MOST_CONTRACTION = Decimal("0.2")
MOST_LOSS = Decimal("0.9")
WAYS_IN = ("trial", "volume", "pattern")
"""What says how large a piece is, the most direct first; the first given is used, the others are held against it."""
SMALL_MASS = Quantity(Dimension.MASS, above=None, least=Decimal(0))
TO_SET = "Stones to be set after casting: they count in the finished gross mass only, and no metal is taken off."


class Stage(StrEnum):
    """How far the weighed trial was worked."""

    WITH_SPRUE = "with-sprue"
    AS_CAST = "as-cast"
    FINISHED = "finished"


class Form(StrEnum):
    """How the metal is bought."""

    ALLOYED = "alloyed"
    FINE_AND_MASTER = "fine-and-master"


@dataclass(frozen=True, slots=True)
class Trial:
    """A proof casting in another metal, as weighed."""

    metal: Metal = item(MetalName(), "The metal of the trial.", example="sterling-silver")
    mass: Decimal = item(MASS, "What was put on the balance: all weighed pieces together.", example="6.31 g")
    pieces_weighed: int = item(Whole(1, MOST_PIECES), "How many pieces were weighed together.", default=1)
    stage: str = item(
        Choice(tuple(Stage)), "Weighed with its sprue, cut off, or finished.", default=Stage.AS_CAST.value
    )
    sprue_mass: Decimal | None = item(
        MASS, "Stage with-sprue: how much of the mass is sprue and button, if known.", default=None
    )
    finished_mass: Decimal | None = item(
        MASS,
        "The same pieces after finishing, if weighed then too: the trial itself then tells the finishing loss.",
        default=None,
    )
    readability: Decimal | None = item(
        MASS, "Smallest step of the balance; widens the range by half a step.", default=None
    )
    contraction: Decimal | None = item(
        Share(below=MOST_CONTRACTION), "Linear contraction of the trial metal, if known.", default=None
    )


@dataclass(frozen=True, slots=True)
class Pattern:
    """A wax or resin pattern, as weighed, without its sprue."""

    mass: Decimal = item(MASS, "All weighed patterns together.", example="0.61 g")
    density: Decimal | None = item(
        density_quantity(),
        "Your own measured density of the material.",
        default=None,
    )
    material: Material | None = item(
        MaterialName("patterns"),
        "The material, where its density was not measured; with neither, the answer spans wax and resin.",
        default=None,
    )
    pieces_weighed: int = item(Whole(1, MOST_PIECES), "How many patterns were weighed together.", default=1)


@dataclass(frozen=True, slots=True)
class Stone:
    """Stones set in each piece: their mass and displacement are not metal."""

    mass: Decimal = item(Quantity(Dimension.MASS, stones=True), "Mass of one stone.", example="0.12 ct")
    count: int = item(Whole(1, MOST_PIECES), "How many such stones in each piece.", default=1)
    kind: Material | None = item(MaterialName("stones"), "Kind of stone, for its density.", default=None)
    density: Decimal | None = item(
        density_quantity(),
        "Density of the stone, if it is not in the table.",
        default=None,
    )


@dataclass(frozen=True, slots=True)
class Spares:
    """Extra castings as insurance: a number, or a success rate and how sure to be."""

    count: int | None = item(Whole(0, MOST_PIECES), "This many spare castings.", default=None)
    success_rate: Decimal | None = item(
        Share(least=Decimal("0.0001"), below=Decimal("1.000001")),
        "Share of castings that come out good.",
        default=None,
    )
    confidence: Decimal = item(
        Share(above=Decimal(0), below=Decimal("0.999999")),
        "How sure to be of enough good ones (binomial).",
        default=Decimal("0.9"),
    )


@dataclass(frozen=True, slots=True)
class Other:
    """Another piece that goes along in the same flask, in the same metal."""

    ANY_OF: ClassVar[tuple[str, ...]] = WAYS_IN

    name: str = item(Text(), "What it is.", default="other piece", example="reed pendant")
    trial: Trial | None = item(Record(Trial), "Its trial casting.", default=None)
    pattern: Pattern | None = item(
        Record(Pattern), "Its wax or resin pattern: used alone, else a check.", default=None
    )
    volume: Decimal | None = item(
        Quantity(Dimension.VOLUME), "The volume of its model: used if there is no trial, else a check.", default=None
    )
    pieces: int = item(Whole(1, MOST_PIECES), "How many of it.", default=1)
    stones: tuple[Stone, ...] = item(
        ListOf(Record(Stone)), "Stones set in each of it as weighed, or drawn in its model.", default=()
    )
    stones_to_set: tuple[Stone, ...] = item(ListOf(Record(Stone)), TO_SET, default=())
    finishing_loss: Decimal | None = item(
        Share(below=MOST_LOSS), "Its own finishing loss, if it differs from the allowance.", default=None
    )


@dataclass(frozen=True, slots=True)
class Allowances:
    """What must be melted beyond the pieces, and what is lost."""

    sprue_mass: Decimal | None = item(
        SMALL_MASS,
        "Sprue and button of the whole flask, weighed in the trial's metal or the pattern's material and carried "
        "over by volume; with a model volume, in the final metal.",
        default=None,
    )
    button_mass: Decimal | None = item(
        SMALL_MASS,
        "A button of this mass in the final metal, whatever the piece is known from. It comes on top of sprue_mass "
        "or sprue_share; given alone, it is sprue and button together.",
        default=None,
    )
    sprue_share: Decimal | None = item(
        Share(below=Decimal(3)), "Or sprue and button as a share of all castings' mass.", default=None
    )
    melt_loss: Decimal | None = item(
        Share(below=Decimal("0.5")), "Share of the charge lost in melting.", default=None
    )
    finishing_loss: Decimal | None = item(
        Share(below=MOST_LOSS), "Share of the as-cast mass that filing and polishing take off.", default=None
    )
    safety: Decimal = item(
        Share(below=Decimal(1)), "Extra metal as a share of castings, sprue and button.", default=Decimal(0)
    )


@dataclass(frozen=True, slots=True)
class OnHand:
    """A lot of metal in the shop that may go into the charge."""

    metal: Metal = item(MetalName(), "What it is.", example="gold-585-yellow")
    mass: Decimal = item(MASS, "How much there is.", example="3.2 g")
    kind: str = item(
        Choice(("scrap", "fresh")),
        "Scrap (cast before: limited to a share of the charge) or fresh.",
        default="scrap",
    )


@dataclass(frozen=True, slots=True)
class Purchase:
    """How the metal is bought."""

    form: str = item(
        Choice(tuple(Form)), "Ready alloyed, or fine metal and master alloy.", default=Form.ALLOYED.value
    )
    increment: Decimal = item(
        Quantity(Dimension.MASS, above=None, least=LEAST_STEP),
        "The step the supplier sells by; each item is rounded up to it.",
        default=Decimal("0.01"),
    )
    max_scrap_share: Decimal | None = item(
        Share(below=Decimal("1.000001")), "Most scrap in the charge, as a share of it.", default=None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """A price as quoted to the caller; none is ever invented here."""

    metal: Metal = item(MetalName(), "What is priced: an alloy, or an element for fine metal.", example="Au")
    price: Decimal = item(Number(least=Decimal(0), most=Decimal(10**9)), "The price.", example="104.50")
    per: str = item(UnitName(Dimension.MASS), "The unit of mass it is for.", default="g", example="g")
    currency: str = item(CURRENCY, "Currency, as an ISO 4217 code.", example="EUR")
    date: str | None = item(DATE, "Date of the quote.", default=None)


@dataclass(frozen=True, slots=True)
class Casting:
    """How it will be cast, for the casting slip."""

    method: str = item(Choice(("vacuum", "centrifugal")), "Vacuum or centrifugal casting.", default="vacuum")
    flask_mass: Decimal | None = item(MASS, "Invested flask on the arm (centrifugal).", default=None)
    crucible_mass: Decimal | None = item(MASS, "Crucible and cradle on the arm (centrifugal).", default=None)
    arm_radius: Decimal | None = item(
        RADIUS,
        "From the axle to the middle of the flask.",
        default=None,
    )
    crucible_radius: Decimal | None = item(
        RADIUS,
        "From the axle to the middle of the crucible, which holds the charge; without it, as far out as the flask.",
        default=None,
    )
    counterweight_radius: Decimal | None = item(
        RADIUS,
        "From the axle to the middle of the counterweight.",
        default=None,
    )


@dataclass(frozen=True, slots=True)
class OrderInputs:
    """A casting order: what was proved, what is wanted, and on what terms."""

    ANY_OF: ClassVar[tuple[str, ...]] = WAYS_IN
    PRICED: ClassVar[tuple[str, ...]] = ("final_metal", "on_hand")

    final_metal: Metal = item(MetalName(), "The metal of the final casting.", example="gold-585-yellow")
    name: str = item(Text(), "What the piece is.", default="piece", example="reed-pattern band")
    trial: Trial | None = item(Record(Trial), "The trial casting, as weighed.", default=None)
    pattern: Pattern | None = item(
        Record(Pattern), "A wax or resin pattern, as weighed: used alone, else a check.", default=None
    )
    volume: Decimal | None = item(
        Quantity(Dimension.VOLUME),
        "The volume of the model of one piece: used if there is no trial, else a check.",
        default=None,
    )
    pieces: int = item(Whole(1, MOST_PIECES), "How many good pieces are wanted.", default=1)
    spares: Spares | None = item(Record(Spares, shorthand="count"), "Extra castings as insurance.", default=None)
    others: tuple[Other, ...] = item(ListOf(Record(Other)), "Other pieces in the same flask.", default=())
    stones: tuple[Stone, ...] = item(
        ListOf(Record(Stone)), "Stones set in each weighed piece, or drawn in the model.", default=()
    )
    stones_to_set: tuple[Stone, ...] = item(ListOf(Record(Stone)), TO_SET, default=())
    final_contraction: Decimal | None = item(
        Share(below=MOST_CONTRACTION), "Linear contraction of the final metal, if known.", default=None
    )
    allowances: Allowances = item(Record(Allowances), "Sprue, button, losses and safety.", default=Allowances())
    on_hand: tuple[OnHand, ...] = item(ListOf(Record(OnHand)), "Metal in the shop that may be used.", default=())
    purchase: Purchase = item(Record(Purchase), "How the rest is bought.", default=Purchase())
    prices: tuple[Price, ...] = item(ListOf(Record(Price), stored=True), "Prices quoted to you.", default=())
    casting: Casting = item(Record(Casting), "How it will be cast.", default=Casting())
    mark: Mark | None = item(
        MarkName(),
        "The mark that the work is to bear: 585, 14K, 22 ct, sterling, Pt950. Without it, the highest lawful mark of "
        "the final metal is told.",
        default=None,
        example="585",
    )
    jurisdiction: str | None = item(
        CatalogueWord("jurisdiction"),
        "Where it is to be marked; every place whose rules are known here without it.",
        default=None,
        example="UK",
    )
