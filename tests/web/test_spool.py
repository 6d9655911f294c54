"""Where an answer waits: how large it may get, and a disk without room."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from alloyref.web.bulk.run import Refusal
from alloyref.web.bulk.spool import MOST_IN_MEMORY, OPEN_FILES, Spool
from tests.own_loop import in_own_loop


def test_an_answer_may_have_so_many_bytes_and_no_more() -> None:
    spool = Spool(10)
    spool.put(b"x" * 10)
    with pytest.raises(Refusal, match="more than 10 bytes") as caught:
        spool.put(b"x")
    assert (caught.value.status, caught.value.headers) == (413, [])


@pytest.mark.skipif(not OPEN_FILES.is_dir(), reason="open files have no numbers here to open them by")
def test_a_killed_worker_leaves_no_file_behind(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    one, other = Spool(10 * MOST_IN_MEMORY), Spool(10 * MOST_IN_MEMORY)
    rows = {spool: letter * (MOST_IN_MEMORY + 1) for spool, letter in ((one, b"x"), (other, b"y"))}
    for spool, row in rows.items():
        spool.put(row)
    assert list(tmp_path.iterdir()) == []
    for spool, row in rows.items():
        place = spool.file()
        assert place is not None
        with place.open("rb") as file:
            assert file.read() == row
            assert spool._readers() == 1
        assert spool._readers() == 0
        spool.remove()


@pytest.mark.skipif(not OPEN_FILES.is_dir(), reason="open files have no numbers here to open them by")
def test_who_is_through_at_once_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []

    async def sleep(seconds: float) -> None:
        slept.append(seconds)

    monkeypatch.setattr("asyncio.sleep", sleep)
    spool = Spool(10 * MOST_IN_MEMORY)
    spool.put(b"x" * (MOST_IN_MEMORY + 1))
    place = spool.file()
    assert place is not None
    assert not spool._was_read()
    assert place.read_bytes() == b"x" * (MOST_IN_MEMORY + 1)
    in_own_loop(spool.read_by_others())
    assert slept == []
    spool.remove()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no device here that is always full")
def test_a_full_disk_is_no_fault(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    name = tmp_path / "full"
    name.symlink_to("/dev/full")

    def full(**_: Any) -> Any:
        return name.open("wb")

    monkeypatch.setattr("tempfile.NamedTemporaryFile", full)
    spool = Spool(10 * MOST_IN_MEMORY)
    with pytest.raises(Refusal, match="no room") as caught:
        spool.put(b"x" * (MOST_IN_MEMORY + 1))
    assert caught.value.status == 503
    assert [name for name, _ in caught.value.headers] == ["retry-after"]
    spool.remove()
    assert not name.is_symlink()
