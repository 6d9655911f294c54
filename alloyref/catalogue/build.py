"""Build the reference database from the text files: whole or not at all, once for each content."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

from cattrs import Converter
from sqlalchemy import Connection, Engine, create_engine, insert

from alloyref.catalogue import tables
from alloyref.catalogue.checks import check
from alloyref.catalogue.files import content_hash
from alloyref.catalogue.reader import Change, Dataset, read_dataset
from alloyref.catalogue.text import DatasetError
from alloyref.domain.citations import entry_name
from alloyref.domain.colour import ColourDesignation
from alloyref.domain.composition import Composition
from alloyref.domain.density import MixingTerm
from alloyref.domain.density_range import DensityLimit
from alloyref.domain.gauge import Gauge
from alloyref.domain.melting import MeltingParameter, MeltingTable
from alloyref.domain.metal import (
    Alloy,
    BenchNote,
    Caution,
    Constant,
    Element,
    FinenessMark,
    Material,
    TradeRule,
)
from alloyref.domain.provenance import Source
from alloyref.domain.reference import DatasetVersion
from alloyref.domain.ring_sizes import RingSize
from alloyref.domain.trade_names import TradeName
from alloyref.domain.units import AmbiguousName, Unit

# What each kind of entry is, so that it can be read back as the object it was.
KINDS: dict[str, type] = {
    "dataset": DatasetVersion,
    "change": Change,
    "source": Source,
    "unit": Unit,
    "unit-name": AmbiguousName,
    "element": Element,
    "pattern": Material,
    "stone": Material,
    "rule": TradeRule,
    "constant": Constant,
    "caution": Caution,
    "bench-note": BenchNote,
    "mark": FinenessMark,
    "gauge": Gauge,
    "ring-size": RingSize,
    "colour-designation": ColourDesignation,
    "density-term": MixingTerm,
    "density-limit": DensityLimit,
    "melting": MeltingTable,
    "melting-parameter": MeltingParameter,
    "alloy": Alloy,
    "trade-name": TradeName,
}


def converter() -> Converter:
    """Domain objects to plain values and back; exact numbers travel as text."""
    convert = Converter()
    convert.register_unstructure_hook(Decimal, str)
    convert.register_structure_hook(Decimal, lambda value, _: Decimal(value))
    convert.register_unstructure_hook(Fraction, str)
    convert.register_structure_hook(Fraction, lambda value, _: Fraction(value))
    convert.register_unstructure_hook(Composition, lambda one: [[symbol, str(share)] for symbol, share in one.parts])
    convert.register_structure_hook(
        Composition, lambda value, _: Composition(tuple((symbol, Decimal(share)) for symbol, share in value))
    )
    return convert


def entries_of(data: Dataset) -> Iterator[tuple[str, Sequence[Any]]]:
    """The entries by kind, in the order they stand in the files."""
    yield "dataset", [data.dataset]
    yield "change", data.changes
    yield "source", list(data.sources.values())
    yield "unit", data.units
    yield "unit-name", data.unit_names
    yield "element", list(data.elements.values())
    yield "pattern", list(data.patterns.values())
    yield "stone", list(data.stones.values())
    yield "rule", list(data.rules.values())
    yield "constant", list(data.constants.values())
    yield "caution", data.cautions
    yield "bench-note", data.bench_notes
    yield "mark", data.marks
    yield "gauge", data.gauges
    yield "ring-size", data.ring_sizes
    yield "colour-designation", data.colour_designations
    yield "density-term", data.density_terms
    yield "density-limit", data.density_limits
    yield "melting", [data.melting]
    yield "melting-parameter", data.melting_parameters
    yield "alloy", list(data.alloys.values())
    yield "trade-name", list(data.trade_names.values())


def write(connection: Connection, data: Dataset) -> None:
    """Create the tables and fill them, on any database SQLAlchemy knows."""
    tables.metadata.create_all(connection)
    convert = converter()
    for kind, objects in entries_of(data):
        rows = [
            {
                "kind": kind,
                "position": position,
                "name": (entry_name(one) or str(position))[: tables.LONGEST_NAME],
                "document": json.dumps(convert.unstructure(one, KINDS[kind]), ensure_ascii=False),
            }
            for position, one in enumerate(objects)
        ]
        if rows:
            connection.execute(insert(tables.entries), rows)
    connection.execute(insert(tables.alloys), [_alloy_row(alloy) for alloy in data.alloys.values()])
    shares = [
        {"alloy": alloy.id, "element": symbol, "permille": float(share)}
        for alloy in data.alloys.values()
        for symbol, share in alloy.metal.composition.parts
    ]
    connection.execute(insert(tables.parts), shares)
    purposes = [{"alloy": alloy.id, "use": use} for alloy in data.alloys.values() for use in alloy.uses]
    connection.execute(insert(tables.uses), purposes)


def _alloy_row(alloy: Alloy) -> dict[str, Any]:
    metal = alloy.metal
    words = (alloy.id, metal.name, *alloy.aliases, alloy.family, alloy.colour, alloy.note)
    return {
        "id": alloy.id,
        "name": metal.name,
        "family": alloy.family,
        "base": metal.base,
        "colour": alloy.colour,
        "fineness": float(metal.fineness),
        "density": float(metal.density.value),
        "solidus": float(metal.solidus.value) if metal.solidus else None,
        "liquidus": float(metal.liquidus.value) if metal.liquidus else None,
        "words": " ".join(words).casefold(),
    }


def ensure_built(data_files: Path, folder: Path) -> Path:
    """The SQLite file of this very content in `folder`, built first if it is not there yet.

    The file is written beside its place and moved there whole, so two starting workers cannot see half of it.
    Raises `DatasetError` with every fault if the data do not hold.
    """
    target = folder / f"reference-{content_hash(data_files)}.sqlite"
    if target.is_file():
        return target
    data = read_dataset(data_files)
    faults = check(data)
    if faults:
        raise DatasetError("the data do not hold:\n" + "\n".join(faults))
    folder.mkdir(parents=True, exist_ok=True)
    building = folder / f"{target.name}.{os.getpid()}"
    building.unlink(missing_ok=True)
    # Through a creator: a path inside an address would be cut at a question mark.
    engine = create_engine("sqlite://", creator=lambda: sqlite3.connect(building))
    try:
        with engine.begin() as connection:
            write(connection, data)
        engine.dispose()
        building.replace(target)
    finally:
        engine.dispose()
        building.unlink(missing_ok=True)
    return target


def open_read_only(path: Path) -> Engine:
    """An engine on the built file that cannot write to it."""

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True, check_same_thread=False)

    with closing(connect()):
        return create_engine("sqlite://", creator=connect)
