"""How much memory bulk requests may take, so that a service with little of it refuses some and is not killed.

What a container may use is read from its control group. Python's memory is seldom given back to the system, so the
bound is on how many requests run at a time, by what each was measured to take, not on what is in use now.
"""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from alloyref.settings import Settings

MB = 1_000_000
FIRST_PROCESS = 70 * MB
"""What the process that starts the workers has for itself; 67 MB measured (proportional set size)."""
WORKER = 140 * MB
"""What a worker has after a charge and a picture, for both load a library; 134 MB measured, and 185 MB resident."""
POLARS = 120 * MB
"""What polars takes in a worker before it is worth its speed; 300 to 310 MB resident with one run of 9 MB."""
RUN_WITH_POLARS = 30 * MB
"""What each run takes with polars; 16 of 9 MB took 630 MB in all."""
RUN = 12 * MB
"""What each run takes row by row; 16 of 3 MB took 144 MB."""
LEAST = FIRST_PROCESS + WORKER + RUN
"""What the service needs with one worker: README says 256 MB."""
NO_LIMIT = 1 << 60
GROUPS = Path("/proc/self/cgroup")
ROOT = Path("/sys/fs/cgroup")
MOUNTS = Path("/proc/mounts")
IN_MEMORY = frozenset({"tmpfs", "ramfs"})


@dataclass(frozen=True, slots=True)
class BulkRoom:
    """How many bulk requests one worker answers at a time, whether with polars, and how large an answer may be."""

    runs: int
    polars: bool
    most_answer: int


def bulk_room(settings: Settings) -> BulkRoom:
    """The room there is by the settings and by the limit on memory; one request is always let in."""
    limit = settings.max_memory or limit_of_group()
    if limit is None:
        return BulkRoom(settings.max_bulk_runs, True, settings.max_bulk_answer)
    share = (limit - FIRST_PROCESS) // settings.workers - WORKER
    waiting_counts = is_in_memory(Path(tempfile.gettempdir()))
    if waiting_counts:
        share //= 2  # the other half is for the answers that wait there
    polars = share >= POLARS + RUN_WITH_POLARS
    fit = (share - POLARS) // RUN_WITH_POLARS if polars else share // RUN
    runs = max(1, min(settings.max_bulk_runs, fit))
    most = max(share, RUN) // runs if waiting_counts else settings.max_bulk_answer
    return BulkRoom(runs, polars, min(most, settings.max_bulk_answer))


def limit_of_group(groups: Path = GROUPS, root: Path = ROOT) -> int | None:
    """The least limit on memory of the control groups that this process is in, in bytes; None if none is set."""
    found = []
    for line in _lines(groups):
        _, controllers, path = line.split(":", 2)
        if controllers not in ("", "memory"):
            continue
        folder, name = (root / "memory", "memory.limit_in_bytes") if controllers else (root, "memory.max")
        own = folder / path.strip("/")
        # A container sees its own group at the root.
        found += [_lines(one / name) for one in (own, *own.parents) if one == folder or folder in one.parents]
    limits = [int(lines[0]) for lines in found if lines and lines[0].isdecimal()]
    return min((limit for limit in limits if 0 < limit < NO_LIMIT), default=None)


def is_in_memory(folder: Path, mounts: Path = MOUNTS) -> bool:
    """Whether what is written to a folder stays in memory, and counts there."""
    kinds = {Path(words[1]): words[2] for words in map(str.split, _lines(mounts)) if len(words) > 2}
    place = folder.resolve()
    return next((kinds[one] in IN_MEMORY for one in (place, *place.parents) if one in kinds), False)


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="utf-8").splitlines()
    except OSError:
        return []
