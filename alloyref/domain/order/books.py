"""Books that close: for each element, in = pieces + returns + loss, to the last decimal."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from alloyref.domain.estimate import ZERO
from alloyref.domain.metal import Metal
from alloyref.domain.numbers import round_to
from alloyref.domain.order.castings import Line
from alloyref.domain.order.charge import Charge, share_out
from alloyref.domain.order.purchase import Supply, contents
from alloyref.domain.order.results import Account, Balance

SPRUE, SPARES, LEMEL = "sprue-and-button", "spare-castings", "lemel"


def return_masses(lines: Sequence[Line], charge: Charge) -> dict[str, Decimal]:
    """What comes back, by kind, in g: sprue and button (with the safety metal), spare castings, lemel."""
    spare = sum((line.spares_mass for line in lines), ZERO)
    lemel = sum((line.lemel for line in lines), ZERO)
    masses = {SPRUE: charge.sprue + charge.safety, SPARES: spare, LEMEL: lemel}
    return {kind: mass for kind, mass in masses.items() if mass}


def finished_total(line: Line) -> Decimal:
    """Metal in all delivered pieces of a line, in g."""
    return line.delivered_mass - line.lemel


def balance_of(lines: Sequence[Line], charge: Charge, supply: Supply, metal: Metal) -> Balance:
    """The closing balance, in all and for each element.

    What goes in is added up from the lots and purchases; what comes out from the alloy's composition.
    The two meet only if the charge was made up rightly, so `difference` is a check and not a definition.
    """
    pieces = sum((finished_total(line) for line in lines), ZERO)
    returns = sum(return_masses(lines, charge).values(), ZERO)
    went_in = supply.elements()
    total = _account(sum(went_in.values(), ZERO), pieces, returns, charge.melt_loss)
    parts = [contents(metal.composition, mass) for mass in (pieces, returns, charge.melt_loss)]
    symbols = dict.fromkeys((*metal.composition.elements, *went_in))
    elements = {
        symbol: _account(went_in.get(symbol, ZERO), *(part.get(symbol, ZERO) for part in parts)) for symbol in symbols
    }
    return Balance("g", total, elements)


def line_accounts(lines: Sequence[Line], charge: Charge) -> tuple[Account, ...]:
    """The books of each line: sprue, safety and loss shared out by volume, so that lines sum to the whole."""
    weights = [line.castings_mass for line in lines]
    sprues = share_out(charge.sprue + charge.safety, weights)
    losses = share_out(charge.melt_loss, weights)
    accounts = []
    for line, sprue, loss in zip(lines, sprues, losses, strict=True):
        returns = sprue + line.spares_mass + line.lemel
        accounts.append(_account(line.castings_mass + sprue + loss, finished_total(line), returns, loss))
    return tuple(accounts)


def _account(mass_in: Decimal, pieces: Decimal, returns: Decimal, loss: Decimal) -> Account:
    return Account(mass_in, pieces, returns, loss, mass_in - pieces - returns - loss)


def line_share(line: Line, charge: Charge) -> Decimal:
    """A line's share of the flask by volume (one metal, so also by mass)."""
    return round_to(line.castings_mass / charge.castings, 6)
