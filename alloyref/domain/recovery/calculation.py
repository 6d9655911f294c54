"""The recovery, put together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from alloyref.domain.calculation import Assumption, Calculation, Outcome
from alloyref.domain.composition import PRECIOUS
from alloyref.domain.errors import InvalidInput, Issue, NotAvailable
from alloyref.domain.estimate import ONE
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import plain
from alloyref.domain.order.money import price_list
from alloyref.domain.provenance import Property, Status
from alloyref.domain.recovery.contents import (
    NOTHING,
    SHORT_RULE,
    Ends,
    Weighed,
    booked,
    metal_of,
    recovery_rule,
    weighed,
)
from alloyref.domain.recovery.inputs import RecoveryInputs, Scrap, ScrapLot
from alloyref.domain.recovery.offers import best_of, compared, payable_of, settlement_of
from alloyref.domain.recovery.results import Content, LotContents, RecoveryResult
from alloyref.domain.reference import Reference
from alloyref.domain.span import MassRange

HOLDING = Decimal("0.9")
"""Without the caller's own figure: charges and deductions may eat a tenth before holding is better."""
NOTES = (
    "What a refiner pays follows from his own weighing, sampling and terms: ask for the settlement in writing.",
    "Prices move between sending and settling; fix them with the refiner or allow for it.",
)


def recovery(inputs: RecoveryInputs, reference: Reference) -> Outcome:
    """From lots to contents, expected recovery, payable metal and settlement, offer by offer (masses in g).

    contained = (gross - stones and other matter) x fineness; recovered = contained x recovery by kind of scrap;
    payable = recovered x (1 - refining loss) x share paid, rounded down to 0.001 ozt where an offer says so;
    settlement = payable x price less fee, charges by lot, mass and fine ounce, and their minimum, each line rounded
    once, to the cent. What was not assayed is a range.
    Raises `InvalidInput` with pointers, and `NotAvailable` where no lot has contents that can be told.
    Checks: 401.125 ozt of 995.8 permille are 399.440 fine ounces (good-delivery weight lists, Annex C);
    a sovereign of 7.98805 g at 11/12 holds 7.3224 g of gold.
    """
    _refuse(inputs, reference)
    lots = _lots(inputs, reference)
    if not any(lot.fineness for lot in lots):
        detail = "No lot here is known to hold gold, silver, platinum or palladium"
        if any(lot.lot.kind == Scrap.SWEEPS for lot in lots):
            detail += ", and sweeps go by assay only: have them sampled and assayed"
        detail += "."
        raise NotAvailable(Issue("not-available", detail))
    prices = price_list(inputs.prices, reference)
    holding = HOLDING if inputs.holding is None else inputs.holding
    settlements = tuple(settlement_of(offer, lots, prices, holding, reference) for offer in inputs.terms)
    held = [symbol for symbol in PRECIOUS if any(symbol in lot.fineness for lot in lots)]
    contents = {symbol: _total(symbol, lots) for symbol in held}
    chosen = best_of(settlements)
    result = RecoveryResult(
        contents={symbol: span(contained) for symbol, (contained, _) in contents.items()},
        recovered={symbol: span(recovered) for symbol, (_, recovered) in contents.items()},
        offer="" if chosen is None else chosen.result.offer,
        payable={} if chosen is None else payable_of(chosen.result),
        settlement=None if chosen is None else chosen.result.settlement,
        break_even=None if chosen is None else chosen.result.break_even,
        lots=tuple(_shown(lot) for lot in lots),
        settlements=tuple(one.result for one in settlements),
        comparison=compared(settlements, lots, prices) if prices is not None else None,
        unpriced=tuple(symbol for symbol in held if prices is not None and symbol not in prices.per_gram),
        quotes=tuple(_quote(inputs)),
        notes=NOTES,
    )
    metals = [metal for lot in lots if isinstance(metal := _metal(lot, reference), Metal)]
    cautions = reference.cautions_for(metals, "step:refining", *_tokens(lots))
    return Outcome(result, tuple(_assumptions(inputs, lots, reference)), cautions)


def _refuse(inputs: RecoveryInputs, reference: Reference) -> None:
    issues = []
    if not inputs.lots and not inputs.order_returns:
        issues.append(Issue("missing", "At least one lot is needed.", "/lots"))
    names = [offer.name for offer in inputs.terms]
    for place, offer in enumerate(inputs.terms):
        if offer.name in names[:place]:
            issues.append(Issue("duplicate", "Two offers have this name.", f"/terms/{place}/name"))
        metals = [terms.metal for terms in offer.pays]
        issues += [
            Issue("duplicate", f"{metal} stands twice.", f"/terms/{place}/pays/{other}/metal")
            for other, metal in enumerate(metals)
            if metal in metals[:other]
        ]
        if not offer.pays:
            issues.append(Issue("missing", "An offer pays for at least one metal.", f"/terms/{place}/pays"))
    issues += [
        Issue("not-fine", "A refiner settles by fine metal: price the element.", f"/prices/{place}/metal", PRECIOUS)
        for place, price in enumerate(inputs.prices)
        if len(price.metal.composition.parts) > 1
    ]
    if issues:
        raise InvalidInput(*issues)


def _lots(inputs: RecoveryInputs, reference: Reference) -> tuple[Weighed, ...]:
    places = [(f"/lots/{place}", lot) for place, lot in enumerate(inputs.lots)]
    places += [(f"/order_returns/{place}", lot) for place, lot in enumerate(inputs.order_returns)]
    return tuple(weighed(lot, reference, pointer) for pointer, lot in places)


def _quote(inputs: RecoveryInputs) -> Iterator[str]:
    for one in inputs.prices:
        dated = f", quoted {one.date}" if one.date else ", undated"
        yield f"{one.metal.id}: {plain(one.price)} {one.currency} per {one.per}{dated}"


def _metal(lot: Weighed, reference: Reference) -> Metal | None:
    """The metal of a lot, for its cautions; a bare composition is one too."""
    if lot.metal is not None:
        return lot.metal
    if lot.composition is None:
        return None
    unknown = Property(ONE, "g/cm3", ONE, ONE, Status.GIVEN, "caller")
    return Metal("", lot.label, lot.composition, unknown)


def _shown(lot: Weighed) -> LotContents:
    contents = []
    for symbol, fineness in lot.fineness.items():
        contained = lot.contained(symbol)
        contents.append(
            Content(
                symbol,
                symbol in lot.assayed,
                fineness.low,
                fineness.high,
                span(contained),
                span(booked(contained.times(lot.recovery))),
            )
        )
    return LotContents(
        lot.name,
        lot.lot.kind,
        lot.label,
        lot.lot.mass,
        lot.deducted,
        lot.net,
        lot.recovery.low,
        lot.recovery.high,
        tuple(contents),
        lot.notes,
    )


def span(ends: Ends) -> MassRange:
    """The same as a mass range (g) that is told."""
    return MassRange.of(ends.low, ends.high)


def _total(symbol: str, lots: Sequence[Weighed]) -> tuple[Ends, Ends]:
    """What all lots together contain of a metal, and what is expected to be found of it, in g."""
    contained = recovered = NOTHING
    for lot in lots:
        held = lot.contained(symbol)
        contained, recovered = contained.plus(held), recovered.plus(booked(held.times(lot.recovery)))
    return contained, recovered


def _tokens(lots: Sequence[Weighed]) -> Iterator[str]:
    """What cautions about scrap are chosen by."""
    for lot in lots:
        yield f"scrap:{lot.lot.kind}"
        if lot.lot.soldered:
            yield "scrap:soldered"
        if lot.lot.stamp is not None:
            yield "scrap:stamped"


def _assumptions(inputs: RecoveryInputs, lots: Sequence[Weighed], reference: Reference) -> Iterator[Assumption]:
    rules = dict.fromkeys(rule for lot in lots if (rule := recovery_rule(lot.lot)) is not None)
    for rule in rules:
        text = f"Expected {reference.rules[rule].item}; set `recovery` to your own figure."
        yield Assumption(rule, text, reference.rules[rule].figure)
    for rule in dict.fromkeys(rule for lot in lots for rule in _short_rules(lot, reference)):
        yield Assumption(rule, f"{reference.rules[rule].item.capitalize()} up to this.", reference.rules[rule].figure)
    if any(lot.lot.kind == Scrap.SWEEPS and lot.fineness and lot.lot.recovery is None for lot in lots):
        yield SWEEPS_BY_ASSAY
    if any(lot.lot.their_assay and lot.lot.recovery is None for lot in lots):
        yield MELTED
    if any(offer.rounding == "down" for offer in inputs.terms):
        yield FINE_OUNCES
    if inputs.terms and inputs.prices:
        yield _holding(inputs.holding)


def _holding(given: Decimal | None) -> Assumption:
    share = HOLDING if given is None else given
    standing = (Status.COMMON_PRACTICE, "common-practice") if given is None else (Status.GIVEN, "caller")
    text = "Worth of the metal to you if it is held, as a share of its price."
    if given is None:
        text += " A figure chosen here: set `holding` to your own."
    return Assumption("holding", text, Property(share, "1", share, share, *standing))


def _short_rules(lot: Weighed, reference: Reference) -> Iterator[str]:
    """The rules by which something of a lot that was not assayed is given a low end."""
    if all(symbol in lot.assayed for symbol in lot.fineness):
        return
    given: ScrapLot = lot.lot
    stamped_gold = given.stamp is not None and metal_of(given.stamp, reference) == "gold"
    yield SHORT_RULE[stamped_gold, given.soldered]


SWEEPS_BY_ASSAY = Assumption(
    "sweeps-by-assay",
    "Sweeps are settled by their assay; no figure for what is lost in treating them is known here. Set `recovery`.",
    Property(ONE, "1", ONE, ONE, Status.COMMON_PRACTICE, "common-practice"),
)
MELTED = Assumption(
    "melted-before-assay",
    "The refiner assays the lot as melted: what his assay tells is found, and no recovery is taken off again.",
    Property(ONE, "1", ONE, ONE, Status.COMMON_PRACTICE, "common-practice"),
)
FINE_OUNCES = Assumption(
    "fine-ounces",
    "Payable fine ounces are rounded down to 0.001 ozt, as an offer here says and good-delivery weight lists do.",
    Property(Decimal("0.001"), "ozt", Decimal("0.001"), Decimal("0.001"), Status.STANDARD, "good-delivery-annex-c"),
)

RECOVERY = Calculation(
    name="recovery",
    title="What scrap and casting returns hold, and what a refiner pays for them",
    doc="Lots to fine contents, expected recovery and payable metal; the settlement under each offer, which one pays "
    "more and from what size on, and when sending beats holding. What was not assayed is a range, not a number.",
    inputs=RecoveryInputs,
    result=RecoveryResult,
    run=recovery,
    example={
        "lots": [
            {
                "name": "sprues, reed-pattern band",
                "kind": "sprue-and-button",
                "mass": "12.4 g",
                "metal": "gold-585-yellow",
            },
            {"name": "bench filings", "kind": "lemel", "mass": "9.7 g", "assay": {"Au": "561.5", "Ag": 98}},
        ],
        "terms": [
            {
                "name": "offer A",
                "pays": [{"metal": "Au", "paid": "0.98", "refining_charge": "12.50"}],
                "lot_charge": "45",
                "minimum_charge": "60",
            },
            {
                "name": "offer B",
                "pays": [{"metal": "Au", "paid": "0.955"}, {"metal": "Ag", "paid": "0.8"}],
                "treatment_charge": "120",
            },
        ],
        "prices": [{"metal": "Au", "price": "104.50", "per": "g", "currency": "EUR", "date": "2026-11-20"}],
    },
)
