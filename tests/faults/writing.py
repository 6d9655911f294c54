"""Writers that never stop, a ledger of what they were told, and the comparison of it with the database."""

from __future__ import annotations

import json
import random
from collections import Counter
from dataclasses import dataclass, field
from threading import Condition, Event, Thread
from typing import Any
from uuid import uuid4

import requests
from sqlalchemy import select

from alloyref.shop import records, tables
from alloyref.shop.database import Database
from tests.faults.service import SECONDS, Service

LOST = (requests.ConnectionError, requests.Timeout, requests.exceptions.ChunkedEncodingError)
AGAIN_SECONDS = 0.05
MOST_TRIES = 1000
COMPOSITION = {"Au": 585, "Ag": 205, "Cu": 210}
RECORDS, ALLOYS, PRICES = "/v1/transfer?record=true", "/v1/shop/alloys", "/v1/shop/prices"


@dataclass
class Ledger:
    """What the writers were told: `stored` by mark, with the answer; `given_up` marks may be there or not."""

    stored: dict[str, dict[str, Any]] = field(default_factory=dict)
    given_up: set[str] = field(default_factory=set)
    alloys: dict[str, str] = field(default_factory=dict)
    acknowledged: int = 0
    lost_answers: int = 0
    repeats: int = 0
    unavailable: int = 0
    wrong: list[str] = field(default_factory=list)
    changed: Condition = field(default_factory=Condition)

    def note(self, **counts: int) -> None:
        """Count something that happened."""
        with self.changed:
            for name, count in counts.items():
                setattr(self, name, getattr(self, name) + count)
            self.changed.notify_all()

    def wait_for(self, more: int, seconds: float = 60) -> None:
        """Wait until so many more writes were acknowledged."""
        wanted = self.acknowledged + more
        with self.changed:
            assert self.changed.wait_for(lambda: self.acknowledged >= wanted or self.wrong, seconds), self
        assert self.wrong == [], self.wrong

    def wait_until_refused(self, times: int, seconds: float = 60) -> None:
        """Wait until the service has said so many times more that it cannot write now."""
        wanted = self.unavailable + times
        with self.changed:
            assert self.changed.wait_for(lambda: self.unavailable >= wanted or self.wrong, seconds), self
        assert self.wrong == [], self.wrong


class Writer:
    """Stores records, alloys and quotes and changes its own alloy, each until it is answered or given up."""

    def __init__(self, service: Service, ledger: Ledger, number: int, seed: int) -> None:
        self.service = service
        self.ledger = ledger
        self.number = number
        self.chance = random.Random(seed * 100 + number)  # noqa: S311 - a test that can be run again
        self.ended = Event()
        self.pause = Event()  # never set: a wait between two tries
        self.count = 0
        self.tag = ""
        self.thread = Thread(target=self._run, daemon=True)
        self.thread.start()

    def _run(self) -> None:
        try:
            while not self.ended.is_set():
                self.count += 1
                self.chance.choice((self._record, self._record, self._alloy, self._quote, self._change))()
        except Exception as error:
            self.ledger.wrong.append(repr(error))
            self.ledger.note()

    def _mark(self) -> str:
        return f"{self.number}.{self.count:06}"

    def _record(self) -> None:
        mark = self._mark()
        body = {"mass": f"{mark} g", "from_metal": "sterling-silver", "to_metal": "gold-585-yellow"}
        self._store(RECORDS, mark, body)

    def _alloy(self) -> None:
        mark = self._mark()
        body = {"id": f"a{mark.replace('.', '-')}", "name": mark, "composition": COMPOSITION}
        if self._store(ALLOYS, mark, body):
            self.ledger.alloys[body["id"]] = mark

    def _quote(self) -> None:
        mark = self._mark()
        body = {"metal": "Au", "price": "104.5", "currency": "EUR", "date": "2026-11-20", "note": mark}
        self._store(PRICES, mark, body)

    def _store(self, path: str, mark: str, body: dict[str, Any]) -> bool:
        """Store once, whatever happens; now and then give up after a lost answer, or send again what was stored."""
        headers = {"Idempotency-Key": str(uuid4())}
        gives_up = self.chance.random() < 0.2
        answer = self._answered("POST", path, body, headers, once=gives_up)
        if answer is None:
            self.ledger.given_up.add(mark)
            return False
        assert answer.status_code in (200, 201), answer.text[:300]
        self.ledger.stored[mark] = answer.json()
        self.ledger.note(acknowledged=1)
        if self.chance.random() < 0.2:
            again = self._answered("POST", path, body, headers)
            assert again is not None
            assert again.content == answer.content, "another answer to the same request"
            self.ledger.note(repeats=1)
        return True

    def _change(self) -> None:
        """Change the writer's own alloy. A version that is no longer there must be the one that was just sent."""
        own = f"own-{self.number}"
        body = {"name": self._mark(), "composition": COMPOSITION}
        if not self.tag:
            body["id"] = own
            answer = self._answered("POST", ALLOYS, body, {"Idempotency-Key": f"first-{self.number}"})
        else:
            answer = self._answered("PUT", f"{ALLOYS}/{own}", body, {"If-Match": self.tag})
        assert answer is not None
        if answer.status_code == 412:
            answer = self._answered("GET", f"{ALLOYS}/{own}", None, {})
            assert answer is not None
            assert answer.json()["name"] == body["name"], "neither the old version nor the one sent"
        assert answer.status_code in (200, 201), answer.text[:300]
        self.tag = answer.headers["ETag"]
        self.ledger.alloys[own] = str(body["name"])
        self.ledger.note(acknowledged=1)

    def _answered(
        self, method: str, path: str, body: Any, headers: dict[str, str], *, once: bool = False
    ) -> requests.Response | None:
        """Ask until there is an answer; with `once` give up when one was lost."""
        for _ in range(MOST_TRIES):
            try:
                answer = self.service.ask(method, path, json=body, headers=headers)
            except LOST:
                self.ledger.note(lost_answers=1)
            else:
                if answer.status_code != 503:
                    return answer
                assert answer.headers["Retry-After"].isdecimal()
                self.ledger.note(unavailable=1)
            if once:
                return None
            assert self.service.up.wait(SECONDS), "the service did not come back"
            self.pause.wait(AGAIN_SECONDS)
        raise AssertionError(f"{method} {path} was not answered")


def stop(writers: list[Writer]) -> None:
    """Let each finish what it is at."""
    for one in writers:
        one.ended.set()
    for one in writers:
        one.thread.join(60)
        assert not one.thread.is_alive()


@dataclass(frozen=True, slots=True)
class Findings:
    """What is not as it was promised; all empty if nothing is wrong."""

    lost: list[str]
    half: list[str]
    twice: list[str]

    @property
    def counts(self) -> str:
        """In numbers."""
        return f"{len(self.lost)} lost, {len(self.half)} half written, {len(self.twice)} stored twice"


def compare(ledger: Ledger, database: Database) -> Findings:
    """Hold the database to what was acknowledged."""
    with database.read() as connection:
        rows = {
            table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
            for table in (tables.records, tables.alloys, tables.prices, tables.changes, tables.idempotency)
        }
        kept = {row["id"]: records.read(connection, row["id"]) for row in rows["shop_records"]}
    marks = Counter(json.loads(row["request"])["mass"].removesuffix(" g") for row in rows["shop_records"])
    marks.update(json.loads(row["document"])["note"] for row in rows["shop_prices"])
    names = {row["id"]: json.loads(row["document"])["name"] for row in rows["shop_alloys"]}
    marks.update(name for id_, name in names.items() if not id_.startswith("own-"))
    lost = [mark for mark in ledger.stored if not marks[mark]]
    lost += [f"{id_}: {name}" for id_, name in ledger.alloys.items() if names.get(id_) != name]
    for mark, answer in ledger.stored.items():
        id_ = answer.pop("record", None)
        if id_ is not None and (kept.get(id_) is None or json.loads(kept[id_].answer) != answer):  # type: ignore[union-attr]
            lost.append(f"{mark}: another answer than was given")
    known = set(ledger.stored) | ledger.given_up
    twice = [mark for mark, count in marks.items() if count > 1]
    lost += [f"{mark}: nobody stored this" for mark in marks if mark not in known]
    half = [id_ for id_, record in kept.items() if record is None or not record.whole]
    return Findings(lost, half + _halves(rows), twice)


def _halves(rows: dict[str, list[dict[str, Any]]]) -> list[str]:
    """Entries without their history, history without its entry, claims without an answer, answers without a row."""
    found = []
    history: dict[tuple[str, str], dict[int, str]] = {}
    for row in rows["shop_changes"]:
        history.setdefault((row["kind"], row["entry"]), {})[row["version"]] = row["document"]
    for kind in ("alloys", "prices"):
        for row in rows[f"shop_{kind}"]:
            versions = history.pop((kind, row["id"]), {})
            if sorted(versions) != list(range(1, row["version"] + 1)) or versions[row["version"]] != row["document"]:
                found.append(f"{kind} {row['id']}: version {row['version']}, history {sorted(versions)}")
    for row in rows["shop_prices"]:
        document = json.loads(row["document"])
        if any(row[name] != document[name] for name in ("metal", "currency", "date")):
            found.append(f"prices {row['id']}: found by what it is not")
    found += [f"history of nothing: {entry}" for entry in history]
    there = {row["id"] for name in ("shop_records", "shop_alloys", "shop_prices") for row in rows[name]}
    for row in rows["shop_idempotency"]:
        if row["status"] is None:
            found.append(f"claimed and not answered: {row['name']}")
        elif json.loads(row["headers"])["Location"].rpartition("/")[2].removeprefix("shop:") not in there:
            found.append(f"answered and not stored: {row['name']}")
    return found
