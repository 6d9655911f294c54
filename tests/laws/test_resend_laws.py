"""The law of sending back: the inputs that an answer shows, sent as they are, have the same answer."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alloyref.domain.errors import InvalidInput, NotAvailable
from alloyref.services.calculations import CALCULATIONS
from alloyref.web.schemas.document import parse
from tests.laws.conftest import Answered, Plain
from tests.laws.test_charge_laws import compositions, questions
from tests.laws.test_recovery_laws import PRICES, lots, offers
from tests.laws.test_ring_laws import bands, sizes
from tests.laws.test_stock_laws import stock

LAW = settings(max_examples=60, derandomize=True, deadline=None)


def figures(least: int, most: int, *units: str) -> st.SearchStrategy[str]:
    """A figure in thousandths, with one of the units."""
    numbers = st.integers(least, most).map(lambda whole: f"{whole / 1000:.3f}")
    return st.builds("{} {}".format, numbers, st.sampled_from(units))


# Units whose factor does not end in decimals are among them: what answers write then has fifty digits.
masses = figures(1, 900_000, "g", "dwt", "ozt", "[gr]", "tola", "tael_hk", "oz_av")
densities = figures(8000, 19_000, "g/cm3") | figures(290, 680, "lb/in3")
described = st.fixed_dictionaries(
    {"composition": compositions()},
    optional={
        "density": densities,
        "solidus": figures(500_000, 700_000, "C", "K") | figures(1_100_000, 1_200_000, "degF"),
        "liquidus": figures(1_000_000, 1_100_000, "C") | figures(2_000_000, 2_100_000, "degF"),
        "name": st.sampled_from(["old rings", "Ag", "14,5"]),
    },
)
metals = st.sampled_from(["sterling-silver", "14k yellow", "Pt", "fine gold", "Au 585.3, Ag 414.7"]) | described
shares = st.integers(0, 30).map(lambda part: f"{part / 10} percent")
scales = st.sampled_from(["14 karat", "585 permille", "58.5 percent", "0.585 fraction", "7 karat", "22.01 karat"])
MADE: dict[str, st.SearchStrategy[Plain]] = {
    "mass": st.fixed_dictionaries(
        {
            "value": st.integers(1, 10**9),
            "from": st.sampled_from(["dwt", "tola"]),
            "to": st.sampled_from(["g", "ozt"]),
        },
        optional={"decimals": st.integers(0, 9), "rounding": st.sampled_from(["down", "up"])},
    ),
    "purity": st.fixed_dictionaries(
        {"value": st.integers(1, 24), "from": st.just("karat"), "to": st.sampled_from(["permille", "percent"])},
        optional={"metal": st.sampled_from(["gold", "silver"]), "decimals": st.integers(0, 9)},
    ),
    "transfer": st.fixed_dictionaries(
        {"mass": masses, "from_metal": metals, "to_metal": metals},
        optional={
            "to_unit": st.sampled_from(["dwt", "ozt"]),
            "readability": figures(1, 100, "g", "grain"),
            "contraction_from": shares,
        },
    ),
    "contents": st.fixed_dictionaries({"mass": masses, "metal": metals}),
    "estimate": st.fixed_dictionaries(
        {"composition": compositions()}, optional={"property": st.sampled_from(["density", "solidus", "karat"])}
    ),
    "stock": st.builds(lambda asked, mass: {**asked, "mass": mass}, stock(), masses),
    "ring": st.builds(lambda size, band: {"action": "band-mass", **size, **band}, sizes(), bands()),
    "charge": questions(),
    "recovery": st.fixed_dictionaries(
        {"lots": st.lists(lots(), min_size=1, max_size=3), "prices": st.just(PRICES)},
        optional={"terms": st.lists(offers, min_size=1, max_size=1), "holding": st.sampled_from([0.8, "90 percent"])},
    ),
    "density-test": st.fixed_dictionaries(
        {
            "weighings": st.lists(
                st.fixed_dictionaries(
                    {"in_air": figures(10_000, 10_010, "g", "dwt"), "in_liquid": figures(9300, 9500, "g")}
                ),
                min_size=1,
                max_size=1,
            )
        },
        optional={
            "temperature": figures(50_000, 90_000, "degF") | figures(1000, 30_000, "C"),
            "readability": st.sampled_from(["0.001 g", "0.01 g"]),
            "suspension": figures(0, 100, "g"),
        },
    ),
    "alter-fineness": st.fixed_dictionaries(
        {"mass": masses, "fineness": scales, "target": scales},
        optional={"step": st.sampled_from(["0.01 g", "0.1 dwt"]), "with_metal": metals, "base": st.just("Au")},
    ),
    "mark-check": st.fixed_dictionaries(
        {
            "of": st.just("gold"),
            "mark": st.sampled_from(["585", "14K", 750]),
            "assay": scales | st.integers(370, 999),
        },
        optional={
            "metal": st.sampled_from(["gold-585-yellow", "Au 585, Ag 415"]),
            "uncertainty": st.sampled_from(["0.5", "0.01 karat"]),
            "jurisdiction": st.sampled_from(["UK", "US"]),
            "soldered": st.booleans(),
            "part_assay": scales,
            "mass": masses,
        },
    ),
}


def hold(answered: Answered, name: str, made: st.SearchStrategy[Plain]) -> None:
    """Sent back with exact numbers, and with the floats that most programs make of them: the same answer."""
    counted = {True: 0, False: 0}

    @LAW
    @given(made)
    def law(asked: Plain) -> None:
        try:
            first = answered(name, asked)
        except (InvalidInput, NotAvailable):
            counted[False] += 1  # There is nothing to send back.
            return
        counted[True] += 1
        whole = parse(first)
        assert parse(answered(name, whole["inputs"])) == whole
        again = json.loads(answered(name, json.loads(first)["inputs"]))
        assert again["result"] == json.loads(first)["result"]

    law()
    assert counted[True] > counted[False]


def test_every_calculation_is_held_to_it() -> None:
    assert {*MADE, "order"} == set(CALCULATIONS)


@pytest.mark.parametrize("name", CALCULATIONS)
def test_its_example(name: str, answered: Answered) -> None:
    whole = parse(answered(name, CALCULATIONS[name].example))
    assert parse(answered(name, whole["inputs"])) == whole


@pytest.mark.parametrize("name", MADE)
def test_whatever_was_asked(name: str, answered: Answered) -> None:
    hold(answered, name, MADE[name])


def test_whatever_was_ordered(orders: st.SearchStrategy[Plain], answered: Answered) -> None:
    hold(answered, "order", orders)
