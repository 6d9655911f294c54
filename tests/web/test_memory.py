"""How much memory there is, and how many bulk requests it is enough for."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest

from alloyref.settings import Settings
from alloyref.web import memory as under_test
from alloyref.web.memory import (
    FIRST_PROCESS,
    LEAST,
    MB,
    POLARS,
    RUN,
    RUN_WITH_POLARS,
    WORKER,
    bulk_room,
    is_in_memory,
    limit_of_group,
)


@pytest.fixture(params=[False, True], ids=["disk", "memory"])
def temp_in_memory(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    """Where answers wait."""
    monkeypatch.setattr(under_test, "is_in_memory", lambda _: request.param)
    return bool(request.param)


@pytest.mark.parametrize("workers", [1, 2, 8])
@pytest.mark.parametrize("limit", [256, 300, 400, 600, 1000, 3000, 16000])
def test_what_is_let_in_fits(limit: int, workers: int, temp_in_memory: bool) -> None:
    settings = Settings(data_dir=Path(tempfile.gettempdir()), max_memory=limit * MB, workers=workers)
    room = bulk_room(settings)
    assert 1 <= room.runs <= settings.max_bulk_runs
    taken = POLARS + room.runs * RUN_WITH_POLARS if room.polars else room.runs * RUN
    waiting = room.runs * room.most_answer if temp_in_memory else 0
    fits = FIRST_PROCESS + workers * (WORKER + taken + waiting) <= limit * MB
    assert fits or (room.runs, room.polars) == (1, False)  # one is let in, however little there is


def test_without_a_limit_all_that_is_set_is_let_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(under_test, "limit_of_group", lambda: None)
    settings = Settings(data_dir=Path(tempfile.gettempdir()))
    room = bulk_room(settings)
    assert (room.runs, room.polars, room.most_answer) == (settings.max_bulk_runs, True, settings.max_bulk_answer)


def test_what_readme_calls_the_least_is_enough() -> None:
    assert LEAST <= 256 * MB


@pytest.mark.parametrize(
    ("groups", "files", "limit"),
    [
        ("0::/\n", {"memory.max": "268435456\n"}, 268435456),
        ("0::/a/b\n", {"a/memory.max": "5000\n", "a/b/memory.max": "max\n"}, 5000),
        ("0::/not/seen/in/a/container\n", {"memory.max": "7000\n"}, 7000),
        ("4:memory:/a\n3:cpu:/a\n", {"memory/a/memory.limit_in_bytes": "9000\n"}, 9000),
        ("4:memory:/\n", {"memory/memory.limit_in_bytes": "9223372036854771712\n"}, None),
        ("0::/\n", {"memory.max": "max\n"}, None),
        ("0::/\n", {}, None),
    ],
)
def test_the_limit_of_a_container(groups: str, files: dict[str, str], limit: int | None, tmp_path: Path) -> None:
    (tmp_path / "groups").write_text(groups)
    for name, text in files.items():
        (tmp_path / "root" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "root" / name).write_text(text)
    assert limit_of_group(tmp_path / "groups", tmp_path / "root") == limit


def test_a_folder_in_memory_is_told_from_one_on_a_disk(tmp_path: Path) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(f"disk / ext4 rw 0 0\ntmpfs {tmp_path}/quick tmpfs rw 0 0\n")
    assert is_in_memory(tmp_path / "quick" / "deep", mounts)
    assert not is_in_memory(tmp_path / "slow", mounts)
    assert not is_in_memory(tmp_path, tmp_path / "missing")
