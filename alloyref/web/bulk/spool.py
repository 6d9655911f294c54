"""An answer while it grows: in memory as long as it is small, then in a file of the system's temporary folder.

Most clients send all of a request before they read any of its answer, so the answer has to wait somewhere. Rows of a
few bytes get answers many times as long, so how much may wait is bounded too. Where open files can be opened again
by their number, as on Linux, the file loses its name at once: it goes with the worker, even one that is killed.
"""

from __future__ import annotations

import asyncio
import errno
import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import IO

from alloyref.web.bulk.run import Refusal

MOST_IN_MEMORY = 500_000
NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT})
OPEN_FILES = Path("/proc/self/fd")
OPENED_WITHIN = 10.0
"""Seconds until whoever was given the name has surely opened the file."""
NEVER = 0
"""When a file was last read that nobody has read."""
READ_WITHIN = 600.0
"""Seconds until an answer that nobody has read to its end is let go of."""


class Spool:
    """Takes bytes in, up to the most there may be; gives them back whole or, when there are many, as a file."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._parts: list[bytes] = []
        self._file: IO[bytes] | None = None
        self._place = Path()
        self.size = 0

    def put(self, data: bytes) -> None:
        """Take some more; `Refusal` where that is too much, or the disk has no room for it."""
        self.size += len(data)
        if self.size > self._most:
            raise Refusal(
                "too-large", f"The answer would have more than {self._most} bytes: send fewer rows at a time."
            )
        try:
            self._put(data)
        except OSError as error:
            if error.errno not in NO_ROOM:
                raise
            raise Refusal("busy", "The disk has no room for the answer now.") from None

    def _put(self, data: bytes) -> None:
        if self._file is not None:
            self._file.write(data)
            self._file.flush()
            return
        self._parts.append(data)
        if self.size > MOST_IN_MEMORY:
            self._file = tempfile.NamedTemporaryFile(prefix="alloyref-bulk-", delete=False)  # noqa: SIM115 - lives on
            self._place = self._unnamed(self._file)
            self._file.write(b"".join(self._parts))
            self._file.flush()
            self._parts.clear()

    @staticmethod
    def _unnamed(file: IO[bytes]) -> Path:
        """Where the file can be opened again, without its name if that is possible."""
        if not OPEN_FILES.is_dir():
            return Path(file.name)
        Path(file.name).unlink()
        return OPEN_FILES / str(file.fileno())

    def content(self) -> bytes:
        """All of it, where it is in memory."""
        return b"".join(self._parts)

    def file(self) -> Path | None:
        """The file it is in, written to the end and not yet read; None where it is in memory."""
        if self._file is None:
            return None
        if OPEN_FILES.is_dir():
            # The next read sets the time of reading, also where that is only done after a change (relatime).
            os.utime(self._file.fileno(), ns=(NEVER, os.fstat(self._file.fileno()).st_mtime_ns))
        return self._place

    def _was_read(self) -> bool:
        """Whether somebody has begun to read, and may be through; a folder may note no such times."""
        return self._file is not None and not self._file.closed and os.fstat(self._file.fileno()).st_atime_ns != NEVER

    def remove(self) -> None:
        """Let go of the file; what somebody still reads of it ends here."""
        if self._file is not None:
            Path(self._file.name).unlink(missing_ok=True)
            # What a full disk did not take is tried again, in vain.
            with suppress(OSError, ValueError):
                self._file.truncate(0)
            with suppress(OSError):
                self._file.close()
            self._file = None

    async def read_by_others(self) -> None:
        """Wait until those who were given the name have read the file, or have had the time to."""
        if self._file is None:
            return
        waited = 0.0
        while waited < OPENED_WITHIN and not self._was_read() and self._readers() == 0:
            await asyncio.sleep(0.02)
            waited += 0.02
        if self._readers() is None:
            # It cannot be seen who reads here; an open file outlives its name, so only that goes.
            await asyncio.sleep(OPENED_WITHIN)
            self._file.close()
        waited = 0.0
        while self._readers() and waited < READ_WITHIN:
            pause = min(1.0, 0.02 + waited)
            await asyncio.sleep(pause)
            waited += pause

    def _readers(self) -> int | None:
        """How many others hold the file open in this process; None where that cannot be seen."""
        if self._file is None or self._file.closed or not OPEN_FILES.is_dir():
            return None
        name, found = os.readlink(self._place), -1
        for entry in OPEN_FILES.iterdir():
            try:
                found += os.readlink(entry) == name
            except OSError:  # closed meanwhile
                continue
        return found
