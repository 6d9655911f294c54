"""Rows as newline-delimited JSON: one object a line, given back with its result and its error."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import orjson

from alloyref.domain.calculation import asked_unit
from alloyref.domain.errors import Issue
from alloyref.web.bulk.form import (
    ERROR,
    MOST_PROPORTIONS,
    NOT_UTF8,
    RESULT,
    SUMMARY,
    Asked,
    Bench,
    Piece,
    RowError,
    Total,
    ask,
)
from alloyref.web.bulk.jsonproportion import json_proportion, json_text, split_member
from alloyref.web.bulk.lines import FOREIGN, MOST_LINE, lines_of, size_of
from alloyref.web.bulk.proportion import Proportion
from alloyref.web.schemas.document import parse
from alloyref.web.schemas.fields import NOT_AN_OBJECT
from alloyref.web.schemas.write import Writer

LINE = "line"
SHOWN = 200
RESERVED = (RESULT, ERROR)


class JsonForm:
    """Answers JSON rows: the members as they came, then `result` as a single answer has it, and `error`."""

    def __init__(self, asked: Asked, bench: Bench) -> None:
        self._asked, self._bench = asked, bench
        self._proportions: dict[str, Proportion | None] = {}

    def take(self, block: bytes, last: bool) -> Iterator[Piece]:
        """Answer these lines, each a row; empty lines are no rows."""
        for line in lines_of(block):
            text = line.strip(" \t\r\n")
            if text:
                yield self._answer(text)

    def summary(self, total: Total) -> bytes:
        """An object whose one member is the summary."""
        document = {SUMMARY: {"rows": total.rows, "errors": total.errors, "sha256": total.digest}}
        return orjson.dumps(document) + b"\n"

    def _answer(self, text: str) -> Piece:
        try:
            row = _row(text)
        except RowError as error:
            shown = text[:SHOWN].encode("utf-8", "replace").decode()
            return _piece(orjson.dumps({LINE: shown}).decode(), b"null", _issues(error.issues))
        given = {name: value for name, value in row.items() if name not in self._asked.keep and value is not None}
        known = self._by_proportion(given)
        if known is not None:
            return _piece(text, known.encode(), b"null")
        try:
            inputs, result = ask(self._asked, given, self._bench)
        except RowError as error:
            return _piece(text, b"null", _issues(error.issues))
        return _piece(text, orjson.dumps(self._writer(inputs)(result)), b"null")

    def _writer(self, inputs: Any) -> Writer:
        """The writer of the result, which says masses in the unit they came in too."""
        return self._bench.writers.answering_in(asked_unit(inputs)).record(self._asked.calculation.result)

    def _by_proportion(self, given: dict[str, Any]) -> str | None:
        """The result by a run at 1 that is known already, or is made now; None where that does not serve."""
        main = self._asked.calculation.proportional
        split = None if main is None else split_member(given, main)
        if split is None:
            return None
        number, like = split
        key = repr(like)
        if key not in self._proportions:
            if len(self._proportions) >= MOST_PROPORTIONS:
                self._proportions.clear()
            self._proportions[key] = self._run_at_one(like)
        found = self._proportions[key]
        return None if found is None else json_text(found, number)

    def _run_at_one(self, like: dict[str, Any]) -> Proportion | None:
        try:
            at_one = ask(self._asked, like, self._bench)
        except RowError:
            return None
        write = self._writer(at_one[0])
        return json_proportion(self._asked.calculation, at_one, write, self._bench.reference.units)


def _row(text: str) -> dict[str, Any]:
    """The object on a line, or `RowError` where there is none to give back."""
    if size_of([text]) > MOST_LINE:
        raise RowError((Issue("too-long", f"A row may have at most {MOST_LINE} bytes."),))
    if FOREIGN.search(text):
        raise RowError((NOT_UTF8,))
    try:
        row = parse(text)
    except ValueError as error:
        raise RowError((Issue("not-json", f"This row is not JSON: {error}"),)) from None
    if not isinstance(row, dict):
        raise RowError((NOT_AN_OBJECT,))
    taken = [name for name in RESERVED if name in row]
    if taken:
        raise RowError((Issue("contradiction", f"{taken[0]!r} is what the answer adds."),))
    return row


def _issues(issues: tuple[Issue, ...]) -> bytes:
    found = [
        {"pointer": one.pointer, "code": one.code, "detail": one.detail, "suggestions": list(one.suggestions)}
        for one in issues
    ]
    try:
        return orjson.dumps(found)
    except TypeError:  # a name with half of a surrogate pair, which JSON can spell
        return orjson.dumps([{**one, "pointer": "", "detail": str(one["code"])} for one in found])


def _piece(members: str, result: bytes, issues: bytes) -> Piece:
    inner = members[1:-1].strip()
    text = f'{{{inner}{"," if inner else ""}"{RESULT}":{result.decode()},"{ERROR}":{issues.decode()}}}\n'
    return Piece(text.encode(), errors=0 if issues == b"null" else 1)
