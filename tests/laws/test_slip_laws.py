"""Laws of the casting slip: told by composition and melting range alone, and never hotter than what is known."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.composition import Composition
from alloyref.domain.metal import Alloy, Metal
from alloyref.domain.order import ORDER
from alloyref.domain.order.heat import LEAST_WINDOW, PLATINUM_METALS
from alloyref.domain.order.results import CastingSlip
from alloyref.domain.provenance import Property, Status
from alloyref.domain.reference import Reference
from alloyref.web.schemas.load import Loaders

LAW = settings(max_examples=150, derandomize=True, deadline=None)
METHODS = ("vacuum", "centrifugal")
GYPSUM = 1000
SUPERHEAT = {"vacuum": (56, 111), "centrifugal": (28, 69)}
OF_THE_ID = {"solidus", "liquidus", "pouring_window", "investment", "flask_temperature", "bench_notes"}
OF_THE_ID |= {"not_available", "metal"}
SlipOf = Callable[..., CastingSlip]


@pytest.fixture(scope="module")
def slip(reference: Reference) -> SlipOf:
    """The slip of an order for a metal, as an object of the domain."""
    trial = {"metal": "sterling-silver", "mass": "10 g"}
    asked = Loaders(reference).load(ORDER.inputs, {"trial": trial, "final_metal": "Au"})

    def order(metal: Metal, method: str = "vacuum") -> CastingSlip:
        casting = replace(asked.casting, method=method)
        result = ORDER.run(replace(asked, final_metal=metal, casting=casting), reference).result
        found: CastingSlip = result.casting_slip
        return found

    return order


@pytest.fixture(scope="module")
def typed(reference: Reference) -> Callable[[Metal], Metal]:
    """The same metal, typed as its composition from the last element to the first, with its density."""
    loaders = Loaders(reference)

    def type_(metal: Metal) -> Metal:
        shares = {symbol: str(share) for symbol, share in reversed(metal.composition.parts)}
        spec = {"composition": shares, "density": f"{metal.density.value} g/cm3"}
        trial = {"metal": "sterling-silver", "mass": "10 g"}
        found: Metal = loaders.load(ORDER.inputs, {"trial": trial, "final_metal": spec}).final_metal
        return found

    return type_


@pytest.fixture(scope="module")
def alloys(reference: Reference) -> list[Alloy]:
    """The whole catalogue."""
    return list(reference.alloys.values())


def told(slip: CastingSlip, without: set[str]) -> dict[str, Any]:
    """What a slip tells, by field."""
    return {one.name: getattr(slip, one.name) for one in fields(slip) if one.name not in without}


@pytest.mark.parametrize("method", METHODS)
def test_a_composition_is_told_what_its_id_is_told(
    alloys: list[Alloy], slip: SlipOf, typed: Callable[[Metal], Metal], method: str
) -> None:
    """With the same melting range nothing differs but the name, and the note of that id."""
    for alloy in alloys:
        by_hand = typed(alloy.metal)
        by_id = replace(alloy.metal, solidus=by_hand.solidus, liquidus=by_hand.liquidus, note="")
        assert told(slip(by_id, method), {"metal"}) == told(slip(by_hand, method), {"metal"}), alloy.id


@pytest.mark.parametrize("method", METHODS)
def test_without_the_published_figures_a_composition_is_told_no_more(
    alloys: list[Alloy], slip: SlipOf, typed: Callable[[Metal], Metal], method: str
) -> None:
    """What is known of the id alone never makes the slip of the composition the less careful one."""
    for alloy in alloys:
        by_id, by_hand = slip(alloy.metal, method), slip(typed(alloy.metal), method)
        assert told(by_id, OF_THE_ID) == told(by_hand, OF_THE_ID), alloy.id
        if by_hand.liquidus is None and by_id.liquidus is not None:
            assert by_hand.pouring_window is None
            assert by_hand.flask_temperature in (None, by_id.flask_temperature), alloy.id
            assert by_hand.investment.startswith(("phosphate-bonded", "not known")), alloy.id
            if alloy.base in ("Au", "Ag") and by_id.investment.startswith("phosphate"):
                assert by_hand.investment.startswith("phosphate"), alloy.id
            assert hot_quench(by_id) >= hot_quench(by_hand), alloy.id


def hot_quench(slip: CastingSlip) -> bool:
    """Whether the slip has the flask quenched hot."""
    return any("quench once" in note.lower() for note in slip.bench_notes)


def test_a_superheat_of_gold_and_silver_is_taken_for_no_other_metal(alloys: list[Alloy], slip: SlipOf) -> None:
    windows = 0
    for alloy in alloys:
        found = slip(alloy.metal)
        platinum = sum(alloy.metal.composition.fineness(symbol) for symbol in PLATINUM_METALS)
        if found.pouring_window is not None:
            windows += 1
            assert alloy.base in ("Au", "Ag"), alloy.id
            assert platinum <= 1, alloy.id
        elif found.liquidus is not None:
            assert any(blank.startswith("pouring window: ") for blank in found.not_available), alloy.id
    assert windows > 30


def gold(liquidus: tuple[Decimal, Decimal, Decimal], **others: Any) -> Metal:
    """An 18 karat yellow with a liquidus of this value, low and high."""
    end = Property(liquidus[0], "C", liquidus[1], liquidus[2], Status.HANDBOOK, "test")
    density = Property(Decimal(15), "g/cm3", Decimal(15), Decimal(15), Status.HANDBOOK, "test")
    shares = (("Au", Decimal(750)), ("Ag", Decimal(125)), ("Cu", Decimal(125)))
    return Metal("", "test", Composition(shares), density, end, end, **others)


tenths = st.integers(0, 600).map(lambda number: Decimal(number).scaleb(-1))
parts = st.integers(0, 1000).map(lambda number: Decimal(number).scaleb(-3))
ends = st.builds(
    lambda value, below, above: (Decimal(value), value - below, value + above), st.integers(700, 1300), tenths, tenths
)


@LAW
@given(liquidus=ends, method=st.sampled_from(METHODS), at=parts, true=parts)
def test_wherever_the_liquidus_lies_the_window_has_the_stated_superheat(
    slip: SlipOf, liquidus: tuple[Decimal, Decimal, Decimal], method: str, at: Decimal, true: Decimal
) -> None:
    _, low, high = liquidus
    found = slip(gold(liquidus), method)
    least, most = SUPERHEAT[method]
    window = found.pouring_window
    if window is None:
        assert low + most - (high + least) < LEAST_WINDOW
        assert any("too uncertain" in blank and "supplier's liquidus" in blank for blank in found.not_available)
        return
    poured, molten = window.low + at * (window.high - window.low), low + true * (high - low)
    assert least <= poured - molten <= most
    assert window.value == (window.low + window.high) / 2
    # Nothing wider would hold, but that gypsum ends a window.
    assert window.low - least == high
    assert window.high - most == low or (window.high == GYPSUM and found.investment.startswith("gypsum"))
    assert window.high - window.low >= LEAST_WINDOW


RAISING = ("Pd", "Pt", "Ni", "Rh", "Co", "Fe")
raised = st.tuples(
    st.lists(st.sampled_from(RAISING), min_size=1, max_size=3, unique=True), st.integers(2, 60), st.integers(333, 900)
)


@LAW
@given(made=raised, method=st.sampled_from(METHODS))
def test_gold_that_may_melt_high_gets_nothing_that_hurts(
    slip: SlipOf, typed: Callable[[Metal], Metal], made: tuple[list[str], int, int], method: str
) -> None:
    """Without a liquidus: no gypsum, no flask figure, no hot quench, no window."""
    symbols, share, base = made
    others = tuple((symbol, Decimal(share) / len(symbols)) for symbol in symbols)
    rest = 1000 - Decimal(base) - sum(part for _, part in others)
    shares = (("Au", Decimal(base)), ("Ag", rest / 2), ("Cu", rest / 2), *others)
    whole = Composition.from_permille(dict(shares), {"Ag", "Au", "Cu", *RAISING})
    found = slip(typed(replace(gold((Decimal(900),) * 3), composition=whole)), method)
    assert found.liquidus is found.pouring_window is found.flask_temperature is None
    assert found.investment.startswith("phosphate-bonded")
    assert not hot_quench(found)
    assert any(blank.startswith("flask temperature: ") for blank in found.not_available)


@pytest.mark.parametrize("held", [(), ("Zn",), ("Pd",), ("Ni", "Pd")])
@pytest.mark.parametrize("method", METHODS)
def test_a_name_that_several_alloys_bear_gets_no_window(slip: SlipOf, held: tuple[str, ...], method: str) -> None:
    metal = gold((Decimal(950), Decimal(830), Decimal(1250)), members=("one", "other"), may_hold=held)
    found = slip(metal, method)
    assert found.pouring_window is None
    assert any("several alloys bear this name" in blank for blank in found.not_available) == ("Pd" not in held)
    assert found.investment.startswith("phosphate-bonded")
    assert found.flask_temperature is None
