"""What goes into the database comes out of it: the same objects, in the same order."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from alloyref.catalogue.build import KINDS, converter, ensure_built, entries_of
from alloyref.catalogue.files import data_folder
from alloyref.catalogue.reader import Dataset
from alloyref.catalogue.repository import ReferenceStore, open_held
from alloyref.domain.composition import Composition
from alloyref.domain.reference import Reference


def test_every_table_comes_back_as_the_objects_it_was(reference: Reference, dataset: Dataset) -> None:
    assert reference.dataset == dataset.dataset
    assert reference.units.all == dataset.units
    for name in ("elements", "alloys", "patterns", "stones", "rules", "sources"):
        stored, read = getattr(reference, name), getattr(dataset, name)
        assert dict(stored) == read
        assert list(stored) == list(read)
    for name in ("cautions", "bench_notes", "marks"):
        assert tuple(getattr(reference, name)) == getattr(dataset, name)


def test_the_changelog_comes_along(store: ReferenceStore, dataset: Dataset) -> None:
    assert store.load()[1] == dataset.changes
    assert dataset.changes


def test_ambiguous_names_come_along(reference: Reference, dataset: Dataset) -> None:
    assert dataset.unit_names
    for one in dataset.unit_names:
        with pytest.raises(Exception, match="is not taken"):
            reference.units.find(one.name, one.dimension)


def test_loading_twice_gives_equal_data(store: ReferenceStore, reference: Reference) -> None:
    again = store.load()[0]
    assert again.alloys == reference.alloys
    assert again.rules == reference.rules


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_survives_as_plain_values(dataset: Dataset, kind: str) -> None:
    convert = converter()
    objects = dict(entries_of(dataset))[kind]
    assert len(objects) > 0
    for one in objects:
        assert convert.structure(convert.unstructure(one, KINDS[kind]), KINDS[kind]) == one


@pytest.mark.parametrize(
    ("value", "type_"),
    [
        (Decimal("10.360"), Decimal),
        (Decimal("1E+3"), Decimal),
        (Fraction(175, 6), Fraction),
        (Composition((("Au", Decimal("750.000")), ("Cu", Decimal("250")))), Composition),
    ],
)
def test_exact_numbers_keep_every_digit(value: Any, type_: type) -> None:
    convert = converter()
    back: object = convert.structure(convert.unstructure(value, type_), type_)
    assert (back, str(back)) == (value, str(value))


def test_data_of_another_version_are_held_if_they_can_be_read(folder_with_held: Path) -> None:
    assert open_held(folder_with_held, "a" * 16) is not None
    assert open_held(folder_with_held, "b" * 16) is None
    assert open_held(folder_with_held, "c" * 16) is None


@pytest.fixture
def folder_with_held(tmp_path: Path) -> Path:
    """A folder with data that can be read under one hash, noise under another, and nothing under a third."""
    built = ensure_built(data_folder(), tmp_path)
    built.rename(tmp_path / f"reference-{'a' * 16}.sqlite")
    (tmp_path / f"reference-{'b' * 16}.sqlite").write_bytes(b"no database at all" * 100)
    return tmp_path
