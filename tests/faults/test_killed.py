"""The service is killed again and again while others write: nothing acknowledged is lost, nothing is half there."""

from __future__ import annotations

import os
import random
import signal
import sys
import time

import pytest
from sqlalchemy import URL

from alloyref.shop.backup import faults
from alloyref.shop.database import Database
from tests.faults.service import Service
from tests.faults.writing import Findings, Ledger, Writer, compare, stop

WRITERS = 4
NOTHING = Findings([], [], [])
SEED = 20261125


def writing(service: Service, ledger: Ledger) -> list[Writer]:
    """Four writers at work."""
    return [Writer(service, ledger, number, SEED) for number in range(1, WRITERS + 1)]


def test_what_was_acknowledged_survives_kills(
    service: Service, database: Database, where: URL, long: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    ledger, chance, began = Ledger(), random.Random(SEED), time.monotonic()  # noqa: S311 - can be run again
    kills = 50 if long else 6
    writers = writing(service, ledger)
    try:
        for _ in range(kills):
            ledger.wait_for(chance.randint(3, 40))
            service.kill()
            service.start()
        ledger.wait_for(10)
    finally:
        stop(writers)
    assert ledger.wrong == []
    found = compare(ledger, database)
    told = (
        f"{where.drivername}: {kills} kills, {ledger.acknowledged} acknowledged, {ledger.lost_answers} answers lost, "
        f"{len(ledger.given_up)} given up, {ledger.repeats} repeats, {ledger.unavailable} times 503: {found.counts}; "
        f"{time.monotonic() - began:.0f} s"
    )
    if long:
        with capsys.disabled():
            sys.stdout.write(f"\n{told}\n")
    assert found == NOTHING, told
    assert ledger.lost_answers >= kills, told
    if database.is_sqlite:
        assert faults(database) == []


def test_a_killed_worker_is_replaced_and_nothing_is_lost(service: Service, database: Database) -> None:
    ledger = Ledger()
    writers = writing(service, ledger)
    try:
        # One and then the other: a worker that dies twice within seconds is taken to be beyond help.
        for place in (0, 1):
            ledger.wait_for(10)
            os.kill(service.workers()[place], signal.SIGKILL)
            ledger.wait_for(30)
    finally:
        stop(writers)
    assert ledger.wrong == []
    assert compare(ledger, database) == NOTHING
    assert service.process.poll() is None
