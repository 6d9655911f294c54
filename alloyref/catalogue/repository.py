"""Reading the reference database: the whole of it as domain objects, and the finder's questions as SQL."""

from __future__ import annotations

import json
import logging
from collections.abc import Collection
from decimal import Decimal
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement, Engine, Select, func, select

from alloyref.catalogue import tables
from alloyref.catalogue.build import KINDS, converter, ensure_built, open_read_only
from alloyref.catalogue.reader import Change
from alloyref.domain.finder import AlloyQuery
from alloyref.domain.metal import KARATS
from alloyref.domain.reference import Reference
from alloyref.domain.units import Units

log = logging.getLogger("alloyref")
HALF_KARAT = Decimal("0.5")


class ReferenceStore:
    """The reference database behind an engine; nothing here writes."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine

    def _entries(self) -> dict[str, list[Any]]:
        convert = converter()
        found: dict[str, list[Any]] = {kind: [] for kind in KINDS}
        wanted = select(tables.entries.c.kind, tables.entries.c.document).order_by(
            tables.entries.c.kind, tables.entries.c.position
        )
        with self._engine.connect() as connection:
            for kind, document in connection.execute(wanted):
                found[kind].append(convert.structure(json.loads(document), KINDS[kind]))
        return found

    def load(self) -> tuple[Reference, tuple[Change, ...]]:
        """Everything as domain objects, and the dataset's changelog."""
        found = self._entries()
        reference = Reference(
            dataset=found["dataset"][0],
            units=Units(found["unit"], found["unit-name"]),
            elements={one.symbol: one for one in found["element"]},
            alloys={one.id: one for one in found["alloy"]},
            patterns={one.id: one for one in found["pattern"]},
            stones={one.id: one for one in found["stone"]},
            rules={one.id: one for one in found["rule"]},
            constants={one.id: one for one in found["constant"]},
            cautions=found["caution"],
            bench_notes=found["bench-note"],
            marks=found["mark"],
            gauges=found["gauge"],
            ring_sizes=found["ring-size"],
            colour_designations=found["colour-designation"],
            sources={one.id: one for one in found["source"]},
            density_terms=found["density-term"],
            density_limits=found["density-limit"],
            melting=found["melting"][0],
            melting_parameters=found["melting-parameter"],
            trade_names={one.id: one for one in found["trade-name"]},
        )
        return reference, tuple(found["change"])

    def find(self, query: AlloyQuery, among: Collection[str] | None = None) -> tuple[tuple[str, ...], int]:
        """The ids of one page of alloys that answer the query, and how many answer it in all; `among` narrows both.

        Raises `InvalidInput` for a question that contradicts itself.
        """
        query.check()
        matching = select(tables.alloys.c.id).where(*_conditions(query))
        if among is not None:
            matching = matching.where(tables.alloys.c.id.in_(sorted(among)))
        with self._engine.connect() as connection:
            count = connection.scalar(select(func.count()).select_from(matching.subquery())) or 0
            page = _ordered(matching, query.sort).limit(query.page_size).offset((query.page - 1) * query.page_size)
            return tuple(connection.scalars(page)), count


def _ordered(matching: Select[Any], sort: str) -> Select[Any]:
    """In the order asked for, alloys without the value last, ties by id."""
    column = tables.alloys.c[sort.removeprefix("-")]
    direction = column.desc() if sort.startswith("-") else column.asc()
    return matching.order_by(column.is_(None), direction, tables.alloys.c.id)


def _conditions(query: AlloyQuery) -> list[ColumnElement[bool]]:
    alloy = tables.alloys.c
    found: list[ColumnElement[bool]] = [
        column == value
        for column, value in (
            (alloy.base, query.base),
            (alloy.family, query.family),
            (alloy.colour, query.colour),
        )
        if value is not None
    ]
    if query.fineness_min is not None:
        found.append(alloy.fineness >= float(query.fineness_min))
    if query.fineness_max is not None:
        found.append(alloy.fineness <= float(query.fineness_max))
    if query.karat is not None:
        ends = [float((query.karat + off) * 1000 / KARATS) for off in (-HALF_KARAT, HALF_KARAT)]
        found += [alloy.base == "Au", alloy.fineness >= ends[0], alloy.fineness <= ends[1]]
    holding = select(tables.parts.c.alloy)
    found += [alloy.id.in_(holding.where(tables.parts.c.element == symbol)) for symbol in query.contains]
    found += [alloy.id.not_in(holding.where(tables.parts.c.element == symbol)) for symbol in query.free_of]
    if query.use is not None:
        found.append(alloy.id.in_(select(tables.uses.c.alloy).where(tables.uses.c.use == query.use)))
    if query.q is not None:
        found += [alloy.words.contains(word, autoescape=True) for word in query.q.casefold().split()]
    return found


def open_store(data_files: Path, folder: Path) -> ReferenceStore:
    """The store of this content, built first if need be."""
    return ReferenceStore(open_read_only(ensure_built(data_files, folder)))


def open_held(folder: Path, hash_: str) -> Reference | None:
    """The data of another version, if an earlier program left it built in `folder` and this one can read it."""
    path = folder / f"reference-{hash_}.sqlite"
    if not path.is_file():
        return None
    try:
        return ReferenceStore(open_read_only(path)).load()[0]
    except Exception:
        # Another program wrote it: whatever this one cannot make sense of, it does not hold.
        log.exception("the data of %s cannot be read", path)
        return None
