"""A row of a bulk answer is what a single question gives, whatever the rows before it were."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import orjson
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from alloyref.domain.calculation import Calculation, asked_unit
from alloyref.domain.errors import AlloyrefError
from alloyref.domain.reference import Reference
from alloyref.services.calculations import CALCULATIONS
from alloyref.web.bulk.columns import result_columns
from alloyref.web.bulk.fastlane import load_polars
from alloyref.web.bulk.form import Bench
from alloyref.web.bulk.run import CSV, NDJSON, begin
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.query import from_query
from alloyref.web.schemas.write import Writers

Row = dict[str, str]
Answers = Callable[[str, list[Row], str], list[list[str]]]
Single = Callable[[str, Row], Any]

METALS = ["sterling-silver", "gold-585-yellow", "gold-750-yellow", "Ag", "Au 750, Cu 250", "no-such-metal"]
UNITS = ["g", "dwt", "DWT", "gr", "ozt", "[gr]", "kg", "lbt", "oz", "baht_bullion", "mm"]
# Many decimals and few, round numbers and edges: where a sum in floating point would round the other way.
numbers = st.one_of(
    st.decimals("0.0001", "999999", places=4).map(str),
    st.integers(1, 10**9).map(lambda whole: f"{Decimal(whole) / 100_000:f}"),
    st.sampled_from(["0", "1e3", "-1", ".5", "5.", " 4", "1000000", "1000001", "0.00005", "0.00015", "2.00025", "x"]),
    st.decimals("0.000000000001", "1", places=12).map(lambda number: f"{number:f}"),
)


def _masses(metals: list[str]) -> st.SearchStrategy[Row]:
    fields: dict[str, Any] = {name: st.sampled_from(METALS) for name in metals}
    apart = st.fixed_dictionaries({"mass": numbers, "unit": st.sampled_from([*UNITS, ""]), **fields})
    together = st.builds("{} {}".format, numbers, st.sampled_from(UNITS))
    return st.one_of(apart, st.fixed_dictionaries({"mass": together, "unit": st.just(""), **fields}))


transfers = st.builds(
    lambda row, more: {**row, **more},
    _masses(["from_metal", "to_metal"]),
    st.fixed_dictionaries(
        {
            "readability": st.sampled_from(["", "", "0.01 g"]),
            "to_unit": st.sampled_from(["", "", "ozt", "baht_bullion"]),
            "contraction_from": st.sampled_from(["", "0.015"]),
            "contraction_to": st.sampled_from(["", "0.012"]),
        }
    ),
)
masses = st.fixed_dictionaries(
    {
        "value": numbers,
        "from": st.sampled_from(UNITS),
        "to": st.sampled_from(UNITS),
        "decimals": st.sampled_from(["", "3"]),
    }
)
lots = _masses(["metal"])


@pytest.fixture(scope="session")
def answers(reference: Reference) -> Answers:
    """The answered rows, as cells or as lines."""
    bench = Bench(reference, Loaders(reference), Writers(reference.units))

    def given_out(name: str, rows: list[Row], media: str) -> list[list[str]]:
        run = begin(name, media, "", [], bench)
        body = io.StringIO(newline="")
        if media == CSV:
            writer = csv.DictWriter(body, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
        else:
            body.writelines(json.dumps({key: text for key, text in row.items() if text}) + "\n" for row in rows)
        text = b"".join([*run.take(body.getvalue().encode()), *run.end()]).decode()
        if media == NDJSON:
            return [[line] for line in text.splitlines()]
        return list(csv.reader(io.StringIO(text, newline=""), strict=True))[1:]

    return given_out


@pytest.fixture(scope="session")
def single(reference: Reference) -> Single:
    """The result of one question by query, or None where it is refused."""
    loaders = Loaders(reference)

    def result(name: str, row: Row) -> Any:
        calculation = CALCULATIONS[name]
        try:
            data = from_query(calculation.inputs, [pair for pair in row.items() if pair[1]])
            return calculation.run(loaders.load(calculation.inputs, data), reference).result
        except AlloyrefError:
            return None

    return result


def check(name: str, rows: list[Row], answers: Answers, single: Single) -> None:
    """Hold the cells of every row to the columns of the single result."""
    columns = result_columns(CALCULATIONS[name].result)
    for row, cells in zip(rows, answers(name, rows, CSV), strict=True):
        result = single(name, row)
        assert (cells[-1] == "") == (result is not None), (row, cells)
        expected = [""] * len(columns) if result is None else [column.text(result) for column in columns]
        assert cells[len(row) : -1] == expected, row


@settings(deadline=None)
@given(rows=st.lists(transfers, min_size=1, max_size=12))
def test_transfers_in_bulk_are_those_asked_one_by_one(rows: list[Row], answers: Answers, single: Single) -> None:
    check("transfer", rows, answers, single)


@settings(deadline=None)
@given(rows=st.lists(lots, min_size=1, max_size=12))
@example(rows=[{"mass": f"0.000{digit}5 g", "unit": "", "metal": "Ag"} for digit in range(10)])
@example(rows=[{"mass": f"{digit}.00005", "unit": "g", "metal": "Ag"} for digit in range(10)])
def test_contents_in_bulk_are_those_asked_one_by_one(rows: list[Row], answers: Answers, single: Single) -> None:
    check("contents", rows, answers, single)


@settings(deadline=None)
@given(rows=st.lists(masses, min_size=1, max_size=12))
def test_masses_in_bulk_are_those_asked_one_by_one(rows: list[Row], answers: Answers, single: Single) -> None:
    check("mass", rows, answers, single)


@pytest.mark.parametrize("name", ["transfer", "contents"])
@settings(deadline=None)
@given(data=st.data())
def test_json_rows_hold_the_single_result(
    data: st.DataObject, name: str, answers: Answers, single: Single, written: Callable[..., Any]
) -> None:
    rows = data.draw(st.lists(transfers if name == "transfer" else lots, min_size=1, max_size=6))
    for row, (line,) in zip(rows, answers(name, rows, NDJSON), strict=True):
        result = single(name, row)
        document = json.loads(line)
        assert document["result"] == (None if result is None else written(name, row, result))
        assert (document["error"] is None) == (result is not None)


@settings(deadline=None)
@given(masses=st.lists(numbers, min_size=1, max_size=40), unit=st.sampled_from(["g", "dwt", "ozt", "baht_bullion"]))
def test_json_rows_that_differ_in_their_number_are_written_as_single_answers(
    masses: list[str], unit: str, answers: Answers, single: Single, written: Callable[..., Any]
) -> None:
    """Every number, also that in another unit, to the last digit and with none too many."""
    rows = [{"mass": mass, "unit": unit, "from_metal": METALS[0], "to_metal": METALS[1]} for mass in masses]
    for row, (line,) in zip(rows, answers("transfer", rows, NDJSON), strict=True):
        result = single("transfer", row)
        shown = None if result is None else written("transfer", row, result)
        assert f'"result":{orjson.dumps(shown).decode()},' in line


@pytest.fixture(scope="session")
def written(reference: Reference) -> Callable[..., Any]:
    """The result of a row as the single answer writes it: in the unit of the row, too."""
    writers, loaders = Writers(reference.units), Loaders(reference)

    def write(name: str, row: Row, result: Any) -> Any:
        calculation = CALCULATIONS[name]
        inputs = loaders.load(
            calculation.inputs, from_query(calculation.inputs, [one for one in row.items() if one[1]])
        )
        write_result = writers.answering_in(asked_unit(inputs)).record(calculation.result)
        return json.loads(orjson.dumps(write_result(result)))

    return write


plain_transfers = st.fixed_dictionaries(
    {
        "mass": numbers,
        "unit": st.sampled_from([*UNITS, ""]),
        "from_metal": st.sampled_from(METALS[:4]),
        "to_metal": st.sampled_from([*METALS[:4], "no-such-metal", ""]),
        "note": st.sampled_from(
            ["", "A-1", "=1+1", "-1.5", " -1.5", "+x", " =1", "＝1", "\u00a0@x", "\x0b", "\u2028", "é"]
        ),
    }
)
notes_first = plain_transfers.map(lambda row: {"note": row["note"], **row})
plain_lots = st.fixed_dictionaries(
    {
        "mass": st.builds(
            "{}{}{}".format, numbers, st.sampled_from([" ", "", "  "]), st.sampled_from([*UNITS, "e5 g"])
        ),
        "metal": st.sampled_from(METALS[:4]),
    }
)


@settings(deadline=None, max_examples=60)
@given(
    rows=st.one_of(
        st.lists(plain_transfers, min_size=1, max_size=40),
        st.lists(notes_first, min_size=1, max_size=40),
        st.lists(plain_lots, min_size=1, max_size=40),
        st.lists(plain_lots, min_size=1, max_size=3).map(lambda rows: rows * 20),
    )
)
@pytest.mark.parametrize("mark", [".", ","])
def test_columns_at_a_time_give_the_very_bytes_of_rows_at_a_time(
    rows: list[Row], mark: str, two_ways: Callable[..., Any]
) -> None:
    parted = "," if mark == "." else ";"
    main = next(name for name in rows[0] if name != "note")
    lines = [parted.join({**row, main: row[main].replace(".", mark)}.values()) + "\r\n" for row in rows]
    head = parted.join(rows[0]) + "\r\n"
    name = "transfer" if "note" in rows[0] else "contents"
    asked = {"decimal": mark, **({"keep": "note"} if "note" in rows[0] else {})}
    by_rows, by_columns = two_ways(name, asked, head.encode(), "".join(lines).encode())
    assert by_columns == by_rows


@settings(deadline=None, max_examples=60)
@given(
    notes=st.lists(st.sampled_from(["A-1", '"two\r\nlines"', '"', '"a,""b""\n', "", "=x"]), min_size=5, max_size=60),
    part=st.integers(30, 300),
)
def test_where_an_arrival_ends_changes_nothing(notes: list[str], part: int, two_ways: Callable[..., Any]) -> None:
    """Blocks are begun before the one ahead of them is done, which may end within quotes."""
    rows = [f"{number}.5,g,sterling-silver,{METALS[number % 4]},{note}\r\n" for number, note in enumerate(notes, 1)]
    head, body = b"mass,unit,from_metal,to_metal,note\r\n", "".join(rows).encode()
    by_rows, by_columns = two_ways("transfer", {"keep": "note"}, head, body, part)
    assert by_columns == by_rows == two_ways("transfer", {"keep": "note"}, head, body)[0]


@settings(deadline=None)
@given(rows=st.lists(transfers, min_size=1, max_size=6))
def test_a_decimal_comma_changes_the_mark_and_nothing_else(rows: list[Row], two_ways: Callable[..., Any]) -> None:
    def written(mark: str) -> bytes:
        body = io.StringIO(newline="")
        table = csv.writer(body, delimiter="," if mark == "." else ";")
        table.writerow(rows[0])
        # A point that ends a number has no decimals after it to be marked off.
        table.writerows([[re.sub(r"\.(?=[0-9])", mark, cell) for cell in row.values()] for row in rows])
        return body.getvalue().encode()

    def read(answer: bytes, mark: str) -> list[list[str]]:
        return list(csv.reader(io.StringIO(answer.decode(), newline=""), delimiter="," if mark == "." else ";"))

    point, comma = (read(two_ways("transfer", {"decimal": mark}, b"", written(mark))[0], mark) for mark in ".,")
    names = point[0]
    numbers_in_it = [at for at, name in enumerate(names) if not name.endswith(("_status", "_source", "error"))]
    assert [[row[at].replace(".", ",") for at in numbers_in_it] for row in point] == [
        [row[at].replace(".", ",") for at in numbers_in_it] for row in comma
    ]
    assert [bool(row[-1]) for row in point] == [bool(row[-1]) for row in comma]
    for row in comma[1:]:
        assert not any("." in row[names.index(name)] for name in names if name.startswith("result_mass"))


@pytest.fixture(scope="session")
def two_ways(reference: Reference) -> Callable[..., tuple[bytes, bytes]]:
    """The same rows answered without polars and with it; the head goes ahead, so that the rows are one block."""

    def both(name: str, asked: dict[str, str], head: bytes, body: bytes, part: int = 10**9) -> tuple[bytes, bytes]:
        found = []
        for polars in (None, load_polars()):
            bench = Bench(reference, Loaders(reference), Writers(reference.units), polars)
            run = begin(name, CSV, "", asked.items(), bench)
            parts = [body[at : at + part] for at in range(0, len(body), part)]
            found.append(b"".join([*run.take(head), *(out for one in parts for out in run.take(one)), *run.end()]))
        return found[0], found[1]

    return both


PROPORTIONAL = [one for one in CALCULATIONS.values() if one.proportional]


@pytest.mark.parametrize("calculation", PROPORTIONAL, ids=lambda one: one.name)
@settings(deadline=None)
@given(factor=st.integers(1, 10_000))
def test_what_is_declared_proportional_is(calculation: Calculation, factor: int, ask: Callable[..., Any]) -> None:
    """Every mass of the result goes with the named input; nothing else of it changes."""
    main = str(calculation.proportional)
    once, often = (ask(calculation, {**calculation.example, main: f"{number} g"}).result for number in (1, factor))
    for column in result_columns(calculation.result):
        one, other = column.value(once), column.value(often)
        if column.mass:
            assert abs(Decimal(float(other)) - Decimal(float(one)) * factor) <= Decimal("1e-9") * factor
        else:
            assert one == other, column.name
