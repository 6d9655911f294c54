"""Decimal commas: taken where they can mean nothing else, refused where they could part thousands."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alloyref.domain.composition import Composition
from alloyref.domain.errors import InvalidInput
from alloyref.domain.figures import with_mark
from alloyref.domain.numbers import COMMA, EITHER, POINT, parse_decimal, point_for_comma
from alloyref.domain.order import ORDER
from alloyref.domain.recovery import RECOVERY
from alloyref.web.schemas.decimals import with_points

KNOWN = {"Au", "Ag", "Cu"}


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("4,18", "4.18"),
        ("4,18 g", "4.18 g"),
        ("-0,125 C", "-0.125 C"),
        (",5", ".5"),
        ("0,234", "0.234"),
        ("1234,567", "1234.567"),
        ("6,3105 dwt", "6.3105 dwt"),
        ("4.18 g", "4.18 g"),
        ("14 karat", "14 karat"),
        ("gold, red", "gold, red"),
    ],
)
def test_a_clear_comma_is_a_point(text: str, plain: str) -> None:
    assert point_for_comma(text, EITHER) == point_for_comma(text, COMMA) == plain


@pytest.mark.parametrize("text", ["1,234", "1,234 g", "12,500 g", "999,000"])
def test_a_comma_that_could_part_thousands_is_refused_unless_it_was_said_what_it_is(text: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        point_for_comma(text, EITHER)
    issue = refused.value.issues[0]
    assert issue.code == "decimal-ambiguous"
    number = text.split(maxsplit=1)[0]
    assert issue.suggestions == (number.replace(",", "."), number.replace(",", ""))
    assert point_for_comma(text, COMMA) == text.replace(",", ".")


@pytest.mark.parametrize("text", ["1,234,567", "1.234,5", "1,234.5", "1,2,3"])
@pytest.mark.parametrize("mark", [EITHER, COMMA])
def test_separators_of_thousands_are_no_number_either_way(text: str, mark: str) -> None:
    assert point_for_comma(text, mark) == text
    with pytest.raises(InvalidInput):
        parse_decimal(text)


def test_where_a_point_was_said_nothing_is_changed() -> None:
    assert point_for_comma("4,18", POINT) == "4,18"


@given(st.decimals(min_value=-(10**6), max_value=10**6, places=4), st.sampled_from(["", " g", " dwt", " karat"]))
def test_any_number_written_with_a_comma_is_that_number(number: Decimal, unit: str) -> None:
    text = f"{number:f}"
    assert point_for_comma(text.replace(".", ",") + unit) == text + unit
    assert with_mark(text + unit, COMMA) == text.replace(".", ",") + unit


@pytest.mark.parametrize(
    "line", ["Au 585,5; Ag 204,5; Cu 210", "Au 585,5, Ag 204,5, Cu 210", "Au:585,5;Ag:204.5;Cu:210"]
)
def test_a_composition_may_have_decimal_commas_and_semicolons(line: str) -> None:
    assert Composition.is_line(line)
    expected = Composition.from_text("Au 585.5, Ag 204.5, Cu 210", KNOWN)
    assert Composition.from_text(line, KNOWN) == expected


def test_percent_with_commas_is_still_told_to_be_percent() -> None:
    with pytest.raises(InvalidInput, match="percent"):
        Composition.from_text("Au 58,5, Ag 10, Cu 31,5", KNOWN)


def test_each_number_of_a_nested_input_is_read_and_nothing_else() -> None:
    order: dict[str, Any] = {
        "name": "band 1,5",
        "trial": {"metal": "Au 585,5; Ag 414,5", "mass": {"value": "6,31", "unit": "g"}},
        "volume": "0,46 cm3",
        "pieces": 2,
        "final_metal": {"composition": {"Au": "585,5"}, "density": "13,1 g/cm3"},
        "prices": [{"metal": "Au", "price": "104,50"}],
    }
    assert with_points(ORDER.inputs, order, COMMA) == {
        "name": "band 1,5",
        "trial": {"metal": "Au 585,5; Ag 414,5", "mass": {"value": "6.31", "unit": "g"}},
        "volume": "0.46 cm3",
        "pieces": 2,
        "final_metal": {"composition": {"Au": "585.5"}, "density": "13.1 g/cm3"},
        "prices": [{"metal": "Au", "price": "104.50"}],
    }


def test_what_is_ambiguous_is_named_where_it_stands() -> None:
    lots = {"lots": [{"mass": "3 g"}, {"mass": "1,234 g", "assay": {"Au": "583,100"}}]}
    with pytest.raises(InvalidInput) as refused:
        with_points(RECOVERY.inputs, lots, EITHER)
    assert [one.pointer for one in refused.value.issues] == ["/lots/1/mass", "/lots/1/assay/Au"]


@pytest.mark.parametrize("text", ["dataset 0.1.0", "karmarsch-1877.2", "/v1/alloys.csv", "see 2026-11-20.5"])
def test_names_and_versions_keep_their_points(text: str) -> None:
    assert with_mark(text, COMMA) == text
    assert re.sub("[.]", "", with_mark("4.5 g", COMMA)) == "4,5 g"
