"""Blocks of plain csv rows answered column by column with polars, where it is installed.

A row stays one piece of text, to which its results are appended; only its number, what has to be looked at, and the
rest, by which its proportion is found, are cut out. Whatever is not plain is left to the way that reads row by row: a
block with quotes or bytes that are not UTF-8, and each row whose number, key or rounding is not beyond doubt.

Blocks are answered in threads of their own, three at a time: polars lets go of the interpreter while it works.
"""

from __future__ import annotations

import importlib
import importlib.util
import io
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

from alloyref.domain.numbers import POINT
from alloyref.web.bulk.proportion import DIGITS, DOUBT, Proportion
from alloyref.web.csvtext import FORMULA, separator

WORTH_BYTES = 2_000_000
"""From this size of a body on, loading polars pays."""
BLOCK_BYTES = 1_000_000
"""A block of this size is answered fastest for each of its rows."""
AT_A_TIME = 3
AHEAD = AT_A_TIME + 1
MOST_KNOWN = 2000
LONG_CELL = 100
KEY_SEPARATOR, NO_SEPARATOR = "\x1f", "\x01"
NUMBER = rf"^{DIGITS}$"
NUMBER_AND_UNIT = rf"^({DIGITS})((?: *[A-Za-z\[].*)?)$"
EXPONENT = r"^ *[eE][+-]?[0-9]"
NOT_SAFE = rf"{FORMULA}|\r"
Look = Callable[[list[str]], Proportion | None]


def load_polars() -> Any:
    """Polars, or None where it is not installed; takes some tenths of a second the first time."""
    return importlib.import_module("polars") if importlib.util.find_spec("polars") else None


@cache
def _threads() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(AT_A_TIME, thread_name_prefix="bulk")


@dataclass(frozen=True, slots=True)
class Answered:
    """The answered rows of a block, and the places of those that have to be asked by themselves."""

    text: bytes
    rows: int
    odd: list[int]


@dataclass(frozen=True, slots=True)
class Unknown:
    """The keys of a block, some of which have not been looked up yet."""

    keys: list[str]


@dataclass(frozen=True, slots=True)
class Shape:
    """Which cells a row has: how many, which is the number, which are carried along, and how they are written."""

    width: int
    main: int
    kept: tuple[int, ...] = ()
    mark: str = POINT

    @property
    def separator(self) -> str:
        """What parts the cells."""
        return separator(self.mark)

    @property
    def cut(self) -> int:
        """Into how many parts a row is cut: what is looked at cell by cell, and the rest in one."""
        return min(max((self.main, *self.kept)) + 2, self.width)

    @property
    def like(self) -> list[int]:
        """The parts that make the key."""
        return [part for part in range(self.cut) if part != self.main and part not in self.kept]


class _Table:
    """The proportions found so far by key, None where there is none. Never changed: threads read it."""

    def __init__(self, polars: Any, known: dict[str, Proportion | None]) -> None:
        self._pl, self.known = polars, known
        self.one = next((found for found in known.values() if found is not None), None)

    @cached_property
    def frame(self) -> Any:
        """Factors, bounds and the texts between the numbers, by key; a bound below zero where there is none."""
        pl, one = self._pl, self.one
        columns: dict[str, Any] = {"key": pl.Series(list(self.known), dtype=pl.String)}
        found = list(self.known.values())
        columns["most"] = pl.Series([-1.0 if p is None else p.most for p in found], dtype=pl.Float64)
        if one is not None:
            for at, decimals in enumerate(one.decimals):
                columns[f"f{at}"] = [0.0 if p is None else p.factors[at] * 10**decimals for p in found]
            for at, text in enumerate(one.between):
                if text is not None:
                    columns[f"t{at}"] = ["" if p is None else p.between[at] for p in found]
        return pl.DataFrame(columns)


Found = Future[Answered | Unknown | None]


class FastLane:
    """Answers blocks by the proportions that `look` gives for a row with 1 in place of its number."""

    def __init__(self, polars: Any, shape: Shape, look: Look) -> None:
        self._pl, self._shape, self._look = polars, shape, look
        self._table = _Table(polars, {})

    @property
    def ahead(self) -> int:
        """How many blocks to begin before the first is done; none while no key is known."""
        return AHEAD if self._table.known else 0

    def begin(self, block: bytes) -> Found:
        """Have a thread answer a block."""
        return _threads().submit(self.answer, block)

    def learn(self, keys: Iterable[str]) -> Iterator[None]:
        """Look these keys up, so that a block that has no others is answered next time; pauses after each."""
        known, fresh = self._table.known, dict[str, Proportion | None]()
        for key in keys:
            fresh[key] = known[key] if key in known else self._proportion(key)
            yield
        whole = {**known, **fresh}
        self._table = _Table(self._pl, whole if len(whole) <= MOST_KNOWN else fresh)

    def answer(self, block: bytes) -> Answered | Unknown | None:
        """The block's rows answered, its keys if some are unknown yet, or None where it is not plain."""
        if b'"' in block or KEY_SEPARATOR.encode() in block or not block.endswith(b"\n"):
            return None
        if block.count(b"\n") * self._shape.width > len(block):
            # Rows too short to have all cells: cut into as many columns, they would fill the memory.
            return None
        pl = self._pl
        try:
            frame = pl.read_csv(
                block,
                has_header=False,
                schema={"line": pl.String},
                separator=NO_SEPARATOR,
                quote_char=None,
                empty_string_is_null=False,
            )
        except pl.exceptions.PolarsError:
            return None
        return self._answer(frame) if frame.height == block.count(b"\n") else None

    def _answer(self, frame: Any) -> Answered | Unknown | None:
        pl, table = self._pl, self._table
        frame = self._cut(frame).join(table.frame, on="key", how="left", maintain_order="left")
        if frame["most"].null_count():
            keys = set(frame.filter(pl.col("most").is_null())["key"].drop_nulls().unique().to_list())
            if keys:
                keys |= set(frame["key"].drop_nulls().unique().to_list())
                return None if len(keys) > max(64, frame.height // 8) else Unknown(sorted(keys))
        if table.one is None:
            return None
        numbers = range(len(table.one.factors))
        frame = frame.with_columns((pl.col("x") * pl.col(f"f{at}")).alias(f"s{at}") for at in numbers)
        frame = frame.with_columns(pl.col(f"s{at}").round().alias(f"r{at}") for at in numbers)
        odd = frame.select(self._is_odd(numbers).alias("odd"))["odd"].arg_true().to_list()
        if len(odd) * 2 > frame.height:
            return None
        return Answered(self._text(frame, table.one), frame.height, odd)

    def _cut(self, frame: Any) -> Any:
        """Each row with its number `x`, its key, and the cells carried along; null where it is not plain."""
        pl, shape = self._pl, self._shape
        parts = pl.col("line").str.splitn(shape.separator, shape.cut).struct
        names = [f"c{part}" for part in range(shape.cut)]
        frame = frame.with_columns(parts.rename_fields(names).struct.unnest())
        main = pl.col(f"c{shape.main}")
        if shape.mark != POINT:
            point = main.str.replace(shape.mark, POINT, literal=True)
            main = pl.when(main.str.contains(POINT, literal=True)).then(main).otherwise(point)
        parts = [pl.col(f"c{part}") for part in shape.like]
        if frame.select(main.str.contains(NUMBER).all()).item():
            number = main
        else:
            unit = main.str.extract(NUMBER_AND_UNIT, 2)
            number = pl.when(~unit.str.contains(EXPONENT)).then(main.str.extract(NUMBER_AND_UNIT, 1))
            parts.insert(0, unit)
        key = parts[0] if len(parts) == 1 else pl.concat_str(parts or [pl.lit("")], separator=KEY_SEPARATOR)
        return frame.with_columns(number.cast(pl.Float64).alias("x"), key.alias("key"))

    def _proportion(self, key: str) -> Proportion | None:
        """The proportion of a key: a unit, where the number has one, and the parts of a row but for the number."""
        shape, parts = self._shape, key.split(KEY_SEPARATOR)
        unit = parts.pop(0) if len(parts) > len(shape.like) else ""
        like = [""] * shape.width
        for place, part in zip(shape.like, parts, strict=True):
            cells = part.split(shape.separator)
            if len(cells) != (shape.width - place if place == shape.cut - 1 else 1):
                return None
            like[place : place + len(cells)] = cells
        if "\r" in key or shape.separator in unit:
            return None
        like[shape.main] = "1" + unit
        return self._look(like)

    def _is_odd(self, numbers: range) -> Any:
        """Whether a row is not beyond doubt: its number, its key, a rounding, or a cell to be made safe."""
        pl, x = self._pl, self._pl.col("x")
        sure = (x > 0) & (x <= pl.col("most"))
        for at in numbers:
            scaled = pl.col(f"s{at}")
            sure &= (scaled - pl.col(f"r{at}")).abs() < 0.5 - scaled * DOUBT
        for place in self._shape.kept:
            cell = pl.col(f"c{place}")
            sure &= ~cell.str.contains(NOT_SAFE) & (cell.str.len_bytes() < LONG_CELL)
            if place == self._shape.cut - 1:
                sure &= ~cell.str.contains(self._shape.separator, literal=True)
        return ~sure.fill_null(value=False)

    def _text(self, frame: Any, one: Proportion) -> bytes:
        """The rows as csv; nothing in them needs a quote that has none already."""
        pl = self._pl
        columns = [pl.col("line")]
        for at, between in enumerate(one.between):
            if between is not None:
                columns.append(pl.col(f"t{at}"))
            if at < len(one.decimals):
                decimals = one.decimals[at]
                exact = (pl.col(f"r{at}") / 10**decimals).cast(pl.Decimal(18, decimals), strict=False)
                columns.append(exact.alias(f"d{at}"))
        out = io.BytesIO()
        frame.select(columns).write_csv(
            out,
            include_header=False,
            quote_style="never",
            line_terminator="\r\n",
            separator=self._shape.separator,
            decimal_comma=self._shape.mark != POINT,
        )
        return out.getvalue()
