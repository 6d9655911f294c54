"""Moments in the one form they are kept in: UTC, to the microsecond, so that text sorts as time does."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


def stamp(moment: datetime) -> str:
    """A moment as it is kept.

    >>> stamp(datetime(2026, 11, 25, 13, 26, 42, tzinfo=UTC))
    '2026-11-25T13:26:42.000000Z'
    """
    return moment.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def now() -> str:
    """This moment."""
    return stamp(datetime.now(UTC))


def ago(**span: float) -> str:
    """The moment that lies so far back: `ago(hours=24)`."""
    return stamp(datetime.now(UTC) - timedelta(**span))
