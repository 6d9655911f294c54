"""Laws of a recovery: books that close, more metal and better prices pay more, the break-even is where it flips."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, Outcome
from alloyref.domain.recovery import RECOVERY
from alloyref.domain.recovery.results import RecoveryResult

Ask = Callable[[Calculation, dict[str, Any]], Outcome]
Plain = dict[str, Any]
LAW = settings(max_examples=60, derandomize=True, deadline=None)
METALS = ["Au", "Ag", "Pt", "Pd"]
CENTS = Decimal("0.05")
"""Five lines, each rounded to the cent, may together hide this much."""


def decimals(least: int, most: int, places: int) -> st.SearchStrategy[str]:
    return st.integers(least, most).map(lambda whole: f"{whole / 10**places:.{places}f}")


catalogue = st.sampled_from(["gold-585-yellow", "gold-750-white-pd10", "sterling-silver", "platinum-950-ru", "Au"])
kinds = st.sampled_from(["clean-scrap", "sprue-and-button", "spare-castings", "trial-casting", "lemel"])
assays = st.fixed_dictionaries({"Au": decimals(3000, 9000, 1)}, optional={"Ag": decimals(0, 900, 1)})
masses = decimals(1000, 500_000, 3).map(lambda number: f"{number} g")


@st.composite
def lots(draw: st.DrawFn) -> Plain:
    """A lot of any make, assayed or not."""
    lot: Plain = {"mass": draw(masses), "kind": draw(kinds), "soldered": draw(st.booleans())}
    known = draw(st.sampled_from(["metal", "assay", "stamp", "both", "exchange"]))
    if known in ("metal", "both"):
        lot["metal"] = draw(catalogue)
    if known == "stamp":
        lot["stamp"] = draw(st.sampled_from(["14K", "18K", "925 silver", "Pt950"]))
    if known in ("assay", "both", "exchange"):
        lot["assay"] = draw(assays)
        lot["uncertainty"] = draw(decimals(0, 50, 1))
    if known == "exchange":
        lot["their_assay"] = draw(assays)
        if draw(st.booleans()):
            lot["umpire_assay"] = draw(assays)
    if draw(st.booleans()):
        lot["recovery"] = draw(decimals(800, 1000, 3))
    if draw(st.booleans()):
        lot["stones"] = [{"mass": "0.1 ct", "count": draw(st.integers(1, 20))}]
    return lot


terms_of_metals = st.lists(st.sampled_from(METALS), min_size=1, unique=True).flatmap(
    lambda metals: st.tuples(
        *(
            st.fixed_dictionaries(
                {"metal": st.just(metal), "paid": decimals(700, 1000, 3)},
                optional={"refining_charge": decimals(0, 3000, 2), "split_limit": decimals(0, 50, 1)},
            )
            for metal in metals
        )
    ).map(list)
)
offers = st.fixed_dictionaries(
    {"pays": terms_of_metals},
    optional={
        "silver_in_karat_scrap": st.booleans(),
        "lot_charge": decimals(0, 10_000, 2),
        "treatment_charge": decimals(0, 50_000, 2),
        "minimum_charge": decimals(0, 15_000, 2),
        "fee": decimals(0, 80, 3),
        "refining_loss": decimals(0, 30, 3),
        "minimum_lot": decimals(1000, 100_000, 3).map(lambda number: f"{number} g"),
        "lots": st.sampled_from(["each", "together"]),
        "sending_cost": decimals(0, 6000, 2),
        "rounding": st.sampled_from(["down", "none"]),
        "umpire_rule": st.sampled_from(["middle", "nearest-two"]),
    },
)
PRICES = [
    {"metal": metal, "price": price, "per": "g", "currency": "EUR"}
    for metal, price in (("Au", "104.50"), ("Ag", "1.31"), ("Pt", "41.2"), ("Pd", "36.9"))
]


def asked(ask: Ask, lots: list[Plain], offers: list[Plain], prices: list[Plain] = PRICES) -> RecoveryResult:
    named = [{"name": f"offer {place}", **offer} for place, offer in enumerate(offers)]
    result: RecoveryResult = ask(RECOVERY, {"lots": lots, "terms": named, "prices": prices}).result
    return result


@LAW
@given(lots=st.lists(lots(), min_size=1, max_size=3), offer=offers)
def test_every_book_closes_exactly_and_no_more_is_payable_than_contained(
    ask: Ask, lots: list[Plain], offer: Plain
) -> None:
    result = asked(ask, lots, [offer])
    (settlement,) = result.settlements
    for lot in settlement.lots:
        for metal in lot.metals:
            for one in (metal.low, metal.high):
                parts = (one.not_recovered, one.not_paid_for, one.refining_loss, one.kept, one.rounding, one.payable)
                assert sum(parts) == one.contained
                assert min(parts) >= 0
                assert one.payable <= one.contained
            assert metal.low.payable <= metal.high.payable
            assert metal.fine_ounces_low <= metal.fine_ounces_high


@LAW
@given(lots=st.lists(lots(), min_size=1, max_size=3), offer=offers)
def test_the_money_adds_up_to_the_cent(ask: Ask, lots: list[Plain], offer: Plain) -> None:
    """Where low and high are one, each line is a number and the lines sum to the settlement."""
    sure = [
        {"mass": lot["mass"], "kind": lot["kind"], "assay": {"Au": "583.1", "Ag": "61"}, "recovery": "0.97"}
        for lot in lots
    ]
    (settlement,) = asked(ask, sure, [offer]).settlements
    total = Decimal(0)
    for lot in (one for one in settlement.lots if one.taken):
        lines = [lot.fee, lot.lot_charge, lot.treatment_charge, lot.refining_charge, lot.to_minimum]
        assert lot.worth is not None
        assert lot.net is not None
        assert lot.worth.value == sum(one.worth.value or Decimal(0) for one in lot.metals if one.worth is not None)
        net = lot.worth.low - sum((line.low for line in lines if line is not None), Decimal(0))
        assert lot.net.value == net
        total += net
    assert settlement.sending_cost is not None
    assert settlement.settlement is not None
    assert settlement.settlement.value == total - settlement.sending_cost.low


@LAW
@given(
    milligrams=st.integers(1, 500_000),
    fineness=st.integers(1, 1000),
    cents=st.integers(1, 500_000),
    unit=st.booleans(),
)
def test_fine_metal_is_paid_for_to_the_last_cent(
    ask: Ask, milligrams: int, fineness: int, cents: int, unit: bool
) -> None:
    """Where no term says otherwise: mass x fineness x price, rounded once, to the cent."""
    lot = {"mass": f"{milligrams / 1000:.3f} g", "assay": {"Au": fineness}, "recovery": 1}
    price = {"metal": "Au", "price": f"{cents / 100:.2f}", "per": "ozt" if unit else "g", "currency": "EUR"}
    (settlement,) = asked(ask, [lot], [{"pays": [{"metal": "Au", "paid": 1}]}], [price]).settlements
    worth = Fraction(milligrams * fineness * cents, 10**8) / (Fraction("31.1034768") if unit else 1)
    assert settlement.settlement is not None
    assert settlement.settlement.value is not None
    # Masses are kept to 10 decimals of a gram, so only an amount that is half a cent to the last digit may differ.
    assert abs(Fraction(settlement.settlement.value) - worth) <= Fraction(1, 200) + Fraction(1, 10**6)


@LAW
@given(lots=st.lists(lots(), min_size=1, max_size=2), offers=st.lists(offers, min_size=1, max_size=3))
def test_a_settlement_that_leaves_something_out_is_at_least_what_it_says(
    ask: Ask, lots: list[Plain], offers: list[Plain]
) -> None:
    """With the missing prices given it is no less, and the offer named as the best still is."""
    partly, whole = asked(ask, lots, offers, PRICES[:1]), asked(ask, lots, offers)
    for before, after in zip(partly.settlements, whole.settlements, strict=True):
        assert before.settlement is not None
        assert after.settlement is not None
        assert not after.settlement.at_least
        if before.settlement.at_least:
            # Lines of money are rounded one by one.
            assert before.settlement.low <= after.settlement.low + CENTS
            assert before.settlement.high <= after.settlement.high + CENTS
        else:
            assert before.settlement == after.settlement
    if partly.comparison is not None and partly.comparison.best and partly.comparison.lead.low > CENTS:
        assert whole.comparison is not None
        assert whole.comparison.best == partly.comparison.best


@LAW
@given(lots=st.lists(lots(), min_size=1, max_size=3))
def test_the_contents_of_all_are_the_sum_of_each(ask: Ask, lots: list[Plain]) -> None:
    result = asked(ask, lots, [])
    for metal, contained in result.contents.items():
        recovered = result.recovered[metal]
        held = [one for lot in result.lots for one in lot.contents if one.metal == metal]
        for end in ("low", "high"):
            assert getattr(contained, end) == sum(getattr(one.contained, end) for one in held)
            assert getattr(recovered, end) == sum(getattr(one.recovered, end) for one in held)
            assert getattr(recovered, end) <= getattr(contained, end)


@LAW
@given(lots=st.lists(lots(), min_size=1, max_size=3))
def test_only_what_was_assayed_is_a_number(ask: Ask, lots: list[Plain]) -> None:
    for lot in asked(ask, lots, []).lots:
        for one in lot.contents:
            if not one.assayed and one.metal in ("Au", "Ag"):
                assert one.contained.value is None
                assert one.contained.low < one.contained.high


@LAW
@given(lot=lots(), offer=offers, more=st.integers(1, 50))
def test_a_better_price_never_pays_less(ask: Ask, lot: Plain, offer: Plain, more: int) -> None:
    better = [{**price, "price": str(Decimal(price["price"]) + more)} for price in PRICES]
    before, after = (asked(ask, [lot], [offer], prices).settlements[0].settlement for prices in (PRICES, better))
    assert before is not None
    assert after is not None
    assert before.low <= after.low
    assert before.high <= after.high


@LAW
@given(lot=lots(), offer=offers, grams=st.integers(1, 500))
def test_more_of_the_same_never_pays_less(ask: Ask, lot: Plain, offer: Plain, grams: int) -> None:
    """As long as a gram of it is worth more than the charges that go by mass: here they are left out."""
    free = {name: value for name, value in offer.items() if name not in ("treatment_charge", "minimum_lot")}
    free["pays"] = [{"metal": one["metal"], "paid": one["paid"]} for one in offer["pays"]]
    heavier = {**lot, "mass": f"{Decimal(lot['mass'].split()[0]) + grams} g"}
    before, after = (asked(ask, [one], [free]).settlements[0].settlement for one in (lot, heavier))
    assert before is not None
    assert after is not None
    assert before.low <= after.low
    assert before.high <= after.high


@LAW
@given(lots=st.lists(lots(), min_size=1, max_size=2), offers=st.lists(offers, min_size=2, max_size=4))
def test_a_comparison_is_what_separate_calls_say(ask: Ask, lots: list[Plain], offers: list[Plain]) -> None:
    together = asked(ask, lots, offers)
    alone = [asked(ask, lots, [offer]).settlements[0] for offer in offers]
    assert [one.settlement for one in together.settlements] == [one.settlement for one in alone]
    taking = [place for place, one in enumerate(alone) if any(lot.taken for lot in one.lots)]
    if not taking:
        assert together.comparison is None
        return
    assert together.comparison is not None
    place = int(together.comparison.best_low.split()[1])
    assert place in taking
    lows = [alone[other].settlement.low for other in taking]  # type: ignore[union-attr]
    highs = [alone[other].settlement.high for other in taking]  # type: ignore[union-attr]
    best = alone[place].settlement
    assert best is not None
    assert best.low == max(lows) or best.high == max(highs)
    chosen = next(one for one in together.settlements if one.offer == together.comparison.best_low)
    assert together.offer == chosen.offer
    assert (together.settlement, together.break_even) == (chosen.settlement, chosen.break_even)
    for metal, payable in together.payable.items():
        paid = [one.payable for lot in chosen.lots for one in lot.metals if one.metal == metal]
        assert (payable.low, payable.high) == (sum(one.low for one in paid), sum(one.high for one in paid))


sure_lots = st.fixed_dictionaries(
    {"mass": masses, "assay": assays, "recovery": decimals(900, 1000, 3), "kind": kinds},
)


def scaled(lot: Plain, mass: Decimal) -> Plain:
    return {**lot, "mass": f"{mass:.9f} g"}


@LAW
@given(lot=sure_lots, offer=offers)
def test_at_the_break_even_the_decision_flips(ask: Ask, lot: Plain, offer: Plain) -> None:
    found = asked(ask, [lot], [offer]).settlements[0].break_even
    assert found is not None
    for edge, below, above in ((found.from_mass, "hold", "send"), (found.until_mass, "send", "hold")):
        if edge is None or not edge.low:
            continue
        assert edge.value is not None
        assume(Decimal("0.01") < edge.value < 900_000)
        decisions = [
            asked(ask, [scaled(lot, edge.value * factor)], [offer]).settlements[0].break_even
            for factor in (Decimal("0.99999"), Decimal("1.00001"))
        ]
        assert [one.decision for one in decisions if one is not None] == [below, above]


@LAW
@given(lot=sure_lots, offers=st.lists(offers, min_size=2, max_size=3))
def test_at_a_flip_another_offer_pays_the_most(ask: Ask, lot: Plain, offers: list[Plain]) -> None:
    """Checked without rounding, which near a flip is more than the offers differ by."""
    exact = [{**offer, "rounding": "none"} for offer in offers]
    comparison = asked(ask, [lot], exact).comparison
    assume(comparison is not None)
    assert comparison is not None
    for flip in comparison.flips:
        assert flip.scenario == "both"
        assume(Decimal("0.01") < flip.mass < 900_000)
        for factor, name in ((Decimal("0.999"), flip.below), (Decimal("1.001"), flip.above)):
            result = asked(ask, [scaled(lot, flip.mass * factor)], exact)
            if not name:
                assert result.comparison is None
                continue
            totals = {
                one.offer: one.settlement.low
                for one in result.settlements
                if one.settlement is not None and any(part.taken for part in one.lots)
            }
            assert totals[name] >= max(totals.values()) - CENTS


def test_a_trace_that_may_not_be_there_is_told_as_a_range_from_nothing(ask: Ask) -> None:
    """3 permille of palladium, not assayed, may be none: it stays in the settlement, and the lines still add up."""
    trace = {"composition": {"Au": 750, "Pd": 3, "Cu": 247}}
    offer = {"pays": [{"metal": "Au", "paid": 1}, {"metal": "Pd", "paid": 1}], "rounding": "none"}
    (settlement,) = asked(ask, [{"mass": "100 g", "metal": trace}], [offer]).settlements
    (lot,) = settlement.lots
    gold, palladium = lot.metals
    assert (palladium.payable.low, palladium.payable.high > 0) == (0, True)
    assert lot.worth is not None
    assert gold.worth is not None
    assert palladium.worth is not None
    assert lot.worth.high == gold.worth.high + palladium.worth.high
    assert lot.worth.low == gold.worth.low + palladium.worth.low
