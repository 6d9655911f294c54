"""Blocks of plain csv rows answered column by column with polars, where it is installed.

Whatever is not plain is left to the way that reads row by row: a block with quotes, cells too few or too many, or
bytes that are not UTF-8; and within a block each row whose number, key or rounding is not beyond doubt.
"""

from __future__ import annotations

import importlib
import importlib.util
import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from alloyref.web.bulk.proportion import DOUBT, Proportion

WORTH_BYTES = 2_000_000
"""From this size of a body on, loading polars pays."""
MOST_SCALED = 1e14
LONG_CELL = 100
SEPARATOR = "\x1f"
WHOLE_NUMBER = r"^[0-9]{1,9}(?:\.[0-9]{1,12})?$"
NUMBER_AND_UNIT = r"^([0-9]{1,9}(?:\.[0-9]{1,12})?)((?: *[A-Za-z\[].*)?)$"
EXPONENT = r"^ *[eE][+-]?[0-9]"
NOT_SAFE = r"^[=+\-@\t\r]"
Look = Callable[[list[str]], Proportion | None]


def load_polars() -> Any:
    """Polars, or None where it is not installed; takes some tenths of a second the first time."""
    return importlib.import_module("polars") if importlib.util.find_spec("polars") else None


@dataclass(frozen=True, slots=True)
class Answered:
    """The answered rows of a block, and the places of those that have to be asked by themselves."""

    text: str
    rows: int
    odd: list[int]


class FastLane:
    """Answers blocks by the proportions that `look` gives for a row with 1 in place of its number."""

    def __init__(self, polars: Any, width: int, main: int, kept: list[int], look: Look) -> None:
        self._pl, self._look = polars, look
        self._names = [f"c{place}" for place in range(width)]
        self._main, self._kept = main, kept
        self._like = [place for place in range(width) if place != main and place not in kept]

    def answer(self, block: bytes) -> Answered | None:
        """The block's rows answered, or None where it is not plain."""
        if b'"' in block or not block.endswith(b"\n"):
            return None
        plain = block.replace(b"\r\n", b"\n")
        rows = plain.count(b"\n")
        if b"\r" in plain or plain.count(b",") != rows * (len(self._names) - 1):
            return None
        pl = self._pl
        try:
            frame = pl.read_csv(
                plain,
                has_header=False,
                schema=dict.fromkeys(self._names, pl.String),
                quote_char=None,
                empty_string_is_null=False,
            )
        except pl.exceptions.PolarsError:
            return None
        return self._answer(frame) if frame.height == rows else None

    def _answer(self, frame: Any) -> Answered | None:
        pl = self._pl
        frame = frame.with_columns(*self._number(frame))
        key = [pl.col("unit"), *(pl.col(f"c{place}") for place in self._like)]
        frame = frame.with_columns(key=pl.concat_str(key, separator=SEPARATOR))
        keys = frame["key"].unique().drop_nulls().to_list()
        if len(keys) > max(64, frame.height // 8):
            return None
        known = {key: found for key in keys if (found := self._proportion(key)) is not None}
        if not known:
            return None
        frame = frame.join(self._table(known), on="key", how="left", maintain_order="left")
        scales = next(iter(known.values())).scales
        scaled = [pl.col("x") * pl.col(f"f{at}") * scale for at, scale in enumerate(scales)]
        frame = frame.with_columns(*(one.alias(f"s{at}") for at, one in enumerate(scaled)))
        odd = frame.select(self._is_odd(len(scales)).alias("odd"))["odd"]
        return Answered(self._text(frame, known), frame.height, odd.arg_true().to_list())

    def _number(self, frame: Any) -> list[Any]:
        """The number of each row, null where it is not plain, and what follows it."""
        pl, main = self._pl, self._pl.col(f"c{self._main}")
        if frame.select(main.str.contains(WHOLE_NUMBER).all()).item():
            return [main.cast(pl.Float64).alias("x"), pl.lit("").alias("unit")]
        unit = main.str.extract(NUMBER_AND_UNIT, 2)
        number = pl.when(~unit.str.contains(EXPONENT)).then(main.str.extract(NUMBER_AND_UNIT, 1))
        return [number.cast(pl.Float64).alias("x"), unit.alias("unit")]

    def _proportion(self, key: str) -> Proportion | None:
        unit, *cells = key.split(SEPARATOR)
        if len(cells) != len(self._like):
            return None
        like = [""] * len(self._names)
        like[self._main] = "1" + unit
        for place, cell in zip(self._like, cells, strict=True):
            like[place] = cell
        return self._look(like)

    def _table(self, known: dict[str, Proportion]) -> Any:
        """Factors, bounds and the texts between the numbers, by key."""
        found = list(known.values())
        columns: dict[str, list[Any]] = {"key": list(known), "most": [one.most for one in found]}
        for at in range(len(found[0].factors)):
            columns[f"f{at}"] = [one.factors[at] for one in found]
        for at in range(len(found[0].between)):
            columns[f"t{at}"] = [one.between[at] for one in found]
        return self._pl.DataFrame(columns)

    def _is_odd(self, numbers: int) -> Any:
        """Whether a row is not beyond doubt: its number, its key, a rounding, or a cell to be made safe."""
        pl, x = self._pl, self._pl.col("x")
        sure = (x > 0) & (x <= pl.col("most"))
        for at in range(numbers):
            one = pl.col(f"s{at}")
            sure &= ((one - one.floor() - 0.5).abs() > one * DOUBT) & (one < MOST_SCALED)
        for place in self._kept:
            cell = pl.col(f"c{place}")
            sure &= ~cell.str.contains(NOT_SAFE) & (cell.str.len_bytes() < LONG_CELL)
        return ~sure.fill_null(value=False)

    def _text(self, frame: Any, known: dict[str, Proportion]) -> str:
        """The rows as csv; nothing in them needs a quote that has none already."""
        pl, one = self._pl, next(iter(known.values()))
        columns = [pl.col(name) for name in self._names]
        for at, between in enumerate(one.between):
            if between:
                columns.append(pl.col(f"t{at}"))
            if at < len(one.scales):
                scale = one.scales[at]
                decimal = pl.Decimal(18, len(str(int(scale))) - 1)
                columns.append((pl.col(f"s{at}").round() / scale).cast(decimal, strict=False).alias(f"r{at}"))
        out = io.BytesIO()
        frame.select(columns).write_csv(out, include_header=False, quote_style="never", line_terminator="\r\n")
        return out.getvalue().decode()
