"""An offer's settlement and the comparison of offers, as they are told."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from alloyref.domain.composition import PRECIOUS
from alloyref.domain.estimate import ZERO
from alloyref.domain.numbers import round_to
from alloyref.domain.order.money import PriceList
from alloyref.domain.recovery.break_even import NOT_CERTAIN, SEND, break_even, flips
from alloyref.domain.recovery.contents import Weighed
from alloyref.domain.recovery.inputs import Offer
from alloyref.domain.recovery.piecewise import Payout
from alloyref.domain.recovery.results import (
    BreakEven,
    LotSettlement,
    MetalSettlement,
    OfferComparison,
    Settlement,
)
from alloyref.domain.recovery.settlement import HIGH, LOW, SCENARIOS, Charges, Melt, melts_of, payout_of
from alloyref.domain.reference import Reference
from alloyref.domain.span import MassRange, MoneyRange

BOTH = "both"


@dataclass(frozen=True, slots=True)
class Settled:
    """A settlement with what comparing it needs: the totals (None without prices) and the money by size."""

    result: Settlement
    totals: Mapping[str, Decimal] | None
    payouts: Mapping[str, Payout]


def settlement_of(
    offer: Offer, lots: Sequence[Weighed], prices: PriceList | None, holding: Decimal, reference: Reference
) -> Settled:
    """All lots under one offer; money only where prices are given (masses in g)."""
    melts = melts_of(offer, lots, reference)
    if prices is None:
        plain = tuple(_shown(melt, None, None) for melt in melts)
        return Settled(Settlement(offer.name, plain, None, None, None), None, {})
    per_gram = _fine(prices)
    money = [_money(melt, per_gram) for melt in melts]
    shown = tuple(_shown(melt, one, prices) for melt, one in zip(melts, money, strict=True))
    sending = round_to(offer.sending_cost, 2) if any(melt.taken for melt in melts) else ZERO
    totals = {
        scenario: sum((one[scenario].net for melt, one in zip(melts, money, strict=True) if melt.taken), -sending)
        for scenario in SCENARIOS
    }
    payouts = {scenario: payout_of(melts, scenario, per_gram) for scenario in SCENARIOS}
    gross = sum((melt.gross for melt in melts), ZERO)
    settled = (totals[LOW], totals[HIGH])
    sizes = break_even(payouts, gross, holding, prices.currency, settled)
    unpriced = any(symbol not in per_gram for lot in lots for symbol in lot.fineness)
    at_least = any(melt.taken and melt.leaves_out(per_gram) for melt in melts)
    result = Settlement(
        offer.name,
        shown,
        MoneyRange.of(sending, sending, prices.currency),
        MoneyRange.of(*settled, prices.currency, at_least),
        _by_trade_name(_without_prices(sizes, at_least) if unpriced else sizes, lots),
    )
    return Settled(result, totals, payouts)


def _fine(prices: PriceList) -> dict[str, Decimal]:
    """Prices per gram by element."""
    return {symbol: price for symbol, price in prices.per_gram.items() if symbol in PRECIOUS}


def _money(melt: Melt, per_gram: dict[str, Decimal]) -> dict[str, Charges]:
    return {scenario: melt.charges(scenario, per_gram) for scenario in SCENARIOS}


def _shown(melt: Melt, money: Mapping[str, Charges] | None, prices: PriceList | None) -> LotSettlement:
    leaves_out = prices is not None and melt.leaves_out(_fine(prices))

    def line(of: Callable[[Charges], Decimal], of_worth: bool = False) -> MoneyRange | None:
        if money is None or prices is None or not melt.taken:
            return None
        return MoneyRange.of(of(money[LOW]), of(money[HIGH]), prices.currency, of_worth and leaves_out)

    return LotSettlement(
        lots=tuple(lot.name for lot in melt.lots),
        gross=melt.gross,
        taken=melt.taken,
        metals=_metals(melt, money, prices) if melt.taken else (),
        worth=line(lambda one: one.worth, of_worth=True),
        fee=line(lambda one: one.fee, of_worth=bool(melt.offer.fee)),
        lot_charge=line(lambda one: one.lot),
        treatment_charge=line(lambda one: one.treatment),
        refining_charge=line(lambda one: one.refining),
        to_minimum=line(lambda one: one.to_minimum),
        net=line(lambda one: one.net, of_worth=True),
        notes=melt.notes(),
    )


def _metals(melt: Melt, money: Mapping[str, Charges] | None, prices: PriceList | None) -> tuple[MetalSettlement, ...]:
    found = []
    for low, high in zip(melt.metals(LOW), melt.metals(HIGH), strict=True):
        symbol = high.terms.metal
        worth = None
        if money is not None and prices is not None and symbol in money[HIGH].worths:
            worth = MoneyRange.of(money[LOW].worths[symbol], money[HIGH].worths[symbol], prices.currency)
        payable = MassRange.of(low.account.payable, high.account.payable)
        found.append(MetalSettlement(symbol, payable, low.ounces, high.ounces, low.account, high.account, worth))
    return tuple(found)


def best_of(settlements: Sequence[Settled]) -> Settled | None:
    """The offer that pays the most for the least contents; without prices the only one there is."""
    taking = [one for one in settlements if any(lot.taken for lot in one.result.lots)]
    priced = [one for one in taking if one.totals is not None]
    if not priced:
        return taking[0] if len(taking) == 1 else None
    return _leader(priced, LOW)


def payable_of(settlement: Settlement) -> dict[str, MassRange]:
    """The fine metal (g) that an offer pays for, all lots together."""
    found: dict[str, MassRange] = {}
    for one in (metal for lot in settlement.lots for metal in lot.metals):
        before = found.get(one.metal, MassRange(ZERO, ZERO))
        found[one.metal] = MassRange(before.low + one.payable.low, before.high + one.payable.high)
    return found


def compared(settlements: Sequence[Settled], lots: Sequence[Weighed], prices: PriceList) -> OfferComparison | None:
    """Which offer pays the most as settled, by how much, and the sizes (g) at which another takes over."""
    taking = [one for one in settlements if any(lot.taken for lot in one.result.lots)]
    if len(settlements) < 2 or not taking:
        return None
    leaders = {scenario: _leader(taking, scenario) for scenario in SCENARIOS}
    names = {scenario: leader.result.offer for scenario, leader in leaders.items()}
    leads = [_lead(taking, leaders[scenario], scenario) for scenario in SCENARIOS]
    gross = sum((lot.lot.mass for lot in lots if lot.fineness), ZERO)
    by_scenario = {
        scenario: flips({one.result.offer: one.payouts[scenario] for one in settlements}, gross, scenario)
        for scenario in SCENARIOS
    }
    alike = all(one.payouts[LOW] == one.payouts[HIGH] for one in settlements)
    told = flips({one.result.offer: one.payouts[LOW] for one in settlements}, gross, BOTH) if alike else ()
    leader = leaders[LOW]
    # What another offer pays for and has no price might put it first.
    sure = names[LOW] == names[HIGH] and not any(_at_least(one) for one in taking if one is not leader)
    return OfferComparison(
        best=names[LOW] if sure else "",
        best_low=names[LOW],
        best_high=names[HIGH],
        lead=MoneyRange.of(leads[0], leads[1], prices.currency, sure and _at_least(leader)),
        flips=told if alike else (*by_scenario[LOW], *by_scenario[HIGH]),
    )


def _total(one: Settled, scenario: str) -> Decimal:
    return ZERO if one.totals is None else one.totals[scenario]


def _by_trade_name(sizes: BreakEven, lots: Sequence[Weighed]) -> BreakEven:
    """The decision where a lot goes by a trade name: an alloy with more unpaid metal may turn it round."""
    if not any(lot.metal is not None and lot.metal.is_trade_name and not lot.assayed for lot in lots):
        return sizes
    return replace(sizes, decision=NOT_CERTAIN, rule=f"{sizes.rule} {NAMED}")


NAMED = "A lot goes by a trade name: some of its alloys lie outside these sizes and shares, so name the alloy."


def _without_prices(sizes: BreakEven, paid_too: bool) -> BreakEven:
    """The decision where a metal held has no price: what is held is worth more, and so may be what is paid for it."""
    decision = NOT_CERTAIN if paid_too or sizes.decision == SEND else sizes.decision
    worth = replace(sizes.worth_of_contents, at_least=True)
    return replace(sizes, decision=decision, worth_of_contents=worth, rule=f"{sizes.rule} {LEFT_OUT}")


LEFT_OUT = "Metal without a price is left out of all of it, and a price may turn the decision round."


def _at_least(one: Settled) -> bool:
    return one.result.settlement is not None and one.result.settlement.at_least


def _leader(taking: Sequence[Settled], scenario: str) -> Settled:
    """The offer that pays the most, the first named of equals."""
    return max(taking, key=lambda one: _total(one, scenario))


def _lead(taking: Sequence[Settled], leader: Settled, scenario: str) -> Decimal:
    others = [_total(one, scenario) for one in taking if one is not leader]
    return _total(leader, scenario) - max(others, default=ZERO)
