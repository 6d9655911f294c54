"""Questions of the trade, as benches, casters, refiners and textbooks put them, each asked in one call.

`trade_questions.csv` has them one part a row, with where it is printed, what was printed, and in `why` the arithmetic
of the figure expected. Its standings: `right`, the printed answer holds; `page-wrong`, the page slips (`why` names
the slip) and right arithmetic is the check; `trade-name`, the name fixes no alloy and the figure lies in the range of
all that bear it; `refused`, an honest refusal by its code; `not-yet`, no calculation answers it, so the row only
stands.

How an answer is checked: `near` (`pointer` within `tolerance` of `expected`), `within` (`expected` from `pointer` to
`high_pointer`), `is` (the same word), `says` (the word is in the text there), `problem` (a 422 with that code). A
semicolon separates several figures. Pointers are JSON pointers; `id=x,a=b` picks the item of a list.
"""

from __future__ import annotations

import csv
import json
from collections import Counter
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from alloyref.settings import Settings
from alloyref.shop.database import open_database
from alloyref.shop.migrate import upgrade
from alloyref.web.app import create_app

Row = dict[str, str]
TABLE = Path(__file__).with_name("trade_questions.csv")
NOT_YET, REFUSED = "not-yet", "refused"
STANDINGS = {"right", "page-wrong", "trade-name", REFUSED, NOT_YET}
ANSWERED = 58
"""Questions of which every part is asked and comes out right; more may come, none may go."""


def read_table() -> list[Row]:
    """All rows of the table."""
    with TABLE.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


QUESTIONS = read_table()
ASKED = [row for row in QUESTIONS if row["standing"] != NOT_YET]


def name_of(row: Row) -> str:
    """The question's id and its part."""
    return " ".join(filter(None, (row["id"], row["part"])))


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> FlaskClient:
    """A client of an application with its usual settings."""
    settings = Settings(data_dir=Path(tmp_path_factory.mktemp("trade-questions")))
    upgrade(open_database(settings.database))
    return create_app(settings).test_client()


def at(document: Any, pointer: str) -> Any:
    """What a pointer leads to; a step such as `system=SWG,gauge=18` picks the item of a list."""
    for step in pointer.removeprefix("/").split("/"):
        if not isinstance(document, list):
            document = document[step]
        elif step.isdecimal():
            document = document[int(step)]
        else:
            wanted = dict(field.split("=", 1) for field in step.split(","))
            document = next(item for item in document if {key: str(item[key]) for key in wanted} == wanted)
    return document


def number(document: Any, pointer: str, unit: str) -> Decimal:
    """The number at a pointer, of which the answer must say the unit that the row has."""
    parent, _, last = pointer.rpartition("/")
    figure = at(document, parent) if parent else document
    said = figure.get("unit", figure.get("currency"))
    assert said is None or unit in (last, said), f"{pointer} is in {said}"
    return Decimal(str(figure[last]))


def is_near(row: Row, document: Any) -> None:
    """Each figure is within the tolerance, and not the page's where the page is wrong."""
    tolerance = Decimal(row["tolerance"])
    for pointer, figure in zip(row["pointer"].split(";"), row["expected"].split(";"), strict=True):
        answer = number(document, pointer, row["unit"])
        assert abs(answer - Decimal(figure)) <= tolerance, f"{pointer} is {answer}"
        assert not row["page_figure"] or abs(answer - Decimal(row["page_figure"])) > tolerance


def is_within(row: Row, document: Any) -> None:
    """Each figure lies in the answer's range, and the page's outside it where the page is wrong."""
    low, high = (number(document, row[name], row["unit"]) for name in ("pointer", "high_pointer"))
    for figure in row["expected"].split(";"):
        assert low <= Decimal(figure) <= high
    if row["page_figure"]:
        assert not low <= Decimal(row["page_figure"]) <= high


def is_word(row: Row, document: Any) -> None:
    """The answer is that word, or that truth value."""
    answer = at(document, row["pointer"])
    assert (answer if isinstance(answer, str) else json.dumps(answer)) == row["expected"]


def is_said(row: Row, document: Any) -> None:
    """The word is in what stands at the pointer."""
    assert row["expected"] in json.dumps(at(document, row["pointer"]), ensure_ascii=False)


def is_problem(row: Row, document: Any) -> None:
    """The refusal has that code."""
    assert row["expected"] in {error["code"] for error in document["errors"]}


CHECKS = {"near": is_near, "within": is_within, "is": is_word, "says": is_said, "problem": is_problem}


@pytest.mark.parametrize("row", ASKED, ids=name_of)
def test_a_question_is_answered_in_one_call(client: FlaskClient, row: Row) -> None:
    """The call of the row, through the whole application, gives the figure, word or refusal of the row."""
    body = json.loads(row["body"], parse_float=str) if row["body"] else None
    answer = client.open(row["path"], method=row["method"], json=body)
    assert answer.status_code == (422 if row["standing"] == REFUSED else 200), answer.text[:600]
    CHECKS[row["check"]](row, json.loads(answer.text))


def test_no_answered_question_is_lost() -> None:
    """As many questions as before are asked in all their parts."""
    open_questions = {row["id"] for row in QUESTIONS if row["standing"] == NOT_YET}
    assert len({row["id"] for row in QUESTIONS} - open_questions) >= ANSWERED


def test_the_table_says_what_each_row_rests_on() -> None:
    """Every row has a source, what was printed, the arithmetic or the reason, and is no row twice."""
    for row in QUESTIONS:
        assert None not in row
        assert row["standing"] in STANDINGS, name_of(row)
        assert all(row[column] for column in ("id", "topic", "question", "source", "published", "why")), name_of(row)
        if row["standing"] != NOT_YET:
            assert row["check"] in CHECKS, name_of(row)
            assert row["expected"], name_of(row)
            assert (row["check"] == "problem") == (row["standing"] == REFUSED), name_of(row)
    assert max(Counter(map(name_of, QUESTIONS)).values()) == 1
