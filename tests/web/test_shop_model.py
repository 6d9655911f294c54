"""The shop's alloys against a model: whatever is done in whatever order, both know the same."""

from __future__ import annotations

import itertools
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, consumes, invariant, rule

from alloyref.settings import Settings
from alloyref.shop.database import open_database
from alloyref.shop.keys import create
from alloyref.shop.migrate import upgrade
from alloyref.web.app import create_app

IDS = st.sampled_from(["a", "b", "c"])
BODIES = st.fixed_dictionaries(
    {
        "name": st.sampled_from(["x", "ñ ‰", "=1"]),
        "composition": st.integers(0, 1000).map(lambda share: {"Au": share, "Ag": 1000 - share}),
    },
    optional={"density": st.sampled_from(["11 g/cm3", "15.5 g/cm3"]), "premium": st.sampled_from([0, 0.08])},
)


MARKS = itertools.count()


@cache
def shared() -> tuple[FlaskClient, dict[str, str]]:
    """One application for all runs; each run has ids of its own."""
    given = Settings(data_dir=Path(tempfile.mkdtemp(prefix="alloyref-model-")))
    database = open_database(given.database)
    upgrade(database)
    whole = create(database, "model", ("read", "write"))[1]
    database.close()
    return create_app(given).test_client(), {"Authorization": f"Bearer {whole}"}


class Alloys(RuleBasedStateMachine):
    """Create, replace, delete and repeat, with good and stale versions."""

    tags: Bundle[tuple[str, str]] = Bundle("tags")

    def __init__(self) -> None:
        super().__init__()
        self.client, self.headers = shared()
        self.mark = f"m{next(MARKS)}-"
        self.present: dict[str, tuple[str, str]] = {}
        self.used: set[str] = set()
        self.before = self.ask("GET", "history").json["total"]
        self.changes = 0
        self.answers: dict[str, tuple[Any, bytes]] = {}

    def ask(self, method: str, path: str, **more: Any) -> Any:
        """Ask with the key."""
        headers = {**self.headers, **more.pop("headers", {})}
        return self.client.open(f"/v1/shop/{path}", method=method, headers=headers, **more)

    @rule(target=tags, id_=IDS, body=BODIES, repeat=st.sampled_from(["", "k1", "k2"]))
    def make(self, id_: str, body: dict[str, Any], repeat: str) -> tuple[str, str]:
        """Make an alloy, perhaps under a key used before."""
        id_ = self.mark + id_
        sent = {**body, "id": id_}
        answer = self.ask(
            "POST", "alloys", json=sent, headers={"Idempotency-Key": self.mark + repeat} if repeat else {}
        )
        if repeat in self.answers:
            before, content = self.answers[repeat]
            assert (answer.status_code, answer.data == content) == ((201, True) if before == sent else (422, False))
            return id_, '"none"'
        assert answer.status_code == (409 if id_ in self.used else 201)
        if answer.status_code == 409:
            return id_, '"none"'
        if repeat:
            self.answers[repeat] = (sent, answer.data)
        self.used.add(id_)
        self.changes += 1
        self.present[id_] = (answer.headers["ETag"], body["name"])
        return id_, answer.headers["ETag"]

    @rule(target=tags, tag=tags, body=BODIES)
    def replace(self, tag: tuple[str, str], body: dict[str, Any]) -> tuple[str, str]:
        """Replace the version of a tag, which may be stale."""
        id_, version = tag
        answer = self.ask("PUT", f"alloys/{id_}", json=body, headers={"If-Match": version})
        if id_ not in self.present:
            assert answer.status_code == 404
            return tag
        assert answer.status_code == (200 if self.present[id_][0] == version else 412)
        if answer.status_code == 412:
            return tag
        self.changes += 1
        self.present[id_] = (answer.headers["ETag"], body["name"])
        return id_, answer.headers["ETag"]

    @rule(tag=consumes(tags))
    def delete(self, tag: tuple[str, str]) -> None:
        """Delete the version of a tag, which may be stale."""
        id_, version = tag
        answer = self.ask("DELETE", f"alloys/{id_}", headers={"If-Match": version})
        if id_ not in self.present:
            assert answer.status_code == 404
            return
        assert answer.status_code == (204 if self.present[id_][0] == version else 412)
        if answer.status_code == 204:
            self.changes += 1
            del self.present[id_]

    @invariant()
    def both_know_the_same(self) -> None:
        """The list, each entry, and the count of changes."""
        listed = self.ask("GET", "alloys?page_size=500").json["alloys"]
        mine = {one["id"]: one["name"] for one in listed if one["id"].startswith(f"shop:{self.mark}")}
        assert mine == {f"shop:{id_}": name for id_, (_, name) in self.present.items()}
        for id_, (tag, _) in self.present.items():
            assert self.ask("GET", f"alloys/{id_}").headers["ETag"] == tag
        assert self.ask("GET", "history").json["total"] == self.before + self.changes


TestAlloys = Alloys.TestCase
TestAlloys.settings = settings(max_examples=10, stateful_step_count=12, deadline=None)
