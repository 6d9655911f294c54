"""Looking up: one number of one alloy, an alloy by id, and the dataset about itself."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal

import pytest

from alloyref.catalogue.reader import Dataset
from alloyref.domain.errors import InvalidInput, NotAvailable, UnknownName
from alloyref.domain.metal import Metal
from alloyref.domain.reference import Reference
from alloyref.services.lookup import PROPERTIES, Readable, alloy_named, dataset_view, number_of, readable


def no_shop(name: str) -> Metal:
    """Here nobody has alloys of their own."""
    raise InvalidInput.of("unknown-metal", f"The shop has no alloy {name!r}.")


def read(reference: Reference, name: str) -> Readable:
    """What numbers are read of."""
    return readable(name, reference, no_shop)


def test_an_alloy_is_found_by_its_id_and_names(reference: Reference) -> None:
    for name in ("sterling-silver", "Sterling silver", "STERLING-SILVER", "925"):
        assert alloy_named(name, reference) is reference.alloys["sterling-silver"]
    for name in ("silver", "Ag", "shop:sterling", ""):
        with pytest.raises(UnknownName):
            alloy_named(name, reference)


def test_numbers_are_read_of_alloys_and_elements_and_nothing_else(reference: Reference) -> None:
    assert read(reference, "925").metal is reference.alloys["sterling-silver"].metal
    assert read(reference, "Ag").metal is reference.metal("Ag")
    for name in ("silver", "shop:sterling", ""):
        with pytest.raises(UnknownName):
            read(reference, name)


@pytest.mark.parametrize("name", ["silver", "sterlingsilver", "Sterling Sliver", "sterling-silber"])
def test_a_near_name_leads_to_it(reference: Reference, name: str) -> None:
    with pytest.raises(UnknownName) as missed:
        alloy_named(name, reference)
    assert "sterling-silver" in missed.value.issues[0].suggestions


@pytest.mark.parametrize(("name", "symbol"), [("zinc", "Zn"), ("aluminium", "Al"), ("Silver", "Ag")])
def test_the_bare_name_of_an_element_is_told_the_symbol_of_the_fine_metal(
    reference: Reference, name: str, symbol: str
) -> None:
    with pytest.raises(UnknownName) as missed:
        read(reference, name)
    assert f"the fine metal is {symbol}" in str(missed.value)
    assert all(name.casefold() in near or symbol.casefold() in near for near in missed.value.issues[0].suggestions)
    assert read(reference, symbol).metal is reference.metal(symbol)
    assert "the fine metal" not in str(refused(reference, symbol))


def refused(reference: Reference, name: str) -> UnknownName:
    """The refusal of a name that means no alloy."""
    with pytest.raises(UnknownName) as missed:
        alloy_named(name, reference)
    return missed.value


@pytest.mark.parametrize("name", PROPERTIES)
def test_a_number_in_its_own_unit_is_the_value_itself(reference: Reference, name: str) -> None:
    alloy = reference.alloys["gold-750-yellow"]
    one = number_of(read(reference, alloy.id), name, None, reference)
    assert (one.alloy, one.property) == (alloy.id, name)
    assert one.low <= one.value <= one.high
    assert one.source in reference.sources
    metal = alloy.metal
    expected = {"fineness": metal.fineness, "karat": Decimal(18)}.get(name) or getattr(metal, name).value
    assert one.value == expected


@pytest.mark.parametrize(
    ("name", "unit", "value"),
    [
        ("fineness", "percent", "75"),
        ("fineness", "fraction", "0.75"),
        ("fineness", "karat", "18"),
        ("karat", "permille", "750"),
    ],
)
def test_a_number_in_another_unit_is_exact(reference: Reference, name: str, unit: str, value: str) -> None:
    one = number_of(read(reference, "gold-750-yellow"), name, unit, reference)
    assert (one.value, one.unit) == (Decimal(value), unit)


def test_fineness_in_karat_is_karat(reference: Reference) -> None:
    """Whichever way it is asked for, it is the same number, as far as it is written."""
    for alloy in reference.alloys.values():
        if alloy.metal.base == "Au":
            one = read(reference, alloy.id)
            karat = number_of(one, "karat", None, reference).value
            assert abs(karat - number_of(one, "fineness", "karat", reference).value) <= Decimal("0.0005")


def test_a_unit_by_any_of_its_names_is_shown_by_its_symbol(reference: Reference) -> None:
    alloy = read(reference, "fine-gold")
    symbols = {number_of(alloy, "density", unit, reference).unit for unit in ("kg/m3", "g/cm3")}
    assert symbols == {"kg/m3", "g/cm3"}
    assert number_of(alloy, "density", "kg/m3", reference).value == alloy.metal.density.value * 1000


@pytest.mark.parametrize(
    ("name", "unit"), [("density", "g"), ("solidus", "percent"), ("fineness", "ct"), ("karat", "C"), ("density", "")]
)
def test_a_wrong_unit_is_refused(reference: Reference, name: str, unit: str) -> None:
    with pytest.raises(InvalidInput):
        number_of(read(reference, "fine-gold"), name, unit, reference)


def test_what_is_not_known_is_not_guessed(reference: Reference) -> None:
    unknown = next(alloy for alloy in reference.alloys.values() if alloy.metal.liquidus is None)
    with pytest.raises(NotAvailable, match=unknown.id):
        number_of(read(reference, unknown.id), "liquidus", None, reference)
    with pytest.raises(NotAvailable):
        number_of(read(reference, "fine-silver"), "karat", None, reference)


def test_the_dataset_about_itself(reference: Reference, dataset: Dataset) -> None:
    view = dataset_view(reference, dataset.changes)
    assert (view.version, view.hash, view.date) == (
        reference.dataset.version,
        reference.dataset.hash,
        reference.dataset.date,
    )
    assert view.counts["alloys"] == sum(view.statuses.values()) == len(reference.alloys)
    assert view.statuses == Counter(alloy.metal.density.status.value for alloy in reference.alloys.values())
    assert view.standings["alloys.density"] == view.statuses
    assert sum(view.standings["alloys.composition"].values()) == len(reference.alloys)
    assert view.changes[0].date == view.date
    assert [one.date for one in view.changes] == sorted((one.date for one in view.changes), reverse=True)
