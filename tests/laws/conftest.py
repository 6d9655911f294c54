"""Plain orders for the laws: every way in, and every option an order can be asked with."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import orjson
import pytest
from hypothesis import strategies as st

from alloyref.domain.reference import Reference
from alloyref.domain.units import Units
from alloyref.services.calculations import CALCULATIONS, answer
from alloyref.web.schemas.answer import answer_json
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.write import Writers

Plain = dict[str, Any]
Answered = Callable[[str, Plain], bytes]

CATALOGUE = ["sterling-silver", "gold-585-yellow", "gold-750-yellow", "gold-750-white-pd10", "silver-800"]
CATALOGUE += ["platinum-950-ru", "palladium-950-ru", "gold-585-yellow-zn", "brass-c26000", "fine-gold", "Ag"]
COMPOSITIONS: list[Plain] = [
    {"Au": 750, "Ag": 125, "Cu": 125},
    {"Au": "583.333", "Ag": "104.167", "Cu": "312.5"},
    {"Au": 375, "Ag": 100, "Cu": 450, "Zn": 75},
    {"Ag": 925, "Cu": 75},
    {"Pt": 950, "Co": 50},
    {"Au": 1000},
]
INCREMENTS = ["0.01 g", "0.5 g", "1 g", "0.1 dwt", "1 dwt", "0.05 ozt", "10 grain", "0.1 tola", "0.0001 g"]


def decimals(least: int, most: int, places: int) -> st.SearchStrategy[str]:
    """Decimal text from least to most, both in units of the last place."""
    return st.integers(least, most).map(lambda whole: f"{whole / 10**places:.{places}f}")


def masses(least: int = 10_000, most: int = 5_000_000) -> st.SearchStrategy[str]:
    """A mass as text with its unit; bounds in ten-thousandths of it."""
    numbers = decimals(least, most, 4)
    return st.builds(lambda number, unit: f"{number} {unit}", numbers, st.sampled_from(["g", "dwt"]))


densities = decimals(200, 2300, 2).map(lambda number: f"{number} g/cm3")
contractions = decimals(0, 300, 4)
given_metals = st.builds(
    lambda composition, density: {"composition": composition, "density": density},
    st.sampled_from(COMPOSITIONS),
    densities,
)
metals = st.one_of(
    st.sampled_from(CATALOGUE),
    given_metals,
    st.sampled_from(COMPOSITIONS).map(lambda composition: {"composition": composition}),
)

# Stones stay small beside the least piece, so that every drawn order has metal left.
stones = st.lists(
    st.fixed_dictionaries(
        {
            "mass": decimals(1, 50, 3).map(lambda number: f"{number} ct"),
            "kind": st.sampled_from(["diamond", "opal"]),
        },
        optional={"count": st.integers(1, 3)},
    ),
    max_size=2,
)


@st.composite
def trials(draw: st.DrawFn) -> Plain:
    """A trial weighed at any stage."""
    weighed = draw(st.integers(1, 4))
    tenths = draw(st.integers(10_000 * weighed, 2_000_000))
    trial: Plain = {"metal": draw(metals), "mass": f"{tenths / 10_000:.4f} g", "pieces_weighed": weighed}
    trial["stage"] = draw(st.sampled_from(["as-cast", "with-sprue", "finished"]))
    part = f"{tenths * draw(st.integers(50, 100)) // 100 / 10_000:.4f} g"
    if trial["stage"] == "as-cast" and draw(st.booleans()):
        trial["finished_mass"] = part
    if trial["stage"] == "with-sprue" and draw(st.booleans()):
        trial["sprue_mass"] = f"{tenths * draw(st.integers(1, 60)) // 100 / 10_000:.4f} g"
    if draw(st.booleans()):
        trial["readability"] = draw(st.sampled_from(["0.01 g", "0.1 g", "1 grain"]))
    if draw(st.booleans()):
        trial["contraction"] = draw(contractions)
    return trial


@st.composite
def patterns(draw: st.DrawFn) -> Plain:
    """A wax or resin, its density measured, named, or left to the default."""
    pattern: Plain = {"mass": f"{draw(decimals(4000, 100_000, 4))} g"}
    known = draw(st.sampled_from(["measured", "named", "default"]))
    if known == "measured":
        pattern["density"] = f"{draw(decimals(80, 130, 2))} g/cm3"
    if known == "named":
        pattern["material"] = draw(st.sampled_from(["injection-wax", "carving-wax", "castable-resin"]))
    return pattern


@st.composite
def ways_in(draw: st.DrawFn) -> Plain:
    """One of the three ways to say how large a piece is, trials most of all; now and then another as a check."""
    second = draw(st.sampled_from([{}, {}, {}, None]))
    return {**draw(one_way_in()), **(draw(one_way_in()) if second is None else second)}


@st.composite
def one_way_in(draw: st.DrawFn) -> Plain:
    """A trial, a pattern or a volume."""
    way = draw(st.sampled_from(["trial", "trial", "pattern", "volume"]))
    if way == "trial":
        return {"trial": draw(trials())}
    if way == "pattern":
        return {"pattern": draw(patterns())}
    cubic = draw(st.sampled_from(["cm3", "mm3"]))
    thousandths = draw(st.integers(150, 20_000))
    return {"volume": f"{thousandths / 1000:.3f} cm3" if cubic == "cm3" else f"{thousandths} mm3"}


@st.composite
def others(draw: st.DrawFn) -> Plain:
    """Another piece for the same flask."""
    piece: Plain = {**draw(ways_in()), "pieces": draw(st.integers(1, 5)), "stones": draw(stones)}
    if draw(st.booleans()):
        piece["finishing_loss"] = draw(decimals(0, 300, 3))
    return piece


sprues = st.one_of(
    st.just({}),
    decimals(0, 2000, 3).map(lambda share: {"sprue_share": share}),
    decimals(0, 9000, 4).map(lambda mass: {"sprue_mass": f"{mass} g"}),
)
losses = st.fixed_dictionaries(
    {},
    optional={
        "melt_loss": decimals(0, 100, 4),
        "finishing_loss": decimals(0, 300, 3),
        "safety": decimals(0, 500, 3),
    },
)
spares = st.one_of(
    st.integers(0, 4),
    st.fixed_dictionaries(
        {"success_rate": decimals(60, 100, 2)},
        optional={"confidence": st.sampled_from(["0.9", "0.95", "0.99"])},
    ),
)
purchases = st.fixed_dictionaries(
    {"form": st.sampled_from(["fine-and-master", "alloyed"]), "increment": st.sampled_from(INCREMENTS)},
    optional={"max_scrap_share": st.sampled_from(["0", "0.3", "0.5", "0.77", "1"])},
)
ELEMENTS = ["Au", "Ag", "Cu", "Pt", "Pd", "Zn"]
prices = st.lists(st.sampled_from(ELEMENTS), unique=True, max_size=6).flatmap(
    lambda symbols: st.tuples(
        *(
            st.fixed_dictionaries(
                {
                    "metal": st.just(symbol),
                    "price": decimals(0, 400_000, 2),
                    "per": st.sampled_from(["g", "ozt", "kg"]),
                    "currency": st.just("EUR"),
                }
            )
            for symbol in symbols
        )
    ).map(list)
)


@st.composite
def lots(draw: st.DrawFn, final: Any) -> Plain:
    """A lot on hand: often of the very metal ordered."""
    metal = final if draw(st.booleans()) else draw(metals)
    return {
        "metal": metal,
        "mass": draw(masses(1000, 1_500_000)),
        "kind": draw(st.sampled_from(["scrap", "fresh"])),
    }


@st.composite
def plain_orders(draw: st.DrawFn) -> Plain:
    """An order as a caller would send it, in every shape that has an answer."""
    final = draw(metals)
    asked: Plain = {
        **draw(ways_in()),
        "final_metal": final,
        "pieces": draw(st.integers(1, 6)),
        "stones": draw(stones),
        "others": draw(st.lists(others(), max_size=2)),
        "allowances": {**draw(sprues), **draw(losses)},
        "on_hand": [draw(lots(final)) for _ in range(draw(st.sampled_from([0, 1, 2, 3])))],
        "purchase": draw(purchases),
        "prices": draw(prices),
    }
    # A sprue weighed for the whole flask must not outweigh a trial that was weighed with it.
    weighed_with_it = [one for one in (asked, *asked["others"]) if one.get("trial", {}).get("stage") == "with-sprue"]
    if weighed_with_it and "sprue_mass" in asked["allowances"]:
        asked["allowances"]["sprue_mass"] = "0.3 g"
    if draw(st.booleans()):
        asked["allowances"]["button_mass"] = f"{draw(decimals(0, 200_000, 4))} g"
    if draw(st.booleans()):
        asked["stones_to_set"] = draw(stones)
    if draw(st.booleans()):
        asked["spares"] = draw(spares)
    if draw(st.booleans()):
        asked["final_contraction"] = draw(contractions)
    return asked


@pytest.fixture(scope="session")
def answered(reference: Reference) -> Answered:
    """The whole answer to plain input, as it is sent."""
    loaders, writers = Loaders(reference), Writers(reference.units)

    def written(name: str, data: Plain) -> bytes:
        calculation = CALCULATIONS[name]
        found = answer(calculation, loaders.load(calculation.inputs, data), reference)
        return orjson.dumps(answer_json(found, writers))

    return written


# The laws take small fixtures: hypothesis prints each argument of a failing test, and the whole reference
# data would drown the counterexample.
@pytest.fixture(scope="session")
def units(reference: Reference) -> Units:
    """All units."""
    return reference.units


@pytest.fixture(scope="session")
def orders() -> st.SearchStrategy[Plain]:
    """All orders."""
    return plain_orders()
