"""Many rows in one request: what comes back, row by row, and what is refused before the first."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Callable
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from alloyref.domain.reference import Reference
from alloyref.domain.searches import MOST_SEARCHES
from alloyref.shop.keys import create
from alloyref.web.bulk.fastlane import load_polars
from alloyref.web.bulk.form import Bench
from alloyref.web.bulk.lines import MOST_LINE
from alloyref.web.bulk.run import BULK, CSV, NDJSON, Run, begin
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.write import Writers
from alloyref.web.service import KEY

HEAD = "mass,unit,from_metal,to_metal"
GOOD = "4.82,dwt,sterling-silver,gold-750-yellow"
SINGLE = {"mass": "4.82", "unit": "dwt", "from_metal": "sterling-silver", "to_metal": "gold-750-yellow"}
Send = Callable[..., Any]


@pytest.fixture
def send(client: FlaskClient) -> Send:
    """Send rows, in csv unless told otherwise."""

    def sent(body: str | bytes, name: str = "transfer", query: str = "", media: str = CSV) -> Any:
        return client.post(f"/v1/bulk/{name}?{query}", data=body, headers={"Content-Type": media})

    return sent


@pytest.fixture
def rows(send: Send) -> Callable[..., list[dict[str, str]]]:
    """Send csv rows and read the answer by its head, every row as wide as that."""

    def read(body: str | bytes, name: str = "transfer", query: str = "") -> list[dict[str, str]]:
        answer = send(body, name, query)
        assert answer.status_code == 200, answer.text
        head, *found = csv.reader(io.StringIO(answer.text, newline=""), strict=True)
        assert all(len(row) == len(head) for row in found)
        return [dict(zip(head, row, strict=True)) for row in found]

    return read


@pytest.fixture
def begun(reference: Reference) -> Callable[..., Run]:
    """A run without a server."""
    bench = Bench(reference, Loaders(reference), Writers(reference.units))

    def run(media: str = CSV, name: str = "transfer", **query: str) -> Run:
        return begin(name, media, "", query.items(), bench)

    return run


def given_out(run: Run, parts: list[bytes]) -> bytes:
    """All that a run gives for a body that arrives in these parts."""
    out = [piece for part in parts for piece in run.take(part)]
    return b"".join([*out, *run.end()])


def test_the_columns_are_those_of_the_input_then_the_result_then_the_error(send: Send) -> None:
    answer = send(f"{HEAD}\r\n{GOOD}\r\n")
    head, row, end = answer.text.split("\r\n")
    assert end == ""
    assert head.startswith(HEAD + ",result_mass,result_mass_low,result_mass_high,result_mass_unit,")
    assert head.endswith(",result_in_unit,result_in_unit_unit,error")
    assert row.startswith(GOOD + ",")
    assert row.endswith(",dwt,")
    assert answer.mimetype == CSV


def test_a_row_says_what_a_single_question_says(client: FlaskClient, rows: Any) -> None:
    result = client.get("/v1/transfer", query_string=SINGLE).json["result"]  # type: ignore[index]
    (row,) = rows(f"{HEAD}\n{GOOD}\n")
    assert float(row["result_mass"]) == result["mass"]["value"]
    assert float(row["result_mass_low"]) == result["mass"]["low"]
    assert float(row["result_mass_high"]) == result["mass"]["high"]
    assert float(row["result_in_unit"]) == result["in_unit"]["value"]
    assert (row["result_in_unit_unit"], row["error"]) == ("dwt", "")
    assert row["result_ratio"] == "1.49189"


def test_rows_keep_their_order_and_a_bad_one_stops_nothing(rows: Any) -> None:
    bad = {2: "4,oz,sterling-silver,Au", 5: "x,g,Ag,Au", 7: "4,g,sterlng-silver,Au", 8: "4,g,Ag", 9: "1,g,,Au"}
    body = [bad.get(number, f"{number + 1},g,sterling-silver,Au") for number in range(12)]
    found = rows("\n".join([HEAD, *body]))
    assert len(found) == 12
    for number, row in enumerate(found):
        assert bool(row["error"]) == (number in bad)
        assert (row["result_mass"] == "") == (number in bad)
        assert row["mass"] == body[number].split(",")[0]
    assert "mass/unit: 'oz' is not taken" in found[2]["error"]
    assert found[2]["error"].count("[unit-ambiguous]") == 1, "the unit of the answer was not asked for by itself"
    assert "sterling-silver" in found[7]["error"]
    assert found[8]["error"] == "This row has 3 cells, the head has 4. [wrong-length]"
    assert found[9]["error"] == "from_metal: This is needed. [missing]"


def test_an_empty_cell_is_a_field_not_given(client: FlaskClient, rows: Any) -> None:
    first, second = rows(f"{HEAD},readability\n{GOOD},\n{GOOD},0.1 g\n")
    with_it = client.get("/v1/transfer", query_string={**SINGLE, "readability": "0.1 g"}).json["result"]  # type: ignore[index]
    assert float(second["result_mass_low"]) == with_it["mass"]["low"] < float(first["result_mass_low"])


def test_columns_of_ones_own_are_carried_along(rows: Any) -> None:
    body = f'sku,{HEAD},note\r\nA-1,{GOOD},"two\r\nlines, and ""quotes"""\r\n=1+1,{GOOD},-1.5\r\n,{GOOD},@x\r\n'
    body += f"＝1,{GOOD}, @x\r\n"
    first, second, third, spaced = rows(body, query="keep=sku,note")
    assert (spaced["sku"], spaced["note"]) == ("'＝1", "' @x")
    assert (first["sku"], first["note"]) == ("A-1", 'two\r\nlines, and "quotes"')
    assert (second["sku"], second["note"]) == ("'=1+1", "-1.5")
    assert (third["sku"], third["note"]) == ("", "'@x")
    assert {row["result_mass"] for row in (first, second, third)} == {"11.1831"}


def test_a_composition_stands_in_a_cell(client: FlaskClient, rows: Any) -> None:
    metal = "Au 750, Ag 125, Cu 125"
    (held,) = rows(f'mass,metal\n10 g,"{metal}"\n', "contents")
    assert (held["result_gold"], held["result_silver"], held["result_platinum"]) == ("7.5000", "1.2500", "0.0000")
    (told,) = rows(f'composition\n"{metal}"\n', "estimate")
    single = client.get("/v1/estimate", query_string={"composition": metal}).json["result"]  # type: ignore[index]
    for name in ("value", "low", "high", "unit", "status", "source"):
        column = "result_density" if name == "value" else f"result_density_{name}"
        assert told[column] == str(single["density"][name]) or float(told[column]) == single["density"][name]


def test_a_byte_order_mark_and_a_missing_last_line_end_are_nothing_special(rows: Any) -> None:
    plain = rows(f"{HEAD}\n{GOOD}\n")
    assert rows(b"\xef\xbb\xbf" + f"{HEAD}\r\n\r\n{GOOD}".encode()) == plain


@pytest.mark.parametrize(
    ("bad", "why"),
    [
        (b'"4.82,dwt,Ag,Au', "A quote is opened in line 3 and not closed at the end of a cell"),
        (b'"4.82"0,dwt,Ag,Au', "This row is not csv"),
        (b"4.82,dwt,\xff\xfe,Au", "This row is not UTF-8. [wrong-encoding]"),
        (b"4.82,dwt,Ag,Au" + b"u" * MOST_LINE, f"A row may have at most {MOST_LINE} bytes. [too-long]"),
        (b"4.82,dwt,Ag,Au" + b"u" * MOST_LINE * 30, f"A row may have at most {MOST_LINE} bytes. [too-long]"),
        (b"1" + b",2" * 300, "This row has 301 cells, the head has 4. [wrong-length]"),
        (b"4.82,dwt,A\rg,Au", "This row is not csv"),
    ],
)
def test_a_row_that_cannot_be_read_costs_one_row(rows: Any, bad: bytes, why: str) -> None:
    found = rows(f"{HEAD}\n{GOOD}\n".encode() + bad + f"\n{GOOD}\n{GOOD}\n".encode())
    assert [bool(row["error"]) for row in found] == [False, True, False, False]
    assert why in found[1]["error"]


@pytest.mark.parametrize(
    ("body", "query", "code", "suggestion"),
    [
        ("mas,unit,from_metal,to_metal\n", "", "unknown-field", "mass"),
        (f"sku,{HEAD}\n", "", "unknown-field", None),
        (f"{HEAD},unit\n", "", "duplicate", None),
        ("mass,from_metal\n", "", "missing", None),
        (HEAD + "".join(f",c{number}" for number in range(200)), "", "too-many", None),
        ('"mass,unit', "", "not-csv", None),
        (b"mass\xff,unit\n", "", "wrong-encoding", None),
        ("a" * MOST_LINE * 2, "", "too-long", None),
        (HEAD, "keep=sku", "missing", None),
        (HEAD, "keep=mass", "contradiction", None),
        (HEAD, "keep=result_mass", "contradiction", None),
        (HEAD, "summary=yes", "not-a-flag", "true"),
        (HEAD, "sumary=true", "unknown-field", "summary"),
        (HEAD, "summary=true&summary=true", "duplicate", None),
        (HEAD, "decimal=;", "not-an-option", ","),
        (HEAD, "decimal=,", "not-csv", None),
        (HEAD.replace(",", ";"), "", "not-csv", None),
    ],
)
def test_what_is_wrong_with_the_whole_is_a_problem(
    send: Send, body: str | bytes, query: str, code: str, suggestion: str | None
) -> None:
    answer = send(body, query=query)
    assert (answer.status_code, answer.mimetype) == (422, "application/problem+json")
    issues = {issue["code"]: issue for issue in answer.json["errors"]}
    assert code in issues
    assert suggestion is None or suggestion in issues[code]["suggestions"]


def test_a_decimal_comma_goes_with_semicolons(send: Send, rows: Any) -> None:
    body = f"sku,{HEAD},readability\n-1.5,{GOOD},0.1 g\n=1,1.5 oz,,Ag,Au,\n"
    point = rows(body, query="keep=sku")
    asked = body.replace(",", ";").replace(".", ",")
    answer = send(asked, query="keep=sku&decimal=,&summary=true")
    assert answer.status_code == 200
    *comma, end = csv.DictReader(io.StringIO(answer.text, newline=""), delimiter=";", strict=True)
    assert end["error"].startswith("summary: rows=2 errors=1 sha256=")
    assert comma[0] == {name: cell.replace(".", ",") for name, cell in point[0].items()}
    assert (comma[0]["sku"], comma[0]["result_mass"], comma[1]["sku"]) == ("-1,5", "11,1831", "'=1")
    assert comma[1]["error"] == point[1]["error"]


def test_with_a_decimal_comma_a_point_is_taken_and_a_composition_needs_no_quotes(send: Send) -> None:
    answer = send("mass;metal\n10.0 g;Au 750, Ag 125, Cu 125\n", "contents", "decimal=,")
    (found,) = csv.DictReader(io.StringIO(answer.text, newline=""), delimiter=";")
    assert found["result_gold"] == "7,5000"


def test_json_rows_have_a_decimal_point(send: Send) -> None:
    answer = send(json.dumps(SINGLE), query="decimal=,", media=NDJSON)
    assert answer.status_code == 422
    assert answer.json["errors"][0]["pointer"] == "/decimal"
    assert send(json.dumps(SINGLE), query="decimal=.", media=NDJSON).status_code == 200


@pytest.mark.parametrize(
    "media", ["", "application/json", "text/plain", "text/csv; charset=latin-1", "text/csv; header=absent"]
)
def test_another_media_type_is_refused(send: Send, media: str) -> None:
    assert send(f"{HEAD}\n", media=media).status_code == 415


@pytest.mark.parametrize("media", [CSV, NDJSON])
@pytest.mark.parametrize("body", ["", "\n\r\n"])
def test_an_empty_body_is_refused(send: Send, body: str, media: str) -> None:
    answer = send(body, media=media)
    assert (answer.status_code, answer.json["type"]) == (400, "/v1/problems/malformed")


def test_only_some_calculations_are_offered(client: FlaskClient, send: Send) -> None:
    assert set(BULK) == {"mass", "transfer", "contents", "estimate"}
    assert send(HEAD, "order").status_code == 404
    assert client.get("/v1/bulk/transfer").status_code == 405


def test_json_rows_come_back_as_they_came_with_result_and_error(client: FlaskClient, send: Send) -> None:
    lines = [
        '{ "mass": {"value": 4.820, "unit": "dwt"}, "from_metal": "sterling-silver", "to_metal": "gold-750-yellow" }',
        json.dumps(SINGLE),
        '{"mass": "4 oz", "from_metal": "Ag", "to_metal": "Au", "readability": null}',
        "{}",
    ]
    answer = send("\n\n".join(lines), media=NDJSON)
    assert (answer.status_code, answer.mimetype) == (200, NDJSON)
    found = answer.text.splitlines()
    single = client.get("/v1/transfer", query_string=SINGLE).json["result"]  # type: ignore[index]
    assert found[0].startswith('{"mass": {"value": 4.820, "unit": "dwt"}, "from_metal"')
    documents = [json.loads(line) for line in found]
    assert [one["result"] for one in documents] == [single, single, None, None]
    assert [one["error"] is None for one in documents] == [True, True, False, False]
    issue = documents[2]["error"][0]
    assert (issue["pointer"], issue["code"]) == ("/mass", "unit-ambiguous")
    assert "ozt" in issue["suggestions"]


def test_a_number_may_stand_in_json_in_any_of_its_forms(send: Send) -> None:
    rest = '"from_metal": "sterling-silver", "to_metal": "gold-750-yellow"'
    forms = ['"4.82 dwt"', '{"value": 4.82, "unit": "dwt"}', '{"value": "4.82", "unit": "dwt"}', '"4.820 dwt"']
    answer = send("".join(f'{{"mass": {form}, {rest}}}\n' for form in forms), media=NDJSON)
    found = [json.loads(line)["result"] for line in answer.text.splitlines()]
    assert found[0]["mass"]["value"] == 11.1831
    assert found == [found[0]] * len(forms)
    told = send(f'{{"mass": 4.82, "unit": true, {rest}}}\n{{"mass": 4.82, "unit": 1, {rest}}}\n', media=NDJSON)
    assert [json.loads(line)["result"] for line in told.text.splitlines()] == [None, None]


@pytest.mark.parametrize(
    ("bad", "code"),
    [
        (b"nope", "not-json"),
        (b"[1]", "not-an-object"),
        (b'{"mass": "1 g", "mass": "2 g"}', "not-json"),
        (b'{"result": 1}', "contradiction"),
        (b'{"mass": NaN}', "not-json"),
        (b'"\xff"', "wrong-encoding"),
        (b'{"mass": "' + b"1" * MOST_LINE * 2 + b'"}', "too-long"),
        (b"[" * 19_000, "not-json"),
        (b'{"\\ud800": 1}', "unknown-field"),
        (b'{"mass": {"value": 1e99999999999999999999, "unit": "g"}}', "number-out-of-range"),
    ],
)
def test_a_line_that_is_no_row_costs_one_row(send: Send, bad: bytes, code: str) -> None:
    good = json.dumps(SINGLE).encode()
    answer = send(b"\n".join([good, bad, good]), media=NDJSON)
    documents = [json.loads(line) for line in answer.text.splitlines()]
    assert [one["error"] is None for one in documents] == [True, False, True]
    assert code in {issue["code"] for issue in documents[1]["error"]}


@pytest.mark.parametrize("media", [CSV, NDJSON])
def test_the_summary_counts_and_digests_all_before_it(send: Send, media: str) -> None:
    body = f"{HEAD}\n{GOOD}\n{GOOD}\nx\n" if media == CSV else f"{json.dumps(SINGLE)}\n" * 2 + "x\n"
    answer = send(body, query="summary=true", media=media)
    *before, last = answer.data.splitlines(keepends=True)
    digest = hashlib.sha256(b"".join(before)).hexdigest()
    if media == CSV:
        (words,) = [cell for cell in next(csv.reader([last.decode()])) if cell]
        assert words == f"summary: rows=3 errors=1 sha256={digest}"
        assert last.count(b",") == before[0].count(b",")
    else:
        assert json.loads(last) == {"summary": {"rows": 3, "errors": 1, "sha256": digest}}
    assert b"".join(before) == send(body, media=media).data


LONG = "é" * MOST_LINE
ODD_ROWS = {
    "as it should be": f'"é\nü",{GOOD}\r\nB,{GOOD}\r\nC,x,g,Ag,Au',
    "a quote that never closes": f'"open,{GOOD}\r\nB,{GOOD}\r\nC,{GOOD}\n' + f"D,{GOOD}\n" * 600,
    "a quote that closes too late": f'"open,{GOOD}\n' + f"D,{GOOD}\n" * 600 + f'F",{GOOD}\nG,{GOOD}\n',
    "a quote that closes too late and is followed": f'"open,{GOOD}\n' + f"D,{GOOD}\n" * 600 + f'F"x,{GOOD}\nG,{GOOD}',
    "a long row": f"{LONG},{GOOD}\nB,{GOOD}\n",
    "a long quoted row": f'"{LONG}",{GOOD}\nB,{GOOD}\n',
    "a long row with a quote open": f'"{LONG},{GOOD}\nB,{GOOD}\n',
    "a long row without an end": f"A,{GOOD}\n{LONG}",
    "a quote open before a long row": f'"A,{GOOD}\n{LONG},{GOOD}\n",{GOOD}\nB,{GOOD}\n',
    "a quote for inches, closed within another cell": f'"7 inch,{GOOD}\nB,{GOOD}\nC,{GOOD}\nD,"x",{GOOD}\nE,{GOOD}\n',
    "quotes that close and open on each line": 'x","\n' * 4000 + f"A,{GOOD}\n" * 600,
    "a quote open at the end": f'A,{GOOD}\n"open,{GOOD}\nB,{GOOD}\n"two\nlines",{GOOD}',
    "a long row after an open quote": f'"open,{GOOD}\nB,{GOOD}\n{LONG},{GOOD}\n"{LONG}",{GOOD}\nC,{GOOD}\n',
    "a row not far too long": f"{'é' * (MOST_LINE // 2 - 10)},{GOOD}\nB,{GOOD}\n",
}


@pytest.mark.parametrize("odd", ODD_ROWS.values(), ids=ODD_ROWS)
@pytest.mark.parametrize("step", [7, 64, 5000, 30_000])
def test_it_does_not_matter_how_the_body_arrives(begun: Callable[..., Run], odd: str, step: int) -> None:
    body = f"\ufeffsku,{HEAD}\r\n\r\n{odd}".encode()
    whole = given_out(begun(keep="sku"), [body])
    assert whole == given_out(begun(keep="sku"), [body[at : at + step] for at in range(0, len(body), step)])


@pytest.mark.parametrize("odd", ODD_ROWS.values(), ids=ODD_ROWS)
@pytest.mark.parametrize("step", [7000, 10**9])
def test_columns_at_a_time_change_nothing_of_odd_rows(reference: Reference, odd: str, step: int) -> None:
    rows = [f"{number},{GOOD}\n" for number in range(400)]
    body = f"sku,{HEAD}\n{''.join(rows)}{odd}\n{''.join(rows)}".encode()
    found = []
    for polars in (None, load_polars()):
        bench = Bench(reference, Loaders(reference), Writers(reference.units), polars)
        run = begin("transfer", CSV, "", [("keep", "sku")], bench)
        found.append(given_out(run, [body[at : at + step] for at in range(0, len(body), step)]))
    assert found[0] == found[1]


def test_a_quote_left_open_costs_its_line_and_says_which(rows: Any) -> None:
    body = f'sku,{HEAD}\n\nA,{GOOD}\n"7 inch,{GOOD}\nB,{GOOD}\nC "bis",{GOOD}\nD,{GOOD}\n"E\nF",{GOOD}\n'
    found = rows(body, query="keep=sku")
    assert [row["sku"] for row in found] == ["A", "", "B", 'C "bis"', "D", "E\nF"]
    assert [bool(row["error"]) for row in found] == [False, True, False, False, False, False]
    assert found[1]["error"].startswith("A quote is opened in line 4 and not closed at the end of a cell within ")
    # To the end of the body, or of what a row may have, each line is a row; after it quotes hold line ends again.
    left_open = rows(f'sku,{HEAD}\n"A,{GOOD}\n"B\nC,{GOOD}\n', query="keep=sku")
    assert [bool(row["error"]) for row in left_open] == [True, True, False]
    assert ["in line 2" in left_open[0]["error"], "in line 3" in left_open[1]["error"]] == [True, True]
    after = rows(f'sku,{HEAD}\n"A,{GOOD}\n' + f"B,{GOOD}\n" * 600 + f'"C\nD",{GOOD}\n', query="keep=sku")
    assert (len(after), after[-1]["sku"], after[-1]["error"]) == (602, "C\nD", "")


@pytest.mark.parametrize("line", ['x","', '"a', '"', '"a","', 'a"",""b', "a"])
def test_no_line_is_read_more_than_a_few_times(
    begun: Callable[..., Run], monkeypatch: pytest.MonkeyPatch, line: str
) -> None:
    """Whatever quotes do: a row read in vain must not be paid for again by each row after it."""
    read = 0
    reader = csv.reader

    def counted(lines: Any, **options: Any) -> Any:
        def counting() -> Any:
            nonlocal read
            for one in lines:
                read += 1
                yield one

        return reader(counting(), **options)

    monkeypatch.setattr("alloyref.web.bulk.csvform.csv.reader", counted)
    body = f"{HEAD}\n" + f"{line}\n" * 20_000
    run = begun()
    given_out(run, [body.encode()])
    assert run.errors > 1000
    assert read < 20_000 * 6


@pytest.mark.parametrize("media", [CSV, NDJSON])
def test_of_many_misspelt_names_only_the_first_are_searched_for(begun: Callable[..., Run], media: str) -> None:
    rows = [{"mass": "1 g", "from_metal": f"#{number}sterlingsilver", "to_metal": "Au"} for number in range(400)]
    rows += [{"mass": f"1 grm{number}", "from_metal": "Ag", "to_metal": f"Xx{number} 1000"} for number in range(400)]
    rows += rows[:1]
    if media == CSV:
        body = "mass,from_metal,to_metal\n" + "".join(",".join(row.values()) + "\n" for row in rows)
    else:
        body = "".join(json.dumps(row) + "\n" for row in rows)
    run = begun(media)
    answer = given_out(run, [body.encode()]).decode().splitlines()
    assert run.errors == len(rows)
    # The last row is the first once more.
    assert sum("Did you mean" in row for row in answer) == MOST_SEARCHES + 1
    first, last, beyond = answer[-len(rows)], answer[-1], answer[-2]
    assert first == last
    assert "Did you mean" in first
    assert "is not a unit of mass known here. Known are" in beyond
    assert "There is no metal" in beyond
    assert "Did you mean" not in beyond


def test_an_alloy_of_the_shop_stays_through_a_run_as_it_was_when_first_named(app: Flask, client: FlaskClient) -> None:
    """Between the rows of one body another client changes, deletes and makes alloys."""
    whole = create(app.extensions[KEY].database, "bulk", ("read", "write"))[1]
    shown = {"Authorization": f"Bearer {whole}"}

    def change(method: str, id_: str, **sent: Any) -> None:
        place = f"/v1/shop/alloys/{id_}"
        match = {"If-Match": client.get(place, headers=shown).headers["ETag"]} if method != "POST" else {}
        where = "/v1/shop/alloys" if method == "POST" else place
        answer = client.open(where, method=method, headers={**shown, **match}, **sent)
        assert answer.status_code in (200, 201, 204), answer.text

    def made(id_: str, gold: int) -> dict[str, Any]:
        return {"id": id_, "name": id_, "composition": {"Au": gold, "Ag": 1000 - gold}}

    for id_ in ("edited", "deleted", "unnamed-yet"):
        change("POST", id_, json=made(id_, 500))

    class Body:
        """Its first rows, and what others do before the rest is read."""

        def __init__(self, *parts: Any) -> None:
            self._parts = iter(parts)

        def read(self, _: int) -> bytes:
            for part in self._parts:
                if isinstance(part, bytes):
                    return part
                part()
            return b""

    def meanwhile() -> None:
        change("PUT", "edited", json={name: value for name, value in made("edited", 900).items() if name != "id"})
        change("DELETE", "deleted")
        change("DELETE", "unnamed-yet")
        change("POST", "made-late", json=made("made-late", 500))

    named = ["shop:edited", "shop:deleted", "shop:made-late"]
    before = b"mass,metal\n" + "".join(f"1{digit} g,{one}\n" for one in named for digit in (1, 2)).encode()
    after = "".join(f"{mass} g,{one}\n" for one in [*named, "shop:unnamed-yet"] for mass in ("11", "1e1")).encode()
    arriving = {"wsgi.input": Body(before, meanwhile, after), "CONTENT_LENGTH": str(len(before + after))}
    answer = app.test_client().post(
        "/v1/bulk/contents", environ_overrides=arriving, headers={**shown, "Content-Type": CSV}
    )
    assert answer.status_code == 200, answer.text
    found = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    gold = [row["result_gold"] for row in found]
    assert gold[:6] == ["5.5000", "6.0000"] * 2 + [""] * 2
    assert gold[6:10] == ["5.5000", "5.0000"] * 2
    assert {row["error"] for row in found[:4] + found[6:10]} == {""}
    assert all("The shop has no alloy" in row["error"] for row in found[4:6] + found[10:])


@pytest.mark.parametrize("step", [1, 2, 7, 64, 5000])
def test_it_does_not_matter_how_json_rows_arrive(begun: Callable[..., Run], step: int) -> None:
    good = json.dumps(SINGLE)
    body = f'\ufeff{{"é": 1}}\r\n{good}\n\nnope\n{{"x": "{LONG}"}}\n{good}'.encode()
    whole = given_out(begun(NDJSON), [body])
    assert whole == given_out(begun(NDJSON), [body[at : at + step] for at in range(0, len(body), step)])


@pytest.mark.parametrize("name", BULK)
@pytest.mark.parametrize("media", [CSV, NDJSON])
def test_the_described_example_is_answered(send: Send, description: dict[str, Any], name: str, media: str) -> None:
    post = description["paths"][f"/v1/bulk/{name}"]["post"]
    answer = send(post["requestBody"]["content"][media]["examples"]["bench"]["value"], name, "summary=true", media)
    assert answer.status_code == 200
    assert media in post["responses"]["200"]["content"]
    assert ("errors=0 " if media == CSV else '"errors":0,') in answer.text
    assert answer.headers["Content-Digest"].startswith("sha-256=:")


def test_a_fault_in_a_row_costs_that_row(
    begun: Callable[..., Run], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: Any) -> Any:
        raise ZeroDivisionError

    monkeypatch.setattr("alloyref.web.bulk.form.answer", broken)
    run = begun()
    assert b"The service failed on this row" in given_out(run, [f"{HEAD}\n{GOOD}\n".encode()])
    assert (run.rows, run.errors) == (1, 1)
    assert "fault at a row of transfer" in caplog.text
