"""What of the metal on hand goes into the charge, why no more of it does, and what is bought."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

Order = Callable[..., Any]
SAME = "gold-585-yellow"
FINE = {"form": "fine-and-master", "increment": "0.01 g"}


def lot(metal: Any, mass: str, kind: str = "scrap") -> dict[str, Any]:
    """A lot on hand."""
    return {"metal": metal, "mass": mass, "kind": kind}


def test_without_a_lot_the_whole_charge_is_bought(order: Order) -> None:
    result = order()
    assert sum(one.needed for one in result.to_buy.items) == result.charge.value
    assert result.to_buy.on_hand == ()


def test_scrap_is_limited_to_half_of_the_charge(order: Order) -> None:
    result = order(on_hand=[lot(SAME, "500 g")])
    used = result.to_buy.on_hand[0]
    assert Decimal(0) <= result.charge.value / 2 - used.used < Decimal("0.0001")
    assert used.left == 500 - used.used
    assert used.reason == "scrap may be at most 50 % of the charge"
    assert result.to_buy.items[0].needed == result.charge.value - used.used


@pytest.mark.parametrize(("share", "percent"), [("0.25", "25"), ("0", "0"), ("1", "100"), ("33.3 percent", "33.3")])
def test_the_caller_may_set_another_share(order: Order, share: str, percent: str) -> None:
    result = order(on_hand=[lot(SAME, "500 g")], purchase={"max_scrap_share": share})
    used = result.to_buy.on_hand[0]
    assert abs(used.used - result.charge.value * Decimal(percent) / 100) < Decimal("0.0001")
    assert percent in used.reason or used.used == result.charge.value


def test_two_lots_of_scrap_share_the_one_limit(order: Order) -> None:
    result = order(on_hand=[lot(SAME, "3 g"), lot(SAME, "500 g")])
    first, second = result.to_buy.on_hand
    assert (first.used, first.reason) == (3, "")
    assert abs(first.used + second.used - result.charge.value / 2) < Decimal("0.0001")
    assert "50 %" in second.reason


def test_fresh_metal_has_no_such_limit(order: Order) -> None:
    result = order(on_hand=[lot(SAME, "500 g", "fresh")])
    used = result.to_buy.on_hand[0]
    assert used.used == result.charge.value
    assert used.reason == "the charge needs no more"
    assert result.to_buy.items == ()
    assert result.to_buy.mass.value == 0


def test_a_limit_that_was_assumed_is_told_and_a_given_one_is_not(outcome: Callable[..., Any]) -> None:
    def told(**changes: Any) -> bool:
        return "scrap-share-max" in [one.id for one in outcome(**changes).assumptions]

    assert told(on_hand=[lot(SAME, "1 g")])
    assert not told()
    assert not told(on_hand=[lot(SAME, "1 g")], purchase={"max_scrap_share": 0.4})


@pytest.mark.parametrize("metal", ["gold-750-yellow", "fine-gold", "fine-silver", "sterling-silver"])
def test_metal_of_another_composition_stays_out_of_an_alloyed_charge(order: Order, metal: str) -> None:
    result = order(on_hand=[lot(metal, "5 g", "fresh")])
    used = result.to_buy.on_hand[0]
    assert (used.used, used.left) == (0, 5)
    assert "fine-and-master" in used.reason
    assert result.to_buy.items[0].needed == result.charge.value


def test_the_same_composition_by_another_name_goes_in(order: Order, reference: Any) -> None:
    shares = {symbol: str(share) for symbol, share in reference.alloys[SAME].metal.composition.parts}
    result = order(on_hand=[lot({"composition": dict(reversed(shares.items()))}, "2 g", "fresh")])
    assert result.to_buy.on_hand[0].used == 2


def test_fine_metal_and_master_alloy_make_up_the_charge(order: Order) -> None:
    result = order(purchase=FINE)
    fine, master = result.to_buy.items
    assert (fine.what, fine.metal) == ("fine Au", "Au")
    assert fine.needed == result.charge.value * 585 / 1000
    assert fine.needed + master.needed == result.charge.value
    assert set(master.composition) == {"Ag", "Cu"}
    assert sum(master.composition.values()) == 1000
    assert all(difference == 0 for difference in differences(result))


def differences(result: Any) -> list[Decimal]:
    """What the books do not explain."""
    return [account.difference for account in (result.balance.total, *result.balance.elements.values())]


@pytest.mark.parametrize("metal", ["gold-750-yellow", "fine-gold", "fine-silver", "copper", "sterling-silver"])
def test_a_lot_goes_into_a_charge_of_fine_and_master_until_one_element_is_full(
    order: Order, reference: Any, metal: str
) -> None:
    result = order(on_hand=[lot(metal, "500 g", "fresh")], purchase=FINE)
    used = result.to_buy.on_hand[0]
    wanted = dict(reference.alloys[SAME].metal.composition.parts)
    rooms = {
        symbol: result.charge.value * wanted.get(symbol, 0) / share
        for symbol, share in reference.alloys[metal].metal.composition.parts
    }
    full = min(rooms, key=lambda symbol: rooms[symbol])
    assert Decimal(0) <= rooms[full] - used.used < Decimal("0.0001")
    assert used.reason == f"more of it would bring in too much {full}"
    assert all(difference == 0 for difference in differences(result))
    assert all(one.needed > 0 for one in result.to_buy.items)


def test_a_lot_with_a_foreign_element_cannot_be_used_at_all(order: Order) -> None:
    result = order(on_hand=[lot("brass-c26000", "5 g", "fresh")], purchase=FINE)
    assert result.to_buy.on_hand[0].used == 0
    assert result.to_buy.on_hand[0].reason.endswith("too much Zn")


@pytest.mark.parametrize("increment", ["0.01 g", "0.5 g", "1 dwt", "0.7 g", "100 g"])
@pytest.mark.parametrize("form", ["alloyed", "fine-and-master"])
def test_each_item_is_rounded_up_to_the_suppliers_step(order: Order, increment: str, form: str) -> None:
    result = order(purchase={"form": form, "increment": increment})
    step = result.to_buy.increment
    for one in result.to_buy.items:
        assert one.mass % step == 0
        assert 0 <= one.mass - one.needed < step
        assert one.left_over == one.mass - one.needed
    assert result.to_buy.mass.value == sum(one.mass for one in result.to_buy.items)
    assert result.to_buy.mass.low <= result.to_buy.mass.value <= result.to_buy.mass.high


def test_the_order_in_which_lots_are_given_is_kept(order: Order) -> None:
    result = order(on_hand=[lot(SAME, "2 g"), lot("fine-silver", "1 g", "fresh"), lot(SAME, "1 g", "fresh")])
    assert [one.metal for one in result.to_buy.on_hand] == [SAME, "fine-silver", SAME]
    assert [one.used for one in result.to_buy.on_hand] == [2, 0, 1]
