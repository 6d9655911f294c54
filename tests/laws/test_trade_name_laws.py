"""Laws of trade names: what holds for the alloys that bear one holds within the range that the name answers with."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from alloyref.domain.order import ORDER
from alloyref.domain.order.inputs import Allowances, OrderInputs, Trial
from alloyref.domain.reference import Reference
from alloyref.domain.transfer import TransferInputs, transfer

masses = st.decimals("0.1", "500", places=3)


@given(data=st.data(), mass=masses)
def test_a_transfer_by_trade_name_covers_that_by_each_of_its_alloys(
    reference: Reference, data: st.DataObject, mass: Decimal
) -> None:
    trade = reference.trade_names[data.draw(st.sampled_from(sorted(reference.trade_names)))]
    member = reference.metal(data.draw(st.sampled_from(trade.members)))
    silver = reference.metal("sterling-silver")
    by_name = transfer(TransferInputs(mass, silver, trade.metal), reference).result.mass
    by_alloy = transfer(TransferInputs(mass, silver, member), reference).result.mass
    assert by_name.low <= by_alloy.value <= by_name.high


@given(data=st.data(), mass=masses)
def test_an_order_by_trade_name_closes_its_books_and_names_no_composition(
    reference: Reference, data: st.DataObject, mass: Decimal
) -> None:
    trade = reference.trade_names[data.draw(st.sampled_from(sorted(reference.trade_names)))]
    inputs = OrderInputs(
        final_metal=trade.metal,
        trial=Trial(reference.metal("sterling-silver"), mass),
        allowances=Allowances(sprue_share=Decimal("0.4")),
    )
    result = ORDER.run(inputs, reference).result
    assert result.balance.total.difference == 0
    assert {account.difference for account in result.balance.elements.values()} == {0}
    assert set(result.elements) == {trade.said.base, "other"}


def test_two_metals_of_one_trade_name_may_be_two_alloys(reference: Reference) -> None:
    metal = reference.trade_names["14k-yellow-gold"].metal
    mass = transfer(TransferInputs(Decimal(10), metal, metal), reference).result.mass
    assert mass.low < 10 < mass.high
