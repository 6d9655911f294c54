"""Laws of the books: whatever is asked, they close for each element, to the last decimal."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.order.results import Account, OrderResult

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Orders = st.SearchStrategy[dict[str, Any]]
LAW = settings(max_examples=120, derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow])
STEP_OF_THE_BOOKS = Fraction(1, 10_000)
COLUMNS = ("mass_in", "pieces", "returns", "loss", "difference")


def total(numbers: Iterable[Decimal]) -> Fraction:
    """The sum, without any rounding of decimals."""
    return sum((Fraction(number) for number in numbers), Fraction(0))


def column(accounts: Iterable[Account], name: str) -> Fraction:
    """One column of several accounts, added up."""
    return total(getattr(account, name) for account in accounts)


@LAW
@given(st.data())
def test_every_account_closes(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    result: OrderResult = ask(ORDER, data.draw(orders)).result
    accounts = [
        result.balance.total,
        *result.balance.elements.values(),
        *(line.account for line in result.lines),
    ]
    for account in accounts:
        assert account.difference == 0
        out = total([account.pieces, account.returns, account.loss])
        assert Fraction(account.mass_in) == out
        assert min(account.mass_in, account.pieces, account.returns, account.loss) >= 0


@LAW
@given(st.data())
def test_elements_and_lines_add_up_to_the_whole(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    result: OrderResult = ask(ORDER, data.draw(orders)).result
    for name in COLUMNS:
        whole = Fraction(getattr(result.balance.total, name))
        assert column(result.balance.elements.values(), name) == whole
        assert column((line.account for line in result.lines), name) == whole


@LAW
@given(st.data())
def test_the_charge_is_the_sum_of_its_parts(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    result: OrderResult = ask(ORDER, data.draw(orders)).result
    parts, charge = result.charge_parts, Fraction(result.charge.value)
    assert total([parts.castings, parts.sprue_and_button, parts.safety, parts.melt_loss]) == charge
    assert total(result.elements.values()) == charge
    assert Fraction(result.balance.total.mass_in) == charge
    assert Fraction(result.balance.total.loss) == Fraction(parts.melt_loss)
    assert result.casting_slip.charge == result.charge.value
    # The mass of one piece is shown to a tenth of a milligram, that of all of them is brought to it once.
    castings = sum((Fraction(line.piece_mass.value) * line.castings for line in result.lines), Fraction(0))
    off = sum(STEP_OF_THE_BOOKS / 2 * line.castings + STEP_OF_THE_BOOKS for line in result.lines)
    assert abs(castings - Fraction(parts.castings)) <= off


@LAW
@given(st.data())
def test_what_comes_back_is_what_was_not_delivered(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    result: OrderResult = ask(ORDER, data.draw(orders)).result
    by_kind = {lot.kind: Fraction(lot.mass) for lot in result.returns.items}
    assert len(by_kind) == len(result.returns.items)
    assert sum(by_kind.values(), Fraction(0)) == Fraction(result.returns.mass)
    assert result.returns.mass == result.balance.total.returns
    parts = result.charge_parts
    assert by_kind.get("sprue-and-button", 0) == total([parts.sprue_and_button, parts.safety])
    spares = [(Fraction(line.piece_mass.value), line.castings - line.pieces) for line in result.lines]
    off = sum(STEP_OF_THE_BOOKS / 2 * count + STEP_OF_THE_BOOKS * 2 for _, count in spares if count)
    assert abs(by_kind.get("spare-castings", Fraction(0)) - sum(mass * count for mass, count in spares)) <= off


@LAW
@given(st.data())
def test_the_melt_loss_is_the_share_asked(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    """To within the tenth of a milligram that the books are kept to."""
    asked = data.draw(orders)
    asked["allowances"]["melt_loss"] = "0.015"
    result: OrderResult = ask(ORDER, asked).result
    exact = Fraction(result.charge.value) * Fraction("0.015")
    assert abs(Fraction(result.charge_parts.melt_loss) - exact) <= Fraction(1, 10_000)


@LAW
@given(st.data())
def test_shares_of_the_flask_add_up_to_one(ask: Ask, orders: Orders, data: st.DataObject) -> None:
    result: OrderResult = ask(ORDER, data.draw(orders)).result
    assert abs(total(line.share for line in result.lines) - 1) <= Fraction(len(result.lines), 2 * 10**6)
