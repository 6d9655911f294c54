"""What is shown of an entry: each view takes every field from where it belongs."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from alloyref.domain.provenance import Status
from alloyref.domain.reference import Reference
from alloyref.services import size_views, views

PLAIN: list[tuple[str, Callable[[Any], Any], Callable[[Reference], Any], dict[str, str]]] = [
    ("source", views.source_view, lambda data: data.sources.values(), {}),
    ("rule", views.rule_view, lambda data: data.rules.values(), {"says": "item"}),
    ("caution", views.caution_view, lambda data: data.cautions, {}),
    ("element", views.element_view, lambda data: data.elements.values(), {}),
    ("pattern", views.material_view, lambda data: data.patterns.values(), {}),
    ("stone", views.material_view, lambda data: data.stones.values(), {}),
    ("gauge", size_views.gauge_view, lambda data: data.gauges, {}),
    ("ring size", size_views.ring_size_view, lambda data: data.ring_sizes, {}),
]


@pytest.mark.parametrize(("make", "entries", "renamed"), [one[1:] for one in PLAIN], ids=[one[0] for one in PLAIN])
def test_each_field_of_a_view_is_that_of_the_entry(
    reference: Reference, make: Callable[[Any], Any], entries: Callable[[Reference], Any], renamed: dict[str, str]
) -> None:
    found = list(entries(reference))
    assert found
    for one in found:
        view = make(one)
        for name in view.__dataclass_fields__:
            assert getattr(view, name) == getattr(one, renamed.get(name, name))


def test_each_field_of_a_mark_is_that_of_the_rule(reference: Reference) -> None:
    views_of = {one: views.mark_view(one) for one in reference.marks}
    for one, view in views_of.items():
        for name in set(view.__dataclass_fields__) - {"counts", "requires"}:
            assert getattr(view, name) == getattr(one, name)
    shown = {(view.jurisdiction, view.counts, view.requires) for view in views_of.values()}
    assert ("Canada", ("Pt Ir", "Pt Ru"), "") in shown
    assert ("US", (), "Pt Pd Ir Rh Ru >= 950") in shown
    assert ("UK", (), "") in shown


def test_a_unit_shows_its_exact_factor(reference: Reference) -> None:
    rows = {view.symbol: view for view in map(views.unit_view, reference.units.all) if view.dimension == "mass"}
    assert Fraction(rows["dwt"].factor) == Fraction("1.55517384")
    assert rows["dwt"].base_unit == "g"
    assert rows["g"].factor == "1"
    assert all(view.source in reference.sources for view in rows.values())


def test_a_colour_names_the_alloys_of_its_composition(reference: Reference) -> None:
    shown = {one.designation: size_views.colour_view(one, reference) for one in reference.colour_designations}
    assert list(shown) == ["0N", "1N", "2N", "3N", "4N", "5N", "8N"]
    assert shown["4N"].alloys == ("gold-750-rose-4n",)
    assert shown["4N"].composition == {"Au": 750, "Ag": 90, "Cu": 160}
    assert (shown["8N"].composition, shown["8N"].silver, shown["8N"].alloys) == (None, None, ())
    for view in shown.values():
        for name in view.alloys:
            assert dict(reference.alloys[name].metal.composition.parts) == view.composition


def test_a_source_shows_itself_and_what_rests_on_it(reference: Reference) -> None:
    source = reference.sources["karmarsch-1877"]
    view, detail = views.source_view(source), views.source_detail(source, reference)
    assert all(getattr(detail, name) == getattr(view, name) for name in view.__dataclass_fields__)
    assert {one.table for one in detail.supports} == {"alloys"}


def test_an_alloy_shows_what_it_is_made_of(reference: Reference) -> None:
    for alloy in reference.alloys.values():
        view = views.alloy_view(alloy)
        assert sum(view.composition.values()) == 1000
        assert view.fineness.value == view.composition[view.base]
        assert view.contains_nickel == ("Ni" in view.composition)
        assert view.contains_cadmium == ("Cd" in view.composition)
        assert view.contains_lead == ("Pb" in view.composition)
        assert (view.karat is None) == (view.base != "Au")
        assert (view.density, view.solidus, view.liquidus) == (
            alloy.metal.density,
            alloy.metal.solidus,
            alloy.metal.liquidus,
        )


def test_the_catalogue_has_each_kind_of_flagged_alloy(reference: Reference) -> None:
    shown = [views.alloy_view(alloy) for alloy in reference.alloys.values()]
    for flag in ("contains_nickel", "contains_cadmium"):
        assert {getattr(view, flag) for view in shown} == {True, False}


def test_karat_is_calculated_and_says_so(reference: Reference) -> None:
    karat = views.karat_of(reference.alloys["gold-585-yellow"].metal)
    assert karat is not None
    assert (karat.value, karat.status, karat.source) == (Decimal("14.040"), Status.CALCULATED, "definition")


def test_the_detail_is_the_view_with_the_published_figures(reference: Reference) -> None:
    alloy = reference.alloys["sterling-silver"]
    view, detail = views.alloy_view(alloy), views.alloy_detail(alloy)
    for name in view.__dataclass_fields__:
        assert getattr(detail, name) == getattr(view, name)
    assert [(one.property, one.value, one.row) for one in detail.published] == [
        (one.property, one.value, one.row) for one in alloy.published
    ]


def test_the_published_figure_that_is_served_is_marked_as_preferred(reference: Reference) -> None:
    for alloy in reference.alloys.values():
        for name in ("density", "solidus", "liquidus"):
            served = getattr(alloy.metal, name)
            preferred = [one for one in alloy.published if one.property == name and one.preferred]
            if served is None or served.status is Status.CALCULATED:
                continue
            published = [one for one in alloy.published if one.property == name]
            if published:
                assert preferred, (alloy.id, name)
                assert {one.value for one in preferred} == {served.value}


def test_the_density_of_a_pure_metal_is_marked_though_the_element_table_serves_it(reference: Reference) -> None:
    pure = [alloy for alloy in reference.alloys.values() if len(alloy.metal.composition.parts) == 1]
    assert pure
    for alloy in pure:
        marked = [one for one in alloy.published if one.property == "density" and one.preferred]
        assert [one.value for one in marked] == [alloy.metal.density.value], alloy.id


def test_the_range_of_hardness_holds_every_published_figure(reference: Reference) -> None:
    hardness = reference.alloys["sterling-silver"].hardness
    assert hardness is not None
    # 71 of a trade page, with a fifth to either side; the other page prints 75.
    assert (hardness.low, hardness.value, hardness.high) == (56, 71, 86)
    for alloy in reference.alloys.values():
        printed = {one.value for one in alloy.published if one.property == "hardness"}
        if printed:
            assert alloy.hardness is not None
            assert alloy.hardness.low <= min(printed) <= max(printed) <= alloy.hardness.high
