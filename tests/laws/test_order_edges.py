"""Edges that the drawn orders hardly reach: nothing comes back, more on hand than needed, absurd steps."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.errors import AlloyrefError
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.order.results import OrderResult

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
NOTHING_LOST = {"sprue_share": 0, "melt_loss": 0, "finishing_loss": 0}


def metal(density: str, **permille: int) -> dict[str, Any]:
    """A metal of given density and composition."""
    return {"composition": permille, "density": f"{density} g/cm3"}


GREEN = metal("15", Au=750, Ag=250)


def test_the_net_cost_stands_when_nothing_comes_back(ask: Ask) -> None:
    """1 cm3 of 750 gold, all of it in the piece: what is bought is the net cost."""
    asked = {
        "volume": "1 cm3",
        "final_metal": GREEN,
        "allowances": NOTHING_LOST,
        "prices": [
            {"metal": "Au", "price": 100, "currency": "EUR"},
            {"metal": "Ag", "price": 1, "currency": "EUR"},
        ],
    }
    result: OrderResult = ask(ORDER, asked).result
    assert result.returns.mass == 0
    assert result.cost is not None
    assert result.cost.total == (Decimal("1128.75"), "EUR")
    assert result.cost.net == (Decimal("1128.75"), "EUR")
    assert result.cost.per_piece == (Decimal("1128.75"), "EUR")


def test_a_lot_that_is_not_used_leaves_no_trace_in_what_is_bought(ask: Ask) -> None:
    """Sterling on hand cannot go into green gold bought alloyed: no copper in the item, nor in the books."""
    asked = {
        "volume": "1 cm3",
        "final_metal": GREEN,
        "on_hand": [{"metal": "sterling-silver", "mass": "1 g"}],
        "prices": [{"metal": "Au", "price": 100, "currency": "EUR"}],
    }
    result: OrderResult = ask(ORDER, asked).result
    (lot,), (item,) = result.to_buy.on_hand, result.to_buy.items
    assert lot.used == 0
    assert item.composition == {"Au": 750, "Ag": 250}
    assert set(result.balance.elements) == {"Au", "Ag"}
    assert result.cost is not None
    assert result.cost.unpriced == ("Ag",)


def test_three_equal_lines_share_a_euro(ask: Ask) -> None:
    """1.00 over three is 0.34 + 0.33 + 0.33, never three times 0.33."""
    gram = {"volume": "1 cm3"}
    price = {"price": "0.333333333333", "currency": "EUR"}
    asked = {
        **gram,
        "final_metal": metal("1", Au=750, Ag=250),
        "others": [gram, gram],
        "allowances": {**NOTHING_LOST, "sprue_share": "0.0001"},
        "prices": [{"metal": "Au", **price}, {"metal": "Ag", **price}],
    }
    result: OrderResult = ask(ORDER, asked).result
    assert result.cost is not None
    assert result.cost.net == (Decimal("1.00"), "EUR")
    assert sum(line.cost[0] for line in result.lines if line.cost) == Decimal("1.00")


def test_more_on_hand_than_the_high_end_needs_leaves_nothing_to_buy(ask: Ask) -> None:
    """100 g of the very metal on hand for a charge of some 23 g: even at its high end nothing is bought."""
    asked = {
        "volume": "1 cm3",
        "final_metal": "gold-750-yellow",
        "on_hand": [{"metal": "gold-750-yellow", "mass": "100 g", "kind": "fresh"}],
    }
    result: OrderResult = ask(ORDER, asked).result
    assert result.charge.high < 100
    assert (result.to_buy.mass.low, result.to_buy.mass.value, result.to_buy.mass.high) == (0, 0, 0)


def test_the_high_end_to_buy_is_enough_when_two_items_are_rounded(ask: Ask) -> None:
    """Fine and master are each rounded up: 10.05 g of half and half is 5.5 + 5.5 in steps of 0.5 g."""

    def bought(mass: str) -> OrderResult:
        asked = {
            "trial": {"metal": metal("10", Ag=500, Cu=500), "mass": mass, "readability": "0.2 g"},
            "final_metal": metal("10", Au=500, Ag=500),
            "allowances": NOTHING_LOST,
            "purchase": {"form": "fine-and-master", "increment": "0.5 g"},
        }
        result: OrderResult = ask(ORDER, asked).result
        return result

    first, heavier = bought("9.98 g"), bought("10.05 g")
    assert first.charge.low < heavier.charge.value < first.charge.high
    assert heavier.to_buy.mass.value == 11
    assert first.to_buy.mass.high >= heavier.to_buy.mass.value


def test_two_items_rounded_up_stay_within_the_range(ask: Ask) -> None:
    """No doubt at all about the charge of 10.02 g, and yet 11 g to order: the range must hold what is ordered."""
    asked = {
        "trial": {"metal": metal("10", Ag=500, Cu=500), "mass": "10.02 g", "contraction": 0},
        "final_metal": metal("10", Au=500, Ag=500),
        "final_contraction": 0,
        "allowances": NOTHING_LOST,
        "purchase": {"form": "fine-and-master", "increment": "0.5 g"},
    }
    result: OrderResult = ask(ORDER, asked).result
    assert result.charge.low == result.charge.high == Decimal("10.02")
    assert result.to_buy.mass.value == 11
    assert result.to_buy.mass.low <= 11 <= result.to_buy.mass.high


WEIGHED = [
    ({"mass": "10 g", "stage": "with-sprue", "sprue_mass": "9 g"}, [], 1),
    ({"mass": "2 g"}, [{"mass": "5 ct"}], 1),
    ({"mass": "4 g", "pieces_weighed": 2}, [{"mass": "5 ct"}], 2),
]


@pytest.mark.parametrize(("weighing", "stones", "pieces"), WEIGHED)
def test_half_a_step_of_the_balance_stays_half_a_step(
    ask: Ask, weighing: dict[str, Any], stones: list[dict[str, Any]], pieces: int
) -> None:
    """Taking off a known sprue or stones does not shrink the balance's error of 0.05 g in all.

    The trial is of the final metal itself, so that weighing is the only doubt.
    """
    asked = {
        "trial": {"metal": GREEN, "readability": "0.1 g", **weighing},
        "stones": stones,
        "final_metal": GREEN,
    }
    piece = ask(ORDER, asked).result.piece_mass
    assert piece.value == 1
    half = Fraction("0.05") / pieces
    assert Fraction(piece.high) == 1 + half
    assert Fraction(piece.low) == 1 - half


ABSURD = [
    {"volume": "1 cm3", "purchase": {"increment": "1e-27 g"}},
    {"volume": "1 cm3", "purchase": {"increment": "1e-30 kg"}},
    {"trial": {"metal": metal("1e-25", Ag=1000), "mass": "1 g"}},
    {"pattern": {"mass": "1 g", "density": "1e-29 g/cm3"}},
]


@pytest.mark.parametrize("absurd", ABSURD)
def test_absurd_input_is_refused_or_answered(ask: Ask, absurd: dict[str, Any]) -> None:
    """Either the service says what is wrong, or the books close: an error of the arithmetic is no answer."""
    try:
        result: OrderResult = ask(ORDER, {"final_metal": GREEN, **absurd}).result
    except AlloyrefError:
        return
    assert result.balance.total.difference == 0
    assert result.to_buy.mass.value >= result.charge.value


def test_the_largest_flask_still_closes_to_the_last_decimal(ask: Ask) -> None:
    """Ten thousand pieces and spares, a hundred other lines, thirds in the composition."""
    trial = {"metal": metal("0.5", Ag=925, Cu=75), "mass": "0.9999 g"}
    asked = {
        "trial": trial,
        "final_metal": {
            "composition": {"Au": "333.333", "Ag": "333.333", "Cu": "333.334"},
            "density": "24.99 g/cm3",
        },
        "pieces": 10_000,
        "spares": 10_000,
        "others": [{"trial": trial, "pieces": 10_000}] * 100,
        "allowances": {
            "sprue_share": "2.987",
            "safety": "0.987",
            "melt_loss": "0.4987",
            "finishing_loss": "0.3333333",
        },
        "on_hand": [{"metal": "sterling-silver", "mass": "1.2345 g"}],
        "purchase": {"form": "fine-and-master", "increment": "0.1 dwt"},
    }
    result: OrderResult = ask(ORDER, asked).result
    accounts = [
        result.balance.total,
        *result.balance.elements.values(),
        *(one.account for one in result.lines),
    ]
    for account in accounts:
        out = sum(Fraction(part) for part in (account.pieces, account.returns, account.loss))
        assert Fraction(account.mass_in) == out
        assert account.difference == 0
    elements = sum(Fraction(account.mass_in) for account in result.balance.elements.values())
    assert elements == Fraction(result.charge.value)


def test_the_range_of_the_largest_charge_holds_its_value(ask: Ask) -> None:
    """Nothing in doubt, so low, value and high are one number, at thirteen digits as well as at six."""
    asked = {
        "trial": {"metal": metal("0.51", Ag=1000), "mass": "429491.6953 g", "contraction": 0},
        "final_metal": metal("19.37", Au=1000),
        "final_contraction": 0,
        "pieces": 3,
        "allowances": {"sprue_share": "2.298", "melt_loss": "0.2182", "finishing_loss": "0.1"},
    }
    charge = ask(ORDER, asked).result.charge
    assert charge.low == charge.value == charge.high
