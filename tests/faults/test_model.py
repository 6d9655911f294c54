"""The shop's own data against a model: whatever is done in whatever order by whatever key, both know the same."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, field
from typing import Any

import requests
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, rule, run_state_machine_as_test

from alloyref.shop import keys
from alloyref.shop.database import Database
from tests.faults.service import Service

MARKS = itertools.count()
COMPOSITIONS = st.integers(0, 1000).map(lambda share: {"Au": share, "Ag": 1000 - share})
ALLOYS = st.fixed_dictionaries(
    {"name": st.sampled_from(["x", "ñ ‰", "=1"]), "composition": COMPOSITIONS},
    optional={"density": st.sampled_from(["11 g/cm3", "15.5 g/cm3"]), "premium": st.sampled_from([0, 0.08])},
)
PRICES = st.fixed_dictionaries(
    {
        "metal": st.sampled_from(["Au", "Ag"]),
        "price": st.sampled_from(["1.42", "104.5", "0"]),
        "date": st.sampled_from(["2026-11-20", "2026-11-21", "2026-11-25"]),
    }
)
REPEATS = st.sampled_from(["", "", "k1", "k2"])
DAYS = ("2026-11-19", "2026-11-20", "2026-11-24", "2026-11-30")


@dataclass
class Known:
    """An entry as the model knows it."""

    tag: str
    document: dict[str, Any]
    history: list[str] = field(default_factory=lambda: ["create"])

    @property
    def gone(self) -> bool:
        """Whether it was deleted."""
        return self.history[-1] == "delete"


@dataclass
class Holder:
    """A key as the model knows it."""

    id: str
    text: str
    scopes: tuple[str, ...]
    revoked: bool = False

    def refusal(self, scope: str) -> int | None:
        """The status that a request of this scope gets, if not the one it asks for."""
        if self.revoked:
            return 401
        return None if scope in self.scopes else 403


class Shop(RuleBasedStateMachine):
    """Store, replace, delete, repeat, record, ask again, make and revoke keys."""

    service: Service
    database: Database
    made = Bundle("made")
    """What was stored once: kind, id and the ETag of some version, which may be stale."""
    kept = Bundle("kept")
    holders = Bundle("holders")

    def __init__(self) -> None:
        super().__init__()
        number = next(MARKS)
        self.mark = f"m{number}-"
        # A currency of its own for each run, so that the quotes of others are not found.
        self.currency = "X" + chr(65 + number // 26 % 26) + chr(65 + number % 26)
        self.owner = Holder(self.service.key.split("_")[1], self.service.key, ("read", "write"))
        self.entries: dict[tuple[str, str], Known] = {}
        self.records: dict[str, dict[str, Any]] = {}
        self.answers: dict[tuple[str, str], tuple[Any, requests.Response]] = {}
        self.before = {path: self.total(path) for path in ("records", "history")}

    def ask(self, method: str, path: str, holder: Holder | None = None, **more: Any) -> requests.Response:
        """Ask over a new connection, so that any worker may answer."""
        return self.service.ask(method, path, (holder or self.owner).text, **more)

    def total(self, path: str) -> int:
        """How many there are of all runs."""
        return int(self.ask("GET", f"/v1/shop/{path}").json()["total"])

    def posted(self, holder: Holder, path: str, body: Any, repeat: str) -> requests.Response | None:
        """Post, perhaps under a key used before; None if what comes back says that nothing was stored by this one."""
        headers = {"Idempotency-Key": self.mark + repeat} if repeat else {}
        answer = self.ask("POST", path, holder, json=body, headers=headers)
        refusal = holder.refusal("write")
        if refusal is not None:
            assert answer.status_code == refusal
            return None
        if repeat and (holder.id, repeat) in self.answers:
            asked, first = self.answers[holder.id, repeat]
            if asked == (path, body):
                assert (answer.status_code, answer.content) == (first.status_code, first.content)
                assert answer.headers["Location"] == first.headers["Location"]
            else:
                assert answer.status_code == 422
            return None
        if repeat and answer.ok:
            self.answers[holder.id, repeat] = ((path, body), answer)
        return answer

    def by(self, holder: Holder | None) -> Holder:
        """Who asks."""
        return holder or self.owner

    @rule(target=holders, scopes=st.sampled_from([("read",), ("write",), ("read", "write")]))
    def make_key(self, scopes: tuple[str, ...]) -> Holder:
        """Make a key beside the service."""
        key, text = keys.create(self.database, self.mark, scopes)
        return Holder(key.id, text, scopes)

    @rule(holder=holders)
    def revoke(self, holder: Holder) -> None:
        """Revoke one; each worker must refuse it at once."""
        assert keys.revoke(self.database, holder.id)
        holder.revoked = True
        assert {self.ask("GET", "/v1/shop/alloys", holder).status_code for _ in range(3)} == {401}

    @rule(
        target=made,
        id_=st.sampled_from(["a", "b", "c"]),
        body=ALLOYS,
        repeat=REPEATS,
        holder=st.one_of(st.none(), holders),
    )
    def make_alloy(self, id_: str, body: Any, repeat: str, holder: Holder | None) -> tuple[str, str, str]:
        """Make an alloy; an id is used once."""
        id_ = self.mark + id_
        answer = self.posted(self.by(holder), "/v1/shop/alloys", {**body, "id": id_}, repeat)
        if answer is not None:
            taken = ("alloys", id_) in self.entries
            assert answer.status_code == (409 if taken else 201)
            if not taken:
                self.entries["alloys", id_] = Known(answer.headers["ETag"], body)
                return "alloys", id_, answer.headers["ETag"]
        return "alloys", id_, '"none"'

    @rule(target=made, body=PRICES, repeat=REPEATS, holder=st.one_of(st.none(), holders))
    def make_price(self, body: Any, repeat: str, holder: Holder | None) -> tuple[str, str, str]:
        """Store a quote."""
        body = {**body, "currency": self.currency}
        answer = self.posted(self.by(holder), "/v1/shop/prices", body, repeat)
        if answer is None:
            return "prices", "0" * 16, '"none"'
        assert answer.status_code == 201
        id_ = answer.json()["id"]
        self.entries["prices", id_] = Known(answer.headers["ETag"], body)
        return "prices", id_, answer.headers["ETag"]

    def change(self, method: str, one: tuple[str, str, str], holder: Holder, body: Any) -> requests.Response | None:
        """Change the version of a tag, which may be stale; None if it was refused."""
        kind, id_, tag = one
        answer = self.ask(method, f"/v1/shop/{kind}/{id_}", holder, json=body, headers={"If-Match": tag})
        known = self.entries.get((kind, id_))
        expected = holder.refusal("write")
        if expected is None and (known is None or known.gone):
            expected = 404
        if expected is None and known is not None and known.tag != tag:
            expected = 412
        if expected is not None:
            assert answer.status_code == expected
            return None
        return answer

    @rule(target=made, one=made, alloy=ALLOYS, price=PRICES, holder=st.one_of(st.none(), holders))
    def replace(self, one: Any, alloy: Any, price: Any, holder: Holder | None) -> tuple[str, str, str]:
        """Replace an alloy or a quote."""
        kind, id_, _ = one
        body = alloy if kind == "alloys" else {**price, "currency": self.currency}
        answer = self.change("PUT", one, self.by(holder), body)
        if answer is None:
            return one  # type: ignore[no-any-return]
        assert answer.status_code == 200
        known = self.entries[kind, id_]
        known.tag, known.document = answer.headers["ETag"], body
        known.history.append("replace")
        return kind, id_, known.tag

    @rule(one=made, holder=st.one_of(st.none(), holders))
    def delete(self, one: Any, holder: Holder | None) -> None:
        """Delete an alloy or a quote."""
        answer = self.change("DELETE", one, self.by(holder), None)
        if answer is not None:
            assert answer.status_code == 204
            self.entries[one[0], one[1]].history.append("delete")

    @rule(
        target=kept,
        one=made,
        repeat=REPEATS,
        mass=st.sampled_from(["1 g", "4.82 dwt"]),
        holder=st.one_of(st.none(), holders),
    )
    def record(self, one: Any, repeat: str, mass: str, holder: Holder | None) -> str:
        """Record a calculation, with an alloy of the shop if one was drawn."""
        kind, id_, _ = one
        metal = f"shop:{id_}" if kind == "alloys" else "gold-585-yellow"
        body = {"mass": mass, "from_metal": "sterling-silver", "to_metal": metal}
        holder = self.by(holder)
        answer = self.posted(holder, "/v1/transfer?record=true", body, repeat)
        if answer is None:
            return ""
        known = self.entries.get((kind, id_))
        missing = kind == "alloys" and (known is None or known.gone)
        if kind == "alloys" and "read" not in holder.scopes:
            assert answer.status_code == 403
            return ""
        assert answer.status_code == (422 if missing else 200), answer.text[:300]
        if missing:
            return ""
        found = answer.json()
        self.records[found.pop("record")] = found
        return answer.headers["Location"].rpartition("/")[2]

    @rule(id_=kept, holder=st.one_of(st.none(), holders))
    def ask_again(self, id_: str, holder: Holder | None) -> None:
        """A record comes out the same, whatever became of the alloy in it."""
        if id_ not in self.records:
            return
        answer = self.ask("POST", f"/v1/shop/records/{id_}/recompute", holder, json={"dataset": "own"})
        refusal = self.by(holder).refusal("read")
        assert answer.status_code == (refusal or 200)
        if refusal is None:
            assert (answer.json()["same"], answer.json()["answer"]) == (True, self.records[id_])

    @rule()
    def compare(self) -> None:
        """Hold everything that the service knows to what the model knows."""
        self.entries_are_known_alike()
        self.counts_are_known_alike()
        self.the_latest_quote_is_the_same()

    def teardown(self) -> None:
        """At the end of each run, too."""
        self.compare()

    def entries_are_known_alike(self) -> None:
        """Each entry as it stands, or gone, with its history; and the lists."""
        for (kind, id_), known in self.entries.items():
            answer = self.ask("GET", f"/v1/shop/{kind}/{id_}")
            assert answer.status_code == (404 if known.gone else 200)
            if not known.gone:
                assert answer.headers["ETag"] == known.tag
            changes = self.ask("GET", f"/v1/shop/{kind}/{id_}/history?page_size=500").json()["changes"]
            assert [one["action"] for one in reversed(changes)] == known.history
            assert [one["version"] for one in reversed(changes)] == list(range(1, len(changes) + 1))
        listed = self.ask("GET", "/v1/shop/alloys?page_size=500").json()["alloys"]
        mine = {one["id"].removeprefix("shop:"): one["name"] for one in listed if f":{self.mark}" in one["id"]}
        there = {id_: one for (kind, id_), one in self.entries.items() if kind == "alloys" and not one.gone}
        assert mine == {id_: one.document["name"] for id_, one in there.items()}

    def counts_are_known_alike(self) -> None:
        """As many records and changes as the model made."""
        changes = sum(len(known.history) for known in self.entries.values())
        now = {"records": len(self.records), "history": changes}
        assert {path: self.total(path) - before for path, before in self.before.items()} == now
        for id_, answer in self.records.items():
            found = self.ask("GET", f"/v1/shop/records/{id_}").json()
            assert (found["answer"], found["whole"]) == (answer, True)

    def the_latest_quote_is_the_same(self) -> None:
        """Of each metal by each of some days: the latest date, of several of one day the one stored last."""
        for day in DAYS:
            latest: dict[str, tuple[str, str]] = {}
            for (kind, id_), known in self.entries.items():
                if kind == "prices" and not known.gone and known.document["date"] <= day:
                    metal, date = known.document["metal"], known.document["date"]
                    if metal not in latest or latest[metal][0] <= date:
                        latest[metal] = (date, id_)
            query = {"at": day, "currency": self.currency}
            found = self.ask("GET", "/v1/shop/prices", params=query).json()["prices"]
            assert {one["metal"]: one["id"] for one in found} == {metal: id_ for metal, (_, id_) in latest.items()}


def test_the_service_and_the_model_know_the_same(service: Service, database: Database, long: bool) -> None:
    machine = type("Running", (Shop,), {"service": service, "database": database})
    run_state_machine_as_test(  # type: ignore[no-untyped-call]
        machine,
        settings=settings(
            max_examples=20 if long else 8,
            stateful_step_count=25 if long else 15,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
