"""What the forms of a bulk request share."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any, Protocol

from alloyref.domain.calculation import Calculation
from alloyref.domain.errors import AlloyrefError, Issue
from alloyref.domain.numbers import POINT
from alloyref.domain.reference import Reference
from alloyref.domain.searches import Searches
from alloyref.services.calculations import answer
from alloyref.shop.errors import ShopError
from alloyref.web.schemas.decimals import with_points
from alloyref.web.schemas.load import Loaders
from alloyref.web.schemas.query import joined
from alloyref.web.schemas.write import Writers

RESULT, ERROR, SUMMARY = "result", "error", "summary"
NOT_UTF8 = Issue("wrong-encoding", "This row is not UTF-8.")
FAULT = Issue("internal", "The service failed on this row; the fault was logged.")
MOST_PROPORTIONS = 2000
"""So many runs at 1 are kept before they are forgotten."""
log = logging.getLogger("alloyref")


@dataclass(frozen=True, slots=True)
class Bench:
    """What rows are answered with; `polars` is the library, where it is wanted and there."""

    reference: Reference
    loaders: Loaders
    writers: Writers
    polars: Any = None


@dataclass(frozen=True, slots=True)
class Asked:
    """Which calculation, and how.

    Columns to carry along unread, whether a summary ends the answer, and the decimal mark of csv.
    Of many misspelt names only the first are searched for near matches.
    """

    calculation: Calculation
    keep: tuple[str, ...] = ()
    summary: bool = False
    mark: str = POINT
    searches: Searches = field(default_factory=Searches)


@dataclass(frozen=True, slots=True)
class Total:
    """How many rows there were, how many of them had no answer, and the SHA-256 of all that went before."""

    rows: int
    errors: int
    digest: str


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of the answer: its bytes, and the rows and bad rows in it."""

    text: bytes
    rows: int = 1
    errors: int = 0


class Form(Protocol):
    """Rows in one media type: lines in, pieces of the answer out."""

    def take(self, block: bytes, last: bool) -> Iterator[Piece | Future[Any]]:
        """Answer the rows that end within these lines, or some of them later; after `last` none is left.

        Where something else has to be done first, that is given; go on when it is. `InvalidInput` only before the
        first row.
        """

    def summary(self, total: Total) -> bytes:
        """The row that ends an answer."""


class RowError(Exception):
    """A row without an answer, and why."""

    def __init__(self, issues: tuple[Issue, ...]) -> None:
        super().__init__()
        self.issues = issues


def ask(asked: Asked, data: dict[str, Any], bench: Bench) -> tuple[Any, Any]:
    """Inputs as understood and result of one row, just as a query with the same fields gives them."""
    calculation = asked.calculation
    try:
        with asked.searches.counted():
            data = with_points(calculation.inputs, data, asked.mark)
            inputs = bench.loaders.load(calculation.inputs, joined(calculation.inputs, data))
            return inputs, answer(calculation, inputs, bench.reference).outcome.result
    except AlloyrefError as error:
        raise RowError(error.issues) from None
    except ShopError as error:
        raise RowError((error.issue,)) from None
    except Exception:
        log.exception("fault at a row of %s", calculation.name)
        raise RowError((FAULT,)) from None
