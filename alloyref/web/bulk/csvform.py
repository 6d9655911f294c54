"""Rows as csv (RFC 4180): a head, quotes, line ends within quotes; a bad row costs one row."""

from __future__ import annotations

import csv
import io
from collections import deque
from collections.abc import Iterator
from typing import Any

from alloyref.domain.errors import InvalidInput, Issue
from alloyref.web.bulk.columns import check_head, result_columns, safe_cell
from alloyref.web.bulk.fastlane import Answered, FastLane, Found, Shape, Unknown
from alloyref.web.bulk.form import (
    ERROR,
    MOST_PROPORTIONS,
    NOT_UTF8,
    SUMMARY,
    Asked,
    Bench,
    Piece,
    RowError,
    Total,
    ask,
)
from alloyref.web.bulk.lines import FOREIGN, MOST_LINE, lines_of, parts_of, size_of
from alloyref.web.bulk.proportion import Proportion, proportion, split_number
from alloyref.web.csvtext import FORMULA_START, separator

TOO_LONG = Issue("too-long", f"A row may have at most {MOST_LINE} bytes.")
Cells = list[str]
NOTHING = Piece(b"", rows=0)
"""So that others may have their turn."""


class _Echo:
    """Lets csv.writer hand back the text of a row."""

    @staticmethod
    def write(text: str) -> str:
        return text


class CsvForm:
    """Answers csv rows; the first row is the head."""

    def __init__(self, asked: Asked, bench: Bench) -> None:
        self._asked, self._bench = asked, bench
        self._columns = result_columns(asked.calculation.result)
        self._mark, self._separator = asked.mark, separator(asked.mark)
        self._write: Any = csv.writer(_Echo(), delimiter=self._separator).writerow
        self._pending: list[str] = []
        self._head: Cells | None = None
        self._kept: list[int] = []
        self._main: int | None = None
        self._lane: FastLane | None = None
        self._ahead: deque[tuple[bytes, Found]] = deque()
        # How many lines went before, and how many bytes of those to come are read a line a row.
        self._line, self._alone = 0, 0
        self._proportions: dict[tuple[str, ...], Proportion | None] = {}

    def take(self, block: bytes, last: bool) -> Iterator[Piece | Found]:
        """Answer the rows that end within these lines; the head is answered with its own row, not counted."""
        if self._head is None and self._bench.polars is not None:
            # The head first and alone: what comes after it can go by columns then.
            cut = block.find(b"\n") + 1
            yield from self._by_rows(block[:cut], False)
            block = block[cut:]
        if self._lane is not None and not last:
            if block:
                self._ahead.append((block, self._lane.begin(block)))
            while self._ahead and (len(self._ahead) > self._lane.ahead or self._ahead[0][1].done()):
                yield from self._next_ahead(self._lane)
            return
        while self._ahead and self._lane is not None:
            yield from self._next_ahead(self._lane)
        yield from self._by_rows(block, last)

    def _next_ahead(self, lane: FastLane) -> Iterator[Piece | Found]:
        """The block whose turn it is, by columns if that serves; what a quote runs on into is read by rows."""
        block, found = self._ahead.popleft()
        if not found.done():
            yield found
        answered = found.result()
        if isinstance(answered, Unknown):
            for _ in lane.learn(answered.keys):
                yield NOTHING
            found = lane.begin(block)
            yield found
            answered = found.result()
        if isinstance(answered, Answered) and not self._pending:
            self._line += answered.rows
            self._alone = max(0, self._alone - len(block))
            yield from self._spliced(answered, block)
        else:
            yield from self._by_rows(block, False)

    def _by_rows(self, block: bytes, last: bool) -> Iterator[Piece]:
        *before, end = parts_of(block)
        for part in before:
            yield from self._part_by_rows(part, False)
        yield from self._part_by_rows(end, last)

    def _part_by_rows(self, block: bytes, last: bool) -> Iterator[Piece]:
        lines = [*self._pending, *lines_of(block)]
        self._pending = []
        plain = not any('"' in line for line in lines)
        for row, issue in self._rows(lines, last, plain):
            if self._head is None:
                yield self._begin(row, issue)
            elif issue is not None:
                yield self._bad(row, (issue,))
            else:
                yield self._answer(row, plain)
        self._line += len(lines) - len(self._pending)

    def summary(self, total: Total) -> bytes:
        """A row that is empty but for the error column, which says so."""
        words = f"{SUMMARY}: rows={total.rows} errors={total.errors} sha256={total.digest}"
        blank = [""] * (len(self._head or ()) + len(self._columns))
        return self._encoded([*blank, words])

    def _encoded(self, cells: Cells) -> bytes:
        return str(self._write(cells)).encode()

    def _rows(self, lines: list[str], last: bool, plain: bool) -> Iterator[tuple[Cells, Issue | None]]:
        """Rows, or what could be read of one with the reason why it is bad. Empty lines are no rows.

        A quote that is not closed as it must be would swallow what follows, so it costs its first line only; the
        lines after it that were read in vain are each read as a row, so that none is read more than twice. What is
        bad, and why, does not hang on where an arrival ends.
        """
        foreign = not all(map(str.isascii, lines)) and any(map(FOREIGN.search, lines))
        # Only a quote or a long line makes a long row; a character has at most four bytes.
        long = not plain or max(map(len, lines), default=0) > MOST_LINE // 4
        start = 0
        while start < len(lines):
            if self._alone > 0:
                self._alone -= size_of(lines[start : start + 1])
                yield from self._row_alone(lines[start], self._line + start)
                start += 1
                continue
            # Not islice, which would walk to its start again after each bad row.
            rest = map(lines.__getitem__, range(start, len(lines)))
            reader = csv.reader(rest, delimiter=self._separator, strict=True)
            begun = start
            issue: Issue | None = None
            try:
                for row in reader:
                    first, begun = begun, start + reader.line_num
                    if long and size_of(lines[first:begun]) > MOST_LINE:
                        begun, issue = first, TOO_LONG
                        break
                    if row:
                        yield row, NOT_UTF8 if foreign and any(map(FOREIGN.search, lines[first:begun])) else None
            except csv.Error as error:
                issue = _not_csv(error)
                open_ended = "unexpected end" in str(error)
                read = lines[begun : start + reader.line_num]
                if open_ended and not last and size_of(read) <= MOST_LINE:
                    self._pending = read
                    return
                if not open_ended and len(read) == 1 and size_of(read) <= MOST_LINE:
                    start += reader.line_num
                    yield [], issue
                    continue
            if issue is None:
                return
            yield [], self._in_vain(lines[begun : start + reader.line_num], self._line + begun)
            start = begun + 1

    def _in_vain(self, read: list[str], before: int) -> Issue:
        """Why these lines make no row; those after the first are then read as rows of their own."""
        if size_of(read[:1]) > MOST_LINE:
            return TOO_LONG
        self._alone = _reach(read[1:], read[0])
        return _unclosed(before)

    def _row_alone(self, line: str, before: int) -> Iterator[tuple[Cells, Issue | None]]:
        """A line as the row it is by itself, with so many lines before it; an empty one is none."""
        if size_of([line]) > MOST_LINE:
            yield [], TOO_LONG
            return
        try:
            for row in csv.reader([line], delimiter=self._separator, strict=True):
                if row:
                    yield row, NOT_UTF8 if FOREIGN.search(line) else None
        except csv.Error as error:
            yield [], _unclosed(before) if "unexpected end" in str(error) else _not_csv(error)

    def _begin(self, row: Cells, issue: Issue | None) -> Piece:
        if issue is not None:
            raise InvalidInput(issue)
        names = [name.strip() for name in row]
        asked = self._asked
        check_head(names, asked.calculation.inputs, asked.keep, asked.mark)
        self._head = names
        self._kept = [place for place, name in enumerate(names) if name in asked.keep]
        if asked.calculation.proportional in names:
            self._main = names.index(asked.calculation.proportional)
            if self._bench.polars is not None:
                shape = Shape(len(names), self._main, tuple(self._kept), asked.mark)
                self._lane = FastLane(self._bench.polars, shape, self._proportion)
        return Piece(self._encoded([*self._safe(row), *(column.name for column in self._columns), ERROR]), rows=0)

    def _answer(self, row: Cells, plain: bool) -> Piece:
        if self._main is not None and len(row) == len(self._head or ()):
            found = self._by_proportion(row, self._main, plain)
            if found is not None:
                return Piece(found.encode())
        try:
            _, result = self._ask(row)
        except RowError as error:
            return self._bad(row, error.issues)
        return Piece(self._encoded([*self._safe(row), *(one.text(result, self._mark) for one in self._columns), ""]))

    def _safe(self, row: Cells) -> Cells:
        return [safe_cell(text, self._mark) for text in row]

    def _ask(self, row: Cells) -> tuple[Any, Any]:
        """Inputs and result of a row; an empty cell is a field not given."""
        names = self._head or []
        if len(row) != len(names):
            raise RowError((Issue("wrong-length", f"This row has {len(row)} cells, the head has {len(names)}."),))
        keep = self._asked.keep
        data = {name: text for name, text in zip(names, row, strict=True) if text and name not in keep}
        return ask(self._asked, data, self._bench)

    def _by_proportion(self, row: Cells, main: int, plain: bool) -> str | None:
        """The answered row by a run at 1 that is known already, or is made now; None where that does not serve."""
        number = split_number(row[main], self._mark)
        if number is None:
            return None
        like = row.copy()
        like[main] = "1" + number[1]
        for place in self._kept:
            like[place] = ""
        found = self._proportion(like)
        tail = None if found is None else found.text(number[0])
        if tail is None:
            return None
        if plain and not any(FORMULA_START.match(row[place]) for place in self._kept):
            return f"{self._separator.join(row)}{self._separator}{tail}\r\n"
        return f"{self._write(self._safe(row)).removesuffix(chr(13) + chr(10))}{self._separator}{tail}\r\n"

    def _proportion(self, like: Cells) -> Proportion | None:
        """The proportion of the rows that are like this one but for their number, from few runs."""
        key = tuple(like)
        if key not in self._proportions:
            if len(self._proportions) >= MOST_PROPORTIONS:
                self._proportions.clear()
            self._proportions[key] = self._run_at_one(like)
        return self._proportions[key]

    def _spliced(self, found: Answered, block: bytes) -> Iterator[Piece]:
        """The answered rows of a block, with those put in that have to be asked by themselves."""
        if not found.odd:
            yield Piece(found.text, found.rows)
            return
        answered, asked, start = io.BytesIO(found.text).readlines(), list(lines_of(block)), 0
        for place in found.odd:
            yield Piece(b"".join(answered[start:place]), place - start)
            for row, issue in self._row_alone(asked[place], place):
                yield self._answer(row, True) if issue is None else self._bad(row, (issue,))
            start = place + 1
        yield Piece(b"".join(answered[start:]), found.rows - start)

    def _run_at_one(self, like: Cells) -> Proportion | None:
        try:
            at_one = self._ask(like)
        except RowError:
            return None
        return proportion(self._asked.calculation, self._columns, at_one, self._write, self._mark)

    def _bad(self, row: Cells, issues: tuple[Issue, ...]) -> Piece:
        """A row without an answer: its cells, as many as the head has, and why."""
        width = len(self._head or ())
        cells = [_printable(text[:MOST_LINE]) for text in row[:width]] if len(row) <= width * 2 else []
        blank = [""] * (width - len(cells) + len(self._columns))
        words = safe_cell("; ".join(map(_words, issues)))
        return Piece(self._encoded([*self._safe(cells), *blank, words]), errors=1)


def _not_csv(error: csv.Error) -> Issue:
    return Issue("not-csv", f"This row is not csv: {error}.")


def _unclosed(before: int) -> Issue:
    where = f"A quote is opened in line {before + 1} and not closed at the end of a cell within {MOST_LINE} bytes."
    return Issue("not-csv", where)


def _reach(lines: list[str], after: str) -> int:
    """The bytes of these lines, up to the one that makes a row with the line before them too long."""
    reach, most = 0, MOST_LINE - size_of([after])
    for line in lines:
        reach += size_of([line])
        if reach > most:
            break
    return reach


def _words(issue: Issue) -> str:
    """An issue as the error column tells it: the column, what is wrong, and the code for programs."""
    place = issue.pointer.removeprefix("/")
    return _printable(f"{place}: {issue.detail} [{issue.code}]" if place else f"{issue.detail} [{issue.code}]")


def _printable(text: str) -> str:
    return text.encode("utf-8", "replace").decode()
