"""One bulk request from its first byte to its last: counts, digest, and turns short enough to share a thread."""

from __future__ import annotations

import base64
import hashlib
import time
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Future, wait
from typing import Any

from werkzeug.http import parse_options_header

from alloyref.domain.errors import InvalidInput, Issue, unknown_field
from alloyref.domain.numbers import COMMA, POINT
from alloyref.services.calculations import CALCULATIONS
from alloyref.web.bulk.columns import check_keep
from alloyref.web.bulk.csvform import CsvForm
from alloyref.web.bulk.form import Asked, Bench, Form, Total
from alloyref.web.bulk.jsonform import JsonForm
from alloyref.web.bulk.lines import Blocks
from alloyref.web.problems import TYPES, problem_bytes

CSV, NDJSON = "text/csv", "application/x-ndjson"
FORMS: Mapping[str, type[CsvForm] | type[JsonForm]] = {CSV: CsvForm, NDJSON: JsonForm}
ANSWERED_AS = {CSV: "text/csv; charset=utf-8; header=present", NDJSON: NDJSON}
BULK = {one.name: one for one in CALCULATIONS.values() if one.bulk}
PARAMETERS = ("summary", "keep", "decimal")
TURN_SECONDS = 0.002
"""After so long a piece is handed out, and whoever runs this may look after others."""
RETRY_AFTER = "10"
"""Seconds until a disk may have room again."""


class Refusal(Exception):
    """A bulk request that is not answered row by row, as the problem it is."""

    def __init__(self, type_: str, detail: str, issues: tuple[Issue, ...] = ()) -> None:
        super().__init__(detail)
        self.type, self.detail, self.issues = type_, detail, issues

    @property
    def status(self) -> int:
        """Its status."""
        return TYPES[self.type].status

    @property
    def headers(self) -> list[tuple[str, str]]:
        """The headers that go with it beside those of every problem."""
        return [("retry-after", RETRY_AFTER)] if self.type == "busy" else []

    def body(self) -> bytes:
        """Its document."""
        return problem_bytes(self.type, self.detail, self.issues)


Step = bytes | Future[Any]
"""A piece of the answer, or something else that has to be done before it goes on."""


class Run:
    """Takes bytes as they arrive and gives the answer piece by piece."""

    def __init__(self, media: str, asked: Asked, bench: Bench) -> None:
        self.media = ANSWERED_AS[media]
        self.rows = self.errors = 0
        self._asked = asked
        self._form: Form = FORMS[media](asked, bench)
        self._blocks = Blocks()
        self._digest = hashlib.sha256()
        self._given = 0

    def take(self, data: bytes) -> Iterator[bytes]:
        """As `steps`, waiting where there is something to wait for."""
        return _waited(self.steps(data))

    def end(self) -> Iterator[bytes]:
        """As `last_steps`, waiting where there is something to wait for."""
        return _waited(self.last_steps())

    def steps(self, data: bytes, last: bool = False) -> Iterator[Step]:
        """Answer the rows that end within these bytes, a turn at a time; `Refusal` only before any row."""
        texts: list[bytes] = []
        ends = time.perf_counter() + TURN_SECONDS
        try:
            for piece in self._form.take(self._blocks.take(data, last), last):
                if isinstance(piece, Future):
                    if texts:
                        yield self._out(texts)
                        texts.clear()
                    yield piece
                    continue
                texts.append(piece.text)
                self.rows += piece.rows
                self.errors += piece.errors
                if time.perf_counter() > ends:
                    yield self._out(texts)
                    texts.clear()
                    ends = time.perf_counter() + TURN_SECONDS
        except InvalidInput as error:
            raise refused(error) from None
        if texts:
            yield self._out(texts)

    def last_steps(self) -> Iterator[Step]:
        """Answer what is left and, if asked for, sum up."""
        yield from self.steps(b"", last=True)
        if not self._given:
            raise Refusal("malformed", "The body is empty; it needs at least a head or a row.")
        if self._asked.summary:
            total = Total(self.rows, self.errors, self._digest.hexdigest())
            yield self._out([self._form.summary(total)])

    def content_digest(self) -> str:
        """The SHA-256 of all that was given out, as the header Content-Digest has it (RFC 9530)."""
        return f"sha-256=:{base64.b64encode(self._digest.digest()).decode()}:"

    def _out(self, texts: list[bytes]) -> bytes:
        out = b"".join(texts)
        self._digest.update(out)
        self._given += len(out)
        return out


def _waited(steps: Iterator[Step]) -> Iterator[bytes]:
    for step in steps:
        if isinstance(step, Future):
            wait([step])
        else:
            yield step


def begin(name: str, content_type: str, coding: str, parameters: Iterable[tuple[str, str]], bench: Bench) -> Run:
    """The run that a request asks for; `Refusal` for another media type or a wrong parameter."""
    media, options = parse_options_header(content_type)
    if media not in FORMS or options.get("charset", "utf-8").lower() not in ("utf-8", "us-ascii"):
        sent = content_type[:60] or "none"
        raise Refusal("wrong-media-type", f"Send the rows as {CSV} or {NDJSON} in UTF-8 (sent: {sent}).")
    if options.get("header", "").lower() == "absent":  # RFC 4180, section 3
        raise Refusal("wrong-media-type", "Send a head above the rows: it says which column is which.")
    if coding not in ("", "identity"):
        raise Refusal("wrong-media-type", "Send the body without a content coding.")
    try:
        return Run(media, _asked(name, media, parameters), bench)
    except InvalidInput as error:
        raise refused(error) from None


def _asked(name: str, media: str, parameters: Iterable[tuple[str, str]]) -> Asked:
    given: dict[str, str] = {}
    for parameter, value in parameters:
        if parameter not in PARAMETERS:
            raise InvalidInput(unknown_field(parameter, PARAMETERS))
        if parameter in given:
            raise InvalidInput.of("duplicate", f"{parameter} is given twice.", f"/{parameter}")
        given[parameter] = value
    if given.get("summary", "true") not in ("true", "false"):
        raise InvalidInput.of("not-a-flag", "summary is true or false.", "/summary", ("true", "false"))
    mark = given.get("decimal", POINT)
    if mark not in (POINT, COMMA):
        raise InvalidInput.of("not-an-option", "decimal is . or ,", "/decimal", (POINT, COMMA))
    if mark != POINT and media != CSV:
        raise InvalidInput.of("contradiction", "decimal is for csv; JSON has a decimal point.", "/decimal")
    keep = tuple(dict.fromkeys(one.strip() for one in given.get("keep", "").split(","))) if given.get("keep") else ()
    check_keep(keep, BULK[name].inputs)
    return Asked(BULK[name], keep, given.get("summary") == "true", mark)


def refused(error: InvalidInput) -> Refusal:
    """An error of the input as the problem it is."""
    count = len(error.issues)
    detail = error.issues[0].detail if count == 1 else f"{count} things are wrong with the input."
    return Refusal("invalid", detail, error.issues)
