"""Which blocks are answered column by column, and which are left to the way that reads row by row."""

from __future__ import annotations

from typing import Any

import pytest

from alloyref.web.bulk.fastlane import FastLane, load_polars
from alloyref.web.bulk.proportion import Proportion, split_number

GOOD = b"4.82,dwt,x\r\n1,g,y\r\n"
ODD = {
    b"x,g,y": "no number",
    b"1e3,g,y": "a number with an exponent",
    b"0,g,y": "nothing",
    b"1001,g,y": "more than the bound",
    b"1,oz,y": "a key without an answer",
    b"1,g,=1+1": "a cell to be made safe",
    b"1,g," + b"y" * 200: "a long cell",
    b"0.00005,g,y": "a number in the middle between two roundings",
    b"1 e5,g,y": "an exponent that looks like a unit",
    b",g,y": "an empty cell",
}


def looked(like: list[str]) -> Proportion | None:
    """Twice the number, in grams only."""
    if like[1] not in ("g", "dwt") or like[0] != "1":
        return None
    return Proportion((2.0, 1.0), (1e4, 1e4), f"%.4f,{like[1]} 100%%,%.4f,,\r\n", 1000.0)


@pytest.fixture(scope="module")
def lane() -> FastLane:
    """A lane of three columns: number, unit, and one carried along."""
    return FastLane(load_polars(), 3, 0, [2], looked)


def test_plain_rows_are_answered(lane: FastLane) -> None:
    found = lane.answer(GOOD)
    assert found is not None
    assert found.text == "4.82,dwt,x,9.6400,dwt 100%,4.8200,,\r\n1,g,y,2.0000,g 100%,1.0000,,\r\n"
    assert (found.rows, found.odd) == (2, [])
    assert lane.answer(GOOD.replace(b"\r\n", b"\n")) == found


@pytest.mark.parametrize("row", ODD, ids=ODD.values())
def test_what_is_in_doubt_is_named(lane: FastLane, row: bytes) -> None:
    found = lane.answer(GOOD + row + b"\r\n" + GOOD)
    assert found is not None
    assert (found.rows, found.odd) == (5, [2])
    kept = found.text.split("\n")
    assert kept[0] == kept[3]
    assert kept[1] == kept[4]


@pytest.mark.parametrize(
    "block",
    [
        b'"4.82",dwt,x\n',
        b"4.82,dwt,x",
        b"4.82,dwt\n",
        b"4.82,dwt,x,y\n",
        b"4.82,dwt,x,y\n4.82,dwt\n",
        b"4.82,dwt,x\n\n",
        b"4.82,dwt,\xff\n",
        b"4.82,dwt,a\rb\n",
        b"4.82,oz,x\n",
        b"".join(b"1,g%d,x\n" % number for number in range(200)),
        b"",
    ],
)
def test_what_is_not_plain_is_left_alone(lane: FastLane, block: bytes) -> None:
    assert lane.answer(block) is None


@pytest.mark.parametrize(
    "text", ["4.82 dwt", "4.82", "4.82[gr]", "007 g", "4e3 g", "4 e5", "4.", ".5", "-4 g", " 4", "4 ", "1" * 10]
)
def test_a_number_with_its_unit_is_split_alike(text: str) -> None:
    seen = []

    def look(like: list[str]) -> Proportion | None:
        seen.append(like[0])
        return Proportion((1.0,), (1e4,), "%.4f,\r\n", 1e9)

    found = FastLane(load_polars(), 2, 0, [], look).answer(f"{text},y\n3 g,y\n".encode())
    split = split_number(text)
    assert found is not None
    assert found.odd == ([0] if split is None else [])
    assert split is None or "1" + split[1] in seen


def test_without_the_library_there_is_no_lane(monkeypatch: pytest.MonkeyPatch) -> None:
    def nowhere(name: str) -> Any:
        return None

    monkeypatch.setattr("importlib.util.find_spec", nowhere)
    assert load_polars() is None
