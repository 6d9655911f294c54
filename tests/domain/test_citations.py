"""The walk over the data misses no value: counted again from the files themselves."""

from __future__ import annotations

import csv
from collections import Counter

from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import Dataset
from alloyref.domain.citations import citations, standings
from alloyref.domain.reference import Reference

COLUMNS = {
    "units.csv": {"source": "units.factor"},
    "elements.csv": {
        "atomic_mass_source": "elements.atomic_mass",
        "density_source": "elements.density",
        "melting_point_source": "elements.melting_point",
    },
    "alloys.csv": {"composition_source": "alloys.composition"},
    "patterns.csv": {"source": "patterns.density"},
    "stones.csv": {"source": "stones.density"},
    "trade_rules.csv": {"source": "trade-rules.value"},
    "cautions.csv": {"source": "cautions.text"},
    "bench_notes.csv": {"source": "bench-notes.text"},
    "fineness_marks.csv": {"source": "fineness-marks.fineness"},
    "melting_parameters.csv": {"source": "melting-parameters.value"},
    "gauges.csv": {"source": "gauges.diameter"},
    "ring_sizes.csv": {"source": "ring-sizes.circumference"},
    "colour_designations.csv": {
        "source": "colour-designations.fineness",
        "silver_source": "colour-designations.silver",
    },
}


def test_every_citing_cell_of_every_table_is_walked(reference: Reference) -> None:
    walked = Counter((f"{one.table}.{one.field}", one.source) for one in reference.citations)
    for name, columns in COLUMNS.items():
        with (data_folder() / name).open(encoding="utf-8", newline="") as stream:
            rows = list(csv.DictReader(stream))
        for column, field in columns.items():
            cited = Counter(row[column] for row in rows if row[column])
            found = Counter({source: count for (where, source), count in walked.items() if where == field})
            assert found == cited, (name, column)


def test_what_an_alloy_is_served_with_and_what_was_published_are_walked(reference: Reference) -> None:
    for name in ("density", "solidus", "liquidus"):
        served = [one for alloy in reference.alloys.values() if (one := getattr(alloy.metal, name)) is not None]
        found = [one for one in reference.citations if (one.table, one.field) == ("alloys", name)]
        assert [(one.source, one.status) for one in found] == [(one.source, one.status.value) for one in served]
    published = [one.source for alloy in reference.alloys.values() for one in alloy.published]
    assert [one.source for one in reference.citations if one.field.startswith("published.")] == published


def test_what_is_read_and_what_is_served_are_walked_alike(dataset: Dataset, reference: Reference) -> None:
    assert Counter(citations(dataset)) == Counter(reference.citations)


def test_every_citation_leads_to_an_entry_a_source_and_a_standing(reference: Reference) -> None:
    for one in reference.citations:
        assert one.id, one
        assert one.source in reference.sources
    assert sum(sum(counts.values()) for counts in standings(reference.citations).values()) == len(reference.citations)
    by_hand = Counter(one.density.status.value for one in reference.elements.values())
    assert standings(reference.citations)["elements.density"] == by_hand
