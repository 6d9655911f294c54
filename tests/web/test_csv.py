"""Tables as csv: cells no spreadsheet takes for a formula, and every value whole after a round trip."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from decimal import Decimal

import pytest

from alloyref.domain.calculation import Flag, ListOf, MapOf, Measured, Number, Record, Text, TextList, item
from alloyref.domain.provenance import Property, Status
from alloyref.domain.units import Dimension
from alloyref.web.csvtext import columns, csv_bytes, safe

PARTS = ["density", "density_low", "density_high", "density_unit", "density_status", "density_source"]


@dataclass(frozen=True, slots=True)
class Inner:
    """An entry within an entry."""

    note: str = item(Text(), "A note.")


@dataclass(frozen=True, slots=True)
class Entry:
    """One of each kind of cell."""

    name: str = item(Text(), "Name.")
    says: str | None = item(Text(), "Says.", name="item")
    price: Decimal | None = item(Number(), "Price.")
    density: Property | None = item(Measured(Dimension.DENSITY), "Density.")
    good: bool = item(Flag(), "Good.")
    shares: dict[str, Decimal] = item(MapOf(Number()), "Shares.")
    aliases: tuple[str, ...] = item(TextList(), "Aliases.")
    inner: tuple[Inner, ...] = item(ListOf(Record(Inner)), "Inner.")


DENSITY = Property(Decimal("13.060"), "g/cm3", Decimal("1E+1"), Decimal("14"), Status.HANDBOOK, "some-source")
SHARES = {"Au": Decimal("585.000"), "Cu": Decimal("415")}
NASTY = ['a "quoted" word', "a, comma", "two\nlines", "crlf\r\nlines", " spaces ", "ünï 𝄞", "", "a;b", "'", "x\ty"]


def table(*rows: Entry, only: tuple[str, ...] = ()) -> list[dict[str, str]]:
    """The rows after a round trip through the csv module."""
    text = csv_bytes(Entry, rows, only).decode("utf-8")
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def entry(name: str = "x", says: str | None = "y") -> Entry:
    """An entry with every cell filled."""
    return Entry(name, says, Decimal("-1.50"), DENSITY, True, SHARES, ("14k", "585"), (Inner("n"),))


def test_the_columns_spread_a_property_and_leave_lists_of_entries_out() -> None:
    assert columns(Entry) == ["name", "item", "price", *PARTS, "good", "shares", "aliases"]
    assert columns(Entry, ("density", "item")) == ["item", *PARTS]


def test_every_kind_of_cell_is_written_plainly() -> None:
    row = table(entry())[0]
    assert [row[name] for name in PARTS] == ["13.06", "10", "14", "g/cm3", "handbook", "some-source"]
    assert row["shares"] == "Au 585 Cu 415"
    assert row["aliases"] == "14k;585"
    assert row["good"] == "true"
    assert row["price"] == "-1.5"


def test_what_is_not_known_is_empty() -> None:
    row = table(Entry("x", None, None, None, False, {}, (), ()))[0]
    assert {name: value for name, value in row.items() if value} == {"name": "x", "good": "false"}


@pytest.mark.parametrize("text", NASTY)
def test_text_comes_back_as_it_was(text: str) -> None:
    row = table(entry(text, text))[0]
    assert (row["name"], row["item"]) == (text, text)


def test_rows_stay_apart_and_in_order() -> None:
    rows = table(*(entry(f'{number},\n"{number}') for number in range(50)))
    assert [row["name"] for row in rows] == [f'{number},\n"{number}' for number in range(50)]


def test_lines_end_as_rfc_4180_wants_and_the_text_is_utf_8() -> None:
    body = csv_bytes(Entry, [entry("ü")])
    assert body.count(b"\r\n") == 2
    assert body.endswith(b"\r\n")
    assert "ü".encode() in body


def test_only_some_columns() -> None:
    assert table(entry(), only=("name", "good")) == [{"name": "x", "good": "true"}]


STARTS = [
    *("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"),
    *(" =", "  +", "\u00a0-", "\u3000@", "\ufeff=", "\u200b＝", " \t=", "\n=", "\x00=", "\u2066=", "\u0085="),
]


@pytest.mark.parametrize("start", STARTS)
def test_no_text_is_taken_for_a_formula(start: str) -> None:
    text = f"{start}1+1"
    made = safe(text)
    assert made.removeprefix("'") == text
    assert made == f"'{text}"
    row = table(Entry(text, text, None, None, True, {}, (text,), ()))[0]
    assert {row["name"], row["item"], row["aliases"]} == {made}


@pytest.mark.parametrize(
    "text", ["sterling", "14k", "a=b", "1-2", "", "'quoted", "~", " ", " sterling", "ü", "\ufeffx"]
)
def test_harmless_text_is_left_alone(text: str) -> None:
    assert safe(text) == text


def test_a_number_is_never_quoted_away() -> None:
    assert b"'" not in csv_bytes(Entry, [entry()])
