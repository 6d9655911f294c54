"""Which blocks are answered column by column, and which are left to the way that reads row by row."""

from __future__ import annotations

from typing import Any

import pytest

from alloyref.web.bulk.fastlane import MOST_KNOWN, Answered, FastLane, Shape, Unknown, load_polars
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
    b"4.82,dwt": "a cell too few",
    b"4.82,dwt,x,y": "a cell too many",
    b"": "no row",
    b"4.82,dwt,a\rb": "a line end that is none",
    b"1,g\r,y": "a line end in a key",
}


def looked(like: list[str]) -> Proportion | None:
    """Twice the number, in grams only."""
    if like[1] not in ("g", "dwt") or like[0] != "1":
        return None
    return Proportion((2.0, 1.0), (4, 4), (None, f"{like[1]} 100%", ","), 1000.0)


@pytest.fixture(scope="module")
def lane() -> FastLane:
    """A lane of three columns: number, unit, and one carried along."""
    return FastLane(load_polars(), Shape(3, 0, (2,)), looked)


def answered(lane: FastLane, block: bytes) -> Answered | None:
    """The answer once every key is looked up."""
    found = lane.answer(block)
    if isinstance(found, Unknown):
        list(lane.learn(found.keys))
        found = lane.answer(block)
        assert not isinstance(found, Unknown)
    return found


def test_plain_rows_are_answered(lane: FastLane) -> None:
    found = answered(lane, GOOD)
    assert found is not None
    assert found.text == b"4.82,dwt,x,9.6400,dwt 100%,4.8200,,\r\n1,g,y,2.0000,g 100%,1.0000,,\r\n"
    assert (found.rows, found.odd) == (2, [])
    assert lane.answer(GOOD.replace(b"\r\n", b"\n")) == found


def test_a_decimal_comma_goes_in_and_out() -> None:
    def look(like: list[str]) -> Proportion | None:
        assert like == ["", "1 g"]
        return Proportion((2.0,), (4,), (None, "kept, so"), 1e9, ",")

    found = answered(FastLane(load_polars(), Shape(2, 1, (0,), ","), look), b"a,b;4,82 g\n;4.82 g\n;4,8.2 g\n")
    assert found is not None
    assert found.text.splitlines()[:2] == [b"a,b;4,82 g;9,6400;kept, so", b";4.82 g;9,6400;kept, so"]
    assert found.odd == [2]


def test_the_number_may_stand_anywhere_and_cells_carried_along_too() -> None:
    def look(like: list[str]) -> Proportion | None:
        return Proportion((2.0,), (1,), (None, f"{like[1]}/{like[3]}"), 1e9) if not like[0] + like[4] else None

    lane = FastLane(load_polars(), Shape(5, 2, (0, 4)), look)
    found = answered(lane, b"k,a,1,b,k\n,c,2,d,\nk,a,3,b,k,k\nk,a,3,b\n")
    assert found is not None
    assert found.text.splitlines()[:2] == [b"k,a,1,b,k,2.0,a/b", b",c,2,d,,4.0,c/d"]
    assert found.odd == [2, 3]


def test_rows_too_short_for_their_columns_are_not_cut_into_them() -> None:
    """Each short line would cost a place in every column: there is nothing here to cut with."""
    assert FastLane(None, Shape(93, 0, (92,)), looked).answer(b"a\n" * 1000) is None


def test_others_have_their_turn_after_each_key_that_is_looked_up() -> None:
    asked = []

    def look(like: list[str]) -> Proportion | None:
        asked.append(like[1])
        return looked([like[0], "g", ""])

    lane = FastLane(load_polars(), Shape(2, 0), look)
    learning = lane.learn(["a", "b"])
    next(learning)
    assert asked == ["a"]
    assert list(learning) == [None]
    assert answered(lane, b"1,a\n2,b\n") is not None


def test_what_is_known_is_bounded() -> None:
    asked = []

    def look(like: list[str]) -> Proportion | None:
        asked.append(like[1])
        return looked([like[0], "g", ""])

    lane = FastLane(load_polars(), Shape(2, 0), look)
    for start in range(0, MOST_KNOWN + 500, 50):
        assert answered(lane, b"".join(b"1,g%d\n" % (start + more) for more in range(50))) is not None
    assert len(asked) == len(set(asked)) == MOST_KNOWN + 500
    assert answered(lane, b"1,g0\n") is not None
    assert asked.count("g0") == 2


@pytest.mark.parametrize("row", ODD, ids=ODD.values())
def test_what_is_in_doubt_is_named(lane: FastLane, row: bytes) -> None:
    found = answered(lane, GOOD + row + b"\r\n" + GOOD)
    assert found is not None
    assert (found.rows, found.odd) == (5, [2])
    kept = found.text.split(b"\n")
    assert kept[0] == kept[3]
    assert kept[1] == kept[4]


@pytest.mark.parametrize(
    "block",
    [
        b'"4.82",dwt,x\n',
        b"4.82,dwt,x",
        b"4.82,dwt\x1f,x\n",
        b"4.82,dwt,\xff\n",
        b"4.82,oz,x\n",
        GOOD + b"x,g,x\n" * 3,
        b"".join(b"1,g%d,x\n" % number for number in range(200)),
        b"",
    ],
)
def test_what_is_not_plain_is_left_alone(lane: FastLane, block: bytes) -> None:
    assert answered(lane, block) is None


@pytest.mark.parametrize(
    "text", ["4.82 dwt", "4.82", "4.82[gr]", "007 g", "4e3 g", "4 e5", "4.", ".5", "-4 g", " 4", "4 ", "1" * 10]
)
def test_a_number_with_its_unit_is_split_alike(text: str) -> None:
    seen = []

    def look(like: list[str]) -> Proportion | None:
        seen.append(like[0])
        return Proportion((1.0,), (4,), (None, ""), 1e9)

    found = answered(FastLane(load_polars(), Shape(2, 0), look), f"{text},y\n3 g,y\n".encode())
    split = split_number(text)
    assert found is not None
    assert found.odd == ([0] if split is None else [])
    assert split is None or "1" + split[1] in seen


def test_without_the_library_there_is_no_lane(monkeypatch: pytest.MonkeyPatch) -> None:
    def nowhere(name: str) -> Any:
        return None

    monkeypatch.setattr("importlib.util.find_spec", nowhere)
    assert load_polars() is None
