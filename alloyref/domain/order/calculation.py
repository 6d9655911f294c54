"""The order, put together."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from alloyref.domain.calculation import Assumption, Calculation, Outcome
from alloyref.domain.estimate import ZERO, Estimate
from alloyref.domain.fineness import FINE_IS_PURE
from alloyref.domain.metal import Metal, refuse_deadly
from alloyref.domain.numbers import plain, round_to
from alloyref.domain.order.books import balance_of, line_accounts, line_share, return_masses
from alloyref.domain.order.castings import Line, extremes_of, lines_of
from alloyref.domain.order.charge import Charge, charge_of, share_out
from alloyref.domain.order.checks import button_rules, checks_of, warnings_of
from alloyref.domain.order.doubts import doubts_of
from alloyref.domain.order.inputs import Form, OrderInputs
from alloyref.domain.order.marks import mark_assumptions, mark_tokens, marks_of
from alloyref.domain.order.money import PriceList, net_of, price_list, sum_of
from alloyref.domain.order.purchase import Bought, Supply, contents, supply_of
from alloyref.domain.order.results import (
    ChargeParts,
    Cost,
    ItemToBuy,
    LineResult,
    LotUse,
    OrderResult,
    ReturnLot,
    Returns,
    ToBuy,
)
from alloyref.domain.order.slip import investment_token, slip_of
from alloyref.domain.order.terms import terms_of
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.domain.span import Amount, AtLeast
from alloyref.domain.trade_names import require_composition

STEPS = ("step:melting", "step:investment", "step:quench", "step:finishing", "step:pickling")
CENT = Decimal("0.01")
CENTRIFUGAL = "step:centrifugal"


def order(inputs: OrderInputs, reference: Reference) -> Outcome:
    """Turn a trial casting, pattern or model volume into an order for the final metal.

    as-cast mass by volume transfer; castings + sprue and button + safety, over (1 - melt loss), is the
    charge; charge less usable metal on hand, rounded up to the supplier's step, is what to buy. All
    masses in g, kept to 0.1 mg. The books close for each element: in = pieces + returns + loss.
    Raises `InvalidInput` with the pointer of each contradiction.
    Checks: sterling to 14 karat yellow about x 1.24 to 1.32, by its zinc (common practice, no source).
    """
    metal = inputs.final_metal
    if inputs.purchase.form == Form.FINE_AND_MASTER:
        refuse_deadly(metal, "/final_metal")
        require_composition(metal, "/final_metal")
    terms = terms_of(inputs, reference)
    lines, densities = lines_of(inputs, terms)
    charge, lines = charge_of(lines, terms, extremes_of(inputs, terms))
    scrap_limit = reference.rules["scrap-share-max"].figure
    supply, least, most = (
        supply_of(exact, metal, inputs.on_hand, inputs.purchase, scrap_limit)
        for exact in (charge.exact.value, charge.exact.low, charge.exact.high)
    )
    prices = price_list(inputs.prices, reference)
    heaviest = max(line.as_cast.value for line in lines)
    slip, slip_assumed = slip_of(metal, charge, heaviest, inputs.casting, reference)
    cost = _cost(inputs, lines, charge, supply, prices)
    marks = marks_of(inputs, reference)
    result = OrderResult(
        piece_mass=lines[0].as_cast,
        finished_mass=lines[0].finished,
        castings=lines[0].castings,
        charge=charge.range,
        charge_parts=ChargeParts(charge.castings, charge.sprue, charge.safety, charge.melt_loss),
        to_buy=_to_buy(inputs, supply, (least, most), prices),
        elements=contents(metal.composition, charge.total),
        cost=cost,
        returns=_returns(inputs, lines, charge, prices),
        balance=balance_of(lines, charge, supply, metal),
        lines=_line_results(lines, charge, cost),
        casting_slip=slip,
        checks=checks_of(lines),
        warnings=(*doubts_of(inputs, supply, slip, reference), *warnings_of(lines, reference)),
        mark=marks,
    )
    steps = [*STEPS, investment_token(slip.investment), *mark_tokens(inputs, marks)]
    if inputs.casting.method == "centrifugal":
        steps.append(CENTRIFUGAL)
    metals = (metal, *(lot.metal for lot in inputs.on_hand))
    assumed = (
        *mark_assumptions(inputs, marks),
        *densities,
        *terms.assumptions,
        *button_rules(lines, terms, reference),
        *_other_assumptions(inputs, scrap_limit),
        *slip_assumed,
    )
    return Outcome(result, assumed, reference.cautions_for(metals, *steps))


def _other_assumptions(inputs: OrderInputs, scrap_limit: Property) -> list[Assumption]:
    assumed = []
    if inputs.on_hand and inputs.purchase.max_scrap_share is None:
        assumed.append(Assumption("scrap-share-max", "Largest share of scrap in a charge.", scrap_limit))
    if inputs.purchase.form == "fine-and-master":
        assumed.append(FINE_IS_PURE)
    weighed = [(inputs.trial, inputs.stones), *((other.trial, other.stones) for other in inputs.others)]
    if any(trial is not None and stones for trial, stones in weighed):
        assumed.append(STONES_IN_THE_TRIAL)
    assumed.append(RANGE_RULE)
    return assumed


def _to_buy(inputs: OrderInputs, supply: Supply, ends: tuple[Supply, Supply], prices: PriceList | None) -> ToBuy:
    """What to order; its low and high are what the low and high charge would have to be ordered."""
    least, most = ends
    return ToBuy(
        mass=Estimate(supply.ordered, least.ordered, most.ordered),
        to_be_sure=most.ordered,
        form=inputs.purchase.form,
        increment=inputs.purchase.increment,
        items=tuple(_item(one, most, prices) for one in supply.bought),
        on_hand=tuple(
            LotUse(
                use.lot.metal.id or use.lot.metal.name,
                use.lot.kind,
                use.lot.mass,
                use.used,
                max(use.lot.mass - use.used, ZERO),
                use.reason,
            )
            for use in supply.lots
        ),
    )


def _item(one: Bought, most: Supply, prices: PriceList | None) -> ItemToBuy:
    permille = {symbol: round_to(mass / one.needed * 1000, 3) for symbol, mass in one.parts.items()}
    cost = prices.amount(prices.asked(one.metal, one.parts, one.ordered)) if prices else None
    metal = one.metal.id if one.metal else ""
    sure = max((other.ordered for other in most.bought if other.what == one.what), default=one.ordered)
    return ItemToBuy(one.what, metal, permille, one.parts, one.needed, one.ordered, sure, one.left_over, cost)


def _returns(inputs: OrderInputs, lines: Sequence[Line], charge: Charge, prices: PriceList | None) -> Returns:
    metal = inputs.final_metal
    items = []
    for kind, mass in return_masses(lines, charge).items():
        worth = prices.amount(prices.worth(metal, contents(metal.composition, mass), mass)) if prices else None
        items.append(ReturnLot(kind, metal.id or metal.name, dict(metal.composition.parts), mass, worth))
    return Returns(sum((lot.mass for lot in items), ZERO), tuple(items))


def _cost(
    inputs: OrderInputs, lines: Sequence[Line], charge: Charge, supply: Supply, prices: PriceList | None
) -> Cost | None:
    """The money: what is bought, what comes back, and the net, none of it invented."""
    if prices is None:
        return None
    metal = inputs.final_metal
    total = sum_of([prices.asked(one.metal, one.parts, one.ordered) for one in supply.bought])
    spare = sum_of([prices.worth(one.metal, one.parts, one.left_over) for one in supply.bought])
    used = [(use.lot.metal, use.used) for use in supply.lots]
    own = sum_of([prices.worth(lot, contents(lot.composition, mass), mass) for lot, mass in used])
    back = sum(return_masses(lines, charge).values(), ZERO)
    returned = prices.worth(metal, contents(metal.composition, back), back)
    net = net_of(total, own, spare, returned)
    share = lines[0].castings_mass / charge.castings / lines[0].pieces
    return Cost(
        total=prices.amount(total),
        on_hand_worth=prices.amount(own),
        left_over_worth=prices.amount(spare),
        returns_worth=prices.amount(returned),
        net=prices.amount(net),
        per_piece=prices.amount(net.times(share)),
        unpriced=tuple(dict.fromkeys(symbol for one in (total, own, returned) for symbol in one.missing)),
        quotes=tuple(
            f"{one.metal.id}: {plain(one.price)} {one.currency} per {one.per}"
            + (f", quoted {one.date}" if one.date else ", undated")
            for one in inputs.prices
        )
        + _premiums(metal),
    )


def _premiums(metal: Metal) -> tuple[str, ...]:
    """What is asked above the worth of the elements, said beside the quotes."""
    percent = plain((metal.premium * 100).normalize())
    return (f"{metal.id}: {percent} % above the worth of its elements",) if metal.premium else ()


def _line_results(lines: Sequence[Line], charge: Charge, cost: Cost | None) -> tuple[LineResult, ...]:
    shares: Sequence[Amount | None] = [None] * len(lines)
    if cost is not None and cost.net is not None:
        value, currency = cost.net
        cents = share_out(value, [line.castings_mass for line in lines], CENT)
        shares = [AtLeast(share, currency) if isinstance(cost.net, AtLeast) else (share, currency) for share in cents]
    return tuple(
        LineResult(
            line.name,
            line.pieces,
            line.castings,
            line.as_cast,
            line.finished,
            line.finished.value + line.stones_mass,
            line_share(line, charge),
            account,
            line.said[0].way,
            share,
        )
        for line, account, share in zip(lines, line_accounts(lines, charge), shares, strict=True)
    )


STONES_IN_THE_TRIAL = Assumption(
    "stones-in-the-trial",
    "Stones are taken as set in the trial when it was weighed (its finished mass, if that was given): their mass is "
    "taken off. Leave them out if the trial was weighed without them.",
    Property(Decimal(1), "1", Decimal(1), Decimal(1), Status.CALCULATED, "definition"),
)
RANGE_RULE = Assumption(
    "range-rule",
    "Low and high are about 95 %: density ranges, weighing and contraction in quadrature for a piece; pieces of one "
    "order err together, so their ranges add. Each default (a share, a loss, the material of a pattern) counts with "
    "its whole range on top of that, all at their ends together. What was given is taken as it is.",
    Property(Decimal("0.95"), "1", Decimal("0.95"), Decimal("0.95"), Status.CALCULATED, "definition"),
)

ORDER = Calculation(
    name="order",
    title="A trial casting becomes an order",
    doc="From a trial, a pattern or a model volume to the charge, what to buy, what comes back, and a casting slip.",
    inputs=OrderInputs,
    result=OrderResult,
    run=order,
    example={
        "name": "reed-pattern band",
        "trial": {"metal": "sterling-silver", "mass": "6.31 g", "stage": "as-cast"},
        "final_metal": "gold-585-yellow",
        "pieces": 2,
        "allowances": {"sprue_share": 0.4, "melt_loss": 0.01, "finishing_loss": 0.08},
        "on_hand": [{"metal": "gold-585-yellow", "mass": "3.2 g"}],
        "purchase": {"form": "alloyed", "increment": "0.5 g"},
        "prices": [{"metal": "Au", "price": "104.50", "per": "g", "currency": "EUR", "date": "2026-11-20"}],
    },
)
