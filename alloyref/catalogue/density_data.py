"""The tables of the density model: the published rows it rests on, its terms, and how far it may err."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from alloyref.catalogue.text import DatasetError, Row, parse_shares
from alloyref.domain.composition import THOUSAND, Composition
from alloyref.domain.density import MixingTerm
from alloyref.domain.density_range import DensityLimit, LimitKind
from alloyref.domain.errors import AlloyrefError

MEASURED_COLUMNS = "row,composition,use,note"
TERM_COLUMNS = "first,second,value,fades,status,source,rows"
LIMIT_COLUMNS = "id,kind,elements,least,most,error,rows,basis"


class Use(StrEnum):
    """What a published density does for the model."""

    FIT = "fit"
    ASIDE = "aside"
    """Kept aside from choosing and fitting terms; compared with the model afterwards."""
    OUT = "out"
    """Read, but no measurement to rest on; the note says why."""


@dataclass(frozen=True, slots=True)
class MeasuredDensity:
    """One published density of one composition, by `source/row`, and what it is used for."""

    row: str
    composition: Composition
    density: Decimal
    use: Use
    note: str


def measured_density(row: Row, printed: Mapping[str, Row], elements: Collection[str]) -> MeasuredDensity:
    """One row of `density_measured.csv`, with the density as the publication prints it."""
    name = row.text("row")
    source = printed.get(name)
    if source is None:
        raise DatasetError(f"{row.place}: no publication has the row {name}")
    shares = parse_shares(row.text("composition"), row.place)
    if sum(shares.values()) != THOUSAND:
        raise DatasetError(f"{row.place}: the composition sums to {sum(shares.values())}, not 1000")
    try:
        composition, use = Composition.from_permille(shares, elements), Use(row.text("use"))
    except (AlloyrefError, ValueError) as error:
        raise DatasetError(f"{row.place}: {error}") from None
    if use is Use.OUT and not row.maybe("note"):
        raise DatasetError(f"{row.place}: a row that is left out needs a note that says why")
    return MeasuredDensity(name, composition, source.decimal("density"), use, row.maybe("note"))


def mixing_term(row: Row) -> MixingTerm:
    """One row of `density_terms.csv`."""
    first, second, fades = row.text("first"), row.text("second"), row.maybe_decimal("fades")
    if fades is not None and not 0 < fades <= THOUSAND:
        raise DatasetError(f"{row.place}: a term cannot fade over {fades} permille")
    status, source, rows = row.status("status"), row.text("source"), row.words("rows")
    return MixingTerm(first, second, row.decimal("value"), fades, status, source, rows)


def density_limits(rows: Iterable[Row]) -> tuple[DensityLimit, ...]:
    """The rows of `density_limits.csv`; exactly one of them, beside the fields, names no elements."""
    limits = tuple(_limit(row) for row in rows)
    others = [limit.id for limit in limits if limit.kind is LimitKind.BESIDE and not limit.elements]
    if len(others) != 1:
        raise DatasetError("density_limits.csv: exactly one limit beside the fields is for all other elements")
    return limits


def _limit(row: Row) -> DensityLimit:
    try:
        kind = LimitKind(row.text("kind"))
    except ValueError as error:
        raise DatasetError(f"{row.place}: {error}") from None
    rows = row.decimal("rows")
    if rows != int(rows) or rows < 0:
        raise DatasetError(f"{row.place}: rows is a count")
    part = row.decimal("error")
    if not 0 < part < 1:
        raise DatasetError(f"{row.place}: an error of {part} cannot be")
    return DensityLimit(
        row.text("id"),
        kind,
        row.words("elements"),
        parse_shares(row.maybe("least"), row.place),
        parse_shares(row.maybe("most"), row.place),
        part,
        int(rows),
        row.text("basis"),
    )
