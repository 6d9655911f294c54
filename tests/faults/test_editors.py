"""Several edit one alloy at the same moment: each change is made to the version that was meant, and none is lost."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from tests.faults.service import SECONDS, Service
from tests.faults.writing import ALLOYS, COMPOSITION

ROUNDS = 20


def test_of_two_at_the_same_moment_one_wins(service: Service) -> None:
    made = service.ask("POST", ALLOYS, json={"id": "two", "name": "0", "composition": COMPOSITION})
    tag, together = made.headers["ETag"], Barrier(2)

    def change(editor: str) -> tuple[str, int, str]:
        together.wait(SECONDS)
        body = {"name": editor, "composition": COMPOSITION}
        answer = service.ask("PUT", f"{ALLOYS}/two", json=body, headers={"If-Match": tag})
        return editor, answer.status_code, answer.headers.get("ETag", "")

    with ThreadPoolExecutor(2) as pool:
        for version in range(2, 2 + ROUNDS):
            answers = list(pool.map(change, ("one", "other")))
            assert sorted(status for _, status, _ in answers) == [200, 412]
            ((winner, tag),) = ((editor, new) for editor, status, new in answers if status == 200)
            now = service.ask("GET", f"{ALLOYS}/two")
            assert (now.json()["name"], now.json()["version"], now.headers["ETag"]) == (winner, version, tag)
    assert service.ask("GET", f"{ALLOYS}/two/history").json()["total"] == 1 + ROUNDS


def test_who_is_refused_reads_again_and_nothing_is_lost(service: Service) -> None:
    editors, each = 4, 10
    service.ask("POST", ALLOYS, json={"id": "count", "name": "0", "composition": COMPOSITION})

    def add(_: int) -> int:
        """Count one further, however often another was first."""
        refused = 0
        while True:
            found = service.ask("GET", f"{ALLOYS}/count")
            body = {"name": str(int(found.json()["name"]) + 1), "composition": COMPOSITION}
            match = {"If-Match": found.headers["ETag"]}
            answer = service.ask("PUT", f"{ALLOYS}/count", json=body, headers=match)
            if answer.status_code == 200:
                return refused
            assert answer.status_code == 412, answer.text[:300]
            refused += 1

    with ThreadPoolExecutor(editors) as pool:
        refused = sum(pool.map(add, range(editors * each)))
    assert refused > 0
    now = service.ask("GET", f"{ALLOYS}/count").json()
    assert (now["name"], now["version"]) == (str(editors * each), editors * each + 1)


def test_a_change_and_a_deletion_at_the_same_moment(service: Service) -> None:
    together = Barrier(2)

    def ask(method: str, id_: str, tag: str) -> int:
        together.wait(SECONDS)
        body = {"name": "changed", "composition": COMPOSITION} if method == "PUT" else None
        return service.ask(method, f"{ALLOYS}/{id_}", json=body, headers={"If-Match": tag}).status_code

    with ThreadPoolExecutor(2) as pool:
        for number in range(ROUNDS // 2):
            id_ = f"gone-{number}"
            made = service.ask("POST", ALLOYS, json={"id": id_, "name": "x", "composition": COMPOSITION})
            changing, deleting = (pool.submit(ask, method, id_, made.headers["ETag"]) for method in ("PUT", "DELETE"))
            found = (changing.result(), deleting.result())
            assert found in {(200, 412), (412, 204), (404, 204)}
            assert service.ask("GET", f"{ALLOYS}/{id_}").status_code == (200 if found[0] == 200 else 404)
            assert service.ask("GET", f"{ALLOYS}/{id_}/history").json()["total"] == 2
