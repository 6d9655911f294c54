"""Three orders worked by hand: charge, purchase, elements, returns and money, in fractions.

The figures are chosen so that most steps end; where one does not, the charge goes up to the next tenth of a
milligram, and so do those of its parts that fall furthest short of it, until they sum to it. Densities are given, so
nothing here hangs on the catalogue.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from math import ceil, comb
from typing import Any

import pytest

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.order.calculation import ORDER
from alloyref.domain.order.results import OrderResult

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
YELLOW = {"Au": 750, "Ag": 125, "Cu": 125}
STERLING = {"Ag": 925, "Cu": 75}


def metal(composition: dict[str, int], density: str) -> dict[str, Any]:
    """A metal of given composition and density."""
    return {"composition": composition, "density": f"{density} g/cm3"}


def up(exact: Fraction, step: Fraction = Fraction(1, 10_000)) -> Fraction:
    """The least multiple of the step that is not below."""
    return ceil(exact / step) * step


def returned(result: OrderResult) -> dict[str, Decimal]:
    """What comes back, by kind."""
    return {lot.kind: lot.mass for lot in result.returns.items}


class TestThreeBandsFromAnAsCastTrial:
    """6.31 g of sterling (10.36) become three bands of 18 karat (15.54): x 1.5 exactly.

    piece      6.31 x 1.5                = 9.465
    castings   3 x 9.465                 = 28.395
    sprue      0.4 x 28.395              = 11.358
    safety     0.05 x 39.753             = 1.98765
    poured     28.395 + 11.358 + 1.98765 = 41.74065
    charge     41.74065/0.99 = 42.16227.. -> 42.1623, of which lost 0.42162..
    booked     28.395 + 11.358 + 1.9877 + 0.4216
    on hand    5.2 of 18 karat scrap (at most half of the charge)
    need       42.1623 - 5.2             = 36.9623
    ordered    in steps of half a pennyweight, 0.77758692 g: 47.53 -> 48 steps = 37.32417216
    lemel      0.08 x 28.395             = 2.2716
    returns    11.358 + 1.9877 + 2.2716  = 15.6173
    pieces     28.395 - 2.2716           = 26.1234
    """

    @pytest.fixture
    def result(self, ask: Ask) -> OrderResult:
        asked = {
            "trial": {"metal": metal(STERLING, "10.36"), "mass": "6.31 g", "stage": "as-cast"},
            "final_metal": metal(YELLOW, "15.54"),
            "pieces": 3,
            "allowances": {
                "sprue_share": "0.4",
                "safety": "0.05",
                "melt_loss": "0.01",
                "finishing_loss": "0.08",
            },
            "on_hand": [{"metal": {"composition": YELLOW}, "mass": "5.2 g"}],
            "purchase": {"increment": "0.5 dwt"},
            "prices": [
                {"metal": "Au", "price": "3000", "per": "ozt", "currency": "EUR"},
                {"metal": "Ag", "price": "1.25", "per": "g", "currency": "EUR"},
                {"metal": "Cu", "price": "0.01", "per": "g", "currency": "EUR"},
            ],
        }
        result: OrderResult = ask(ORDER, asked).result
        return result

    def test_charge(self, result: OrderResult) -> None:
        parts = result.charge_parts
        assert result.piece_mass.value == Decimal("9.465")
        assert (parts.castings, parts.sprue_and_button) == (Decimal("28.395"), Decimal("11.358"))
        assert (parts.safety, parts.melt_loss) == (Decimal("1.9877"), Decimal("0.4216"))
        poured = Fraction("39.753") * Fraction("1.05")
        assert Fraction(result.charge.value) == up(poured / Fraction("0.99")) == Fraction("42.1623")

    def test_range_of_a_piece(self, result: OrderResult) -> None:
        """Densities are given, so only 0.3 percent of volume for unknown contraction is left."""
        assert (result.piece_mass.low, result.piece_mass.high) == (Decimal("9.4366"), Decimal("9.4934"))

    def test_elements(self, result: OrderResult) -> None:
        expected = {"Au": Decimal("31.621725"), "Ag": Decimal("5.2702875"), "Cu": Decimal("5.2702875")}
        assert result.elements == expected

    def test_to_buy(self, result: OrderResult) -> None:
        (item,), (lot,) = result.to_buy.items, result.to_buy.on_hand
        assert (lot.used, lot.left, lot.reason) == (Decimal("5.2"), 0, "")
        assert (item.needed, item.mass) == (Decimal("36.9623"), Decimal("37.32417216"))
        assert item.left_over == Decimal("0.36187216")
        assert Fraction(result.to_buy.mass.value) == 48 * Fraction("1.55517384") / 2

    def test_returns_and_pieces(self, result: OrderResult) -> None:
        assert returned(result) == {"sprue-and-button": Decimal("13.3457"), "lemel": Decimal("2.2716")}
        assert result.returns.mass == Decimal("15.6173")
        assert result.balance.total.pieces == Decimal("26.1234")
        assert result.balance.elements["Au"].pieces == Decimal("19.59255")
        assert result.balance.elements["Au"].loss == Decimal("0.3162")

    def test_money(self, result: OrderResult) -> None:
        """A gram of the alloy is 0.75 x 3000/31.1034768 + 0.125 x 1.25 + 0.125 x 0.01 euro."""
        gram = Fraction("0.75") * 3000 / Fraction("31.1034768") + Fraction("0.125") * Fraction("1.26")
        # 5.2 g of the alloy on hand go in and cost what they are worth.
        net = gram * (Fraction("36.9623") + Fraction("5.2") - Fraction("15.6173"))
        assert result.cost is not None
        for amount, exact in (
            (result.cost.total, gram * Fraction("37.32417216")),
            (result.cost.returns_worth, gram * Fraction("15.6173")),
            (result.cost.net, net),
            (result.cost.per_piece, net / 3),
        ):
            assert amount is not None
            assert amount[1] == "EUR"
            assert abs(Fraction(amount[0]) - exact) <= Fraction(1, 200)


class TestPlatinumFromFinishedTrialsWithSpares:
    """Two finished brass trials of 7.2 g together (8.0), for four pieces of platinum (20.0).

    as cast    7.2/2/0.9 = 4.0 in brass, x 20/8 = 10.0 in platinum
    castings   four good ones at 80 % success and 95 % confidence: 7 (six give 90.1 %, seven 96.7 %)
    sprue      4 g weighed in brass x 2.5 = 10
    charge     (70 + 10)/0.995 = 80.40201.. -> 80.4021, of which lost 0.4021
    returns    sprue 10, three spare castings 30, lemel 0.1 x 40 = 4: together 44; pieces 36
    """

    @pytest.fixture
    def result(self, ask: Ask) -> OrderResult:
        asked = {
            "trial": {
                "metal": metal({"Cu": 700, "Zn": 300}, "8"),
                "mass": "7.2 g",
                "pieces_weighed": 2,
                "stage": "finished",
            },
            "final_metal": metal({"Pt": 950, "Ru": 50}, "20"),
            "pieces": 4,
            "spares": {"success_rate": "0.8", "confidence": "0.95"},
            "allowances": {"sprue_mass": "4 g", "melt_loss": "0.005", "finishing_loss": "0.1"},
        }
        result: OrderResult = ask(ORDER, asked).result
        return result

    def test_castings(self, result: OrderResult) -> None:
        success = Fraction(4, 5)

        def chance(castings: int) -> Fraction:
            """That at least four come out well, summed exactly."""
            ways = (comb(castings, good) * success**good * (1 - success) ** (castings - good) for good in range(4))
            return 1 - sum(ways, Fraction(0))

        assert chance(6) < Fraction(95, 100) <= chance(7)
        assert result.castings == 7

    def test_charge(self, result: OrderResult) -> None:
        parts = result.charge_parts
        assert (result.piece_mass.value, result.finished_mass.value) == (10, 9)
        assert (parts.castings, parts.sprue_and_button, parts.safety) == (70, 10, 0)
        assert Fraction(result.charge.value) == up(80 / Fraction("0.995")) == Fraction("80.4021")
        assert parts.melt_loss == Decimal("0.4021")

    def test_elements_and_purchase(self, result: OrderResult) -> None:
        assert result.elements == {"Pt": Decimal("76.381995"), "Ru": Decimal("4.020105")}
        assert result.to_buy.mass.value == Decimal("80.41")  # the usual step of 0.01 g

    def test_returns_and_pieces(self, result: OrderResult) -> None:
        expected = {"sprue-and-button": 10, "spare-castings": 30, "lemel": 4}
        assert returned(result) == expected
        assert (result.returns.mass, result.balance.total.pieces) == (44, 36)
        assert result.balance.elements["Pt"].returns == Decimal("41.8")


class TestStoneSetWaxBoughtAsFineAndMaster:
    """A wax of 0.95 g (0.95 g/cm3) with a stone of 1.76 ct (3.52 g/cm3) in it; two pieces of 18 karat (15.0).

    volume     0.95/0.95 - 0.352/3.52 = 0.9 cm3; contraction 1 % of length: x 0.970299 = 0.8732691
    piece      0.8732691 x 15 = 13.0990365, shown as 13.0990
    castings   26.198073; sprue 0.25 x = 6.54951825; poured 32.74759125
    charge     32.74759125/0.98 = 33.41590.. -> 33.4160, of which lost 0.66831..
    booked     26.1981 + 6.5496 + 0.6683
    on hand    14 karat scrap, at most 0.4 x 33.416 = 13.3664; fine silver 0.5
    missing    Au 25.062 - 7.819344       = 17.242656
               Ag 4.177 - 2.740112 - 0.5  = 0.936888
               Cu 4.177 - 2.806944        = 1.370056
    ordered    fine gold 17.3, master 2.306944 -> 2.4 in steps of 0.1 g
    lemel      0.1 x 26.1981 = 2.6198; finished piece 11.7891, with its stone 12.1411
    """

    @pytest.fixture
    def result(self, ask: Ask) -> OrderResult:
        asked = {
            "pattern": {"mass": "0.95 g", "density": "0.95 g/cm3"},
            "stones": [{"mass": "1.76 ct", "density": "3.52 g/cm3"}],
            "final_metal": metal(YELLOW, "15"),
            "final_contraction": "0.01",
            "pieces": 2,
            "allowances": {"sprue_share": "0.25", "melt_loss": "0.02", "finishing_loss": "0.1"},
            "on_hand": [
                {
                    "metal": {"composition": {"Au": 585, "Ag": 205, "Cu": 210}},
                    "mass": "30 g",
                    "kind": "scrap",
                },
                {"metal": "Ag", "mass": "0.5 g", "kind": "fresh"},
            ],
            "purchase": {"form": "fine-and-master", "increment": "0.1 g", "max_scrap_share": "0.4"},
        }
        result: OrderResult = ask(ORDER, asked).result
        return result

    def test_charge(self, result: OrderResult) -> None:
        exact = Fraction("0.9") * Fraction("0.99") ** 3 * 15
        assert result.piece_mass.value == round(exact, 4) == Fraction("13.0990")
        assert (
            Fraction(result.charge.value)
            == up(exact * 2 * Fraction("1.25") / Fraction("0.98"))
            == Fraction("33.4160")
        )
        parts = result.charge_parts
        assert (parts.sprue_and_button, parts.melt_loss) == (Decimal("6.5496"), Decimal("0.6683"))

    def test_on_hand(self, result: OrderResult) -> None:
        scrap, silver = result.to_buy.on_hand
        assert (scrap.used, scrap.left) == (Decimal("13.3664"), Decimal("16.6336"))
        assert "40 %" in scrap.reason
        assert (silver.used, silver.left, silver.reason) == (Decimal("0.5"), 0, "")

    def test_to_buy(self, result: OrderResult) -> None:
        fine, master = result.to_buy.items
        assert (fine.metal, fine.needed, fine.mass) == ("Au", Decimal("17.242656"), Decimal("17.3"))
        assert (master.metal, master.needed, master.mass) == ("", Decimal("2.306944"), Decimal("2.4"))
        silver = Fraction("0.936888") / Fraction("2.306944") * 1000
        assert Fraction(master.composition["Ag"]) == round(silver, 3)
        assert result.to_buy.mass.value == Decimal("19.7")

    def test_elements(self, result: OrderResult) -> None:
        expected = {"Au": Decimal("25.062"), "Ag": Decimal("4.177"), "Cu": Decimal("4.177")}
        assert result.elements == expected
        assert {symbol: account.mass_in for symbol, account in result.balance.elements.items()} == expected

    def test_returns_and_pieces(self, result: OrderResult) -> None:
        assert returned(result) == {"sprue-and-button": Decimal("6.5496"), "lemel": Decimal("2.6198")}
        (line,) = result.lines
        assert (line.finished_mass.value, line.gross_mass) == (Decimal("11.7891"), Decimal("12.1411"))
        assert result.balance.total.pieces == Decimal("23.5783")


# One tree of 10 g of castings, weighed in four ways: the piece in the final metal is the same.
WEIGHINGS = [
    {"mass": "10 g", "stage": "as-cast"},
    {"mass": "14 g", "stage": "with-sprue"},  # the sprue by the share of 0.4
    {"mass": "12.6 g", "stage": "with-sprue", "sprue_mass": "2.6 g"},
    {"mass": "9 g", "stage": "finished"},  # a tenth filed off
]


@pytest.mark.parametrize("weighing", WEIGHINGS)
def test_one_piece_however_it_was_weighed(ask: Ask, weighing: dict[str, str]) -> None:
    asked = {
        "trial": {"metal": metal(STERLING, "10"), **weighing},
        "final_metal": metal(YELLOW, "15"),
        "allowances": {"sprue_share": "0.4", "melt_loss": 0, "finishing_loss": "0.1"},
    }
    result = ask(ORDER, asked).result
    assert (result.piece_mass.value, result.finished_mass.value) == (15, Decimal("13.5"))
    assert result.charge.value == 21


def test_stones_are_no_metal(ask: Ask) -> None:
    """Two set trials of 20.8 g together, in each of them two stones of 1 ct: 20 g of metal, 10 a piece, 15 in gold.

    Finished 0.9 x 15 = 13.5, and with its stones 13.9 g.
    """
    asked = {
        "trial": {"metal": metal(STERLING, "10"), "mass": "20.8 g", "pieces_weighed": 2},
        "stones": [{"mass": "1 ct", "count": 2}],
        "final_metal": metal(YELLOW, "15"),
        "allowances": {"finishing_loss": "0.1"},
    }
    result = ask(ORDER, asked).result
    (line,) = result.lines
    assert (result.piece_mass.value, result.finished_mass.value) == (15, Decimal("13.5"))
    assert line.gross_mass == Decimal("13.9")


def test_a_button_given_in_metal_beside_a_pattern(ask: Ask) -> None:
    """181 g of wax, sterling at 10.4 to 1, and 10 dwt for the button: 1882.4 + 15.5517384 = 1897.9517 g.

    Makerspace wiki on casting; its own 1888.83 takes 10 dwt for 6.43 g.
    """
    asked = {
        "pattern": {"mass": "181 g", "density": "1 g/cm3"},
        "final_metal": metal(STERLING, "10.4"),
        "final_contraction": 0,
        "allowances": {"button_mass": "10 dwt", "melt_loss": 0},
    }
    outcome = ask(ORDER, asked)
    assert Fraction(outcome.result.charge.value) == up(Fraction("1882.4") + 10 * Fraction("1.55517384"))
    assert outcome.result.charge_parts.castings == Decimal("1882.4")
    assert "button-alone" in [one.id for one in outcome.assumptions]


def test_stones_in_the_trial_and_stones_still_to_be_set(ask: Ask) -> None:
    """A trial of 10.4 g with 2 ct set in it, 5 ct to come: 10 g of metal, 15 g as cast, 13.5 + 0.4 + 1 = 14.9 g."""
    asked = {
        "trial": {"metal": metal(STERLING, "10"), "mass": "10.4 g"},
        "stones": [{"mass": "2 ct"}],
        "stones_to_set": [{"mass": "1 ct", "count": 5}],
        "final_metal": metal(YELLOW, "15"),
        "allowances": {"finishing_loss": "0.1"},
    }
    result = ask(ORDER, asked).result
    assert (result.piece_mass.value, result.lines[0].gross_mass) == (15, Decimal("14.9"))


def test_contraction_of_both_metals_goes_by_its_cube(ask: Ask) -> None:
    """10 g at 1 % against 2 % of length: x (0.98/0.99)^3, and no doubt left when all is given."""
    asked = {
        "trial": {"metal": metal(STERLING, "10"), "mass": "10 g", "contraction": "0.01"},
        "final_metal": metal(YELLOW, "15"),
        "final_contraction": "0.02",
    }
    piece = ask(ORDER, asked).result.piece_mass
    assert piece.value == round(15 * Fraction(98, 99) ** 3, 4)
    assert piece.low == piece.high == piece.value
