"""How lists, the history, and repeated calculations are asked for and shown."""

from __future__ import annotations

from dataclasses import dataclass

from alloyref.domain.calculation import Choice, Text, Whole, item
from alloyref.domain.finder import MOST_PAGE

OWN, TODAY = "own", "today"
HISTORY_KINDS = ("alloys", "prices")


@dataclass(frozen=True, slots=True)
class PageQuery:
    """A page of a list."""

    page: int = item(Whole(1, 10_000), "Page, from 1.", default=1)
    page_size: int = item(Whole(1, MOST_PAGE), "Entries a page.", default=100)


@dataclass(frozen=True, slots=True)
class RecordQuery(PageQuery):
    """A page of records, newest first."""

    calculation: str | None = item(
        Text(most=40, pattern="^[a-z-]*$"), "Only those of this calculation.", default=None, example="order"
    )


@dataclass(frozen=True, slots=True)
class HistoryQuery(PageQuery):
    """A page of changes, newest first."""

    kind: str | None = item(Choice(HISTORY_KINDS), "Only changes of these.", default=None, example="alloys")


@dataclass(frozen=True, slots=True)
class Recompute:
    """A recorded calculation, asked once more."""

    dataset: str = item(
        Choice((OWN, TODAY)),
        "By which data: those it was recorded under, if this service still holds them, or today's.",
        default=TODAY,
    )


@dataclass(frozen=True, slots=True)
class RecordLineView:
    """A record in a list."""

    id: str = item(Text(), "Id of the record.")
    calculation: str = item(Text(), "Which calculation.")
    created: str = item(Text(), "When, UTC.")
    key: str = item(Text(), "Id of the key it was recorded with.")
    dataset_version: str = item(Text(), "Version of the data it rests on.")
    dataset_hash: str = item(Text(), "Hash of those data.")
    program: str = item(Text(), "Version of the program.")
