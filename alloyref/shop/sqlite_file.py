"""The file of a SQLite database: made whole or not at all, still the same one while it is served, and not damaged."""

from __future__ import annotations

import os
import secrets
import sqlite3
import time
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from alloyref.shop.errors import Unavailable

NAME = "The database of the shop's own data"
EMPTY = (
    f"{NAME} is an empty file, which is no shop: put a backup in its place (alloyref db restore FILE --replace), or "
    "take the file away to begin a new shop."
)
GONE = f"{NAME} is no longer in its place: put the file back, or a backup (alloyref db restore FILE)."
REPLACED = (
    f"The file of {NAME.lower()} was replaced while the service used it: stop the service, take away the -wal and "
    "-shm files of the old one, run alloyref db check, and start the service again."
)
LOG_LOST = (
    f"The -wal file of {NAME.lower()} was taken away while the service used it: stop the service, which saves what "
    "it holds, run alloyref db check, and start the service again."
)
DAMAGED = (
    f"{NAME} is damaged: see alloyref db check, and put a backup in its place (alloyref db restore FILE --replace)."
)
WAIT_SECONDS = 2
"""How long a connection waits for a lock."""
LOOK_SECONDS = 0.1
"""How long one look for damage may take; 0.1 s is enough for some 30 MB."""
STEPS_BETWEEN = 1000
"""Instructions of SQLite between two looks at the clock."""

Identity = tuple[int, int] | None


class InPlace(NamedTuple):
    """Which files lie at the place of a database, by device and inode."""

    file: Identity
    log: Identity


def log_of(path: Path) -> Path:
    """Where SQLite keeps what was committed and is not yet in the file itself."""
    return path.with_name(f"{path.name}-wal")


def index_of(path: Path) -> Path:
    """Where the processes that use a database tell each other about its log."""
    return path.with_name(f"{path.name}-shm")


def name_aside(path: Path) -> Path:
    """A name beside a file under which it, or a copy, may be kept."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
    return path.with_name(f"{path.stem}-before-restore-{stamp}.sqlite")


def set_aside(path: Path) -> Path:
    """Move a file and its log, as far as they are there, to a name of their own beside it; that name.

    A log left there would be taken for that of the next file.
    """
    kept = name_aside(path)
    for present, name in ((log_of(path), log_of(kept)), (path, kept)):
        if present.exists():
            present.rename(name)
    index_of(path).unlink(missing_ok=True)
    return kept


def _identity(path: Path) -> Identity:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


class SqliteFile:
    """One file, as the connections of this process know it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._known: InPlace | None = None
        self._sound: tuple[int, int, int] | None = None
        self._damaged: tuple[int, int, int] | None = None

    def connect(self) -> sqlite3.Connection:
        """A connection to the file that is there; none is made."""
        where = f"{self.path.absolute().as_uri()}?mode=rw"
        return sqlite3.connect(where, uri=True, timeout=WAIT_SECONDS, check_same_thread=False)

    def is_yet_to_be_made(self) -> bool:
        """Whether nothing is at its place, and nothing was."""
        return self._known is None and not self.path.exists()

    def make(self) -> None:
        """Make an empty database in its place, if nothing is there.

        It gets its name once it is whole, so that an empty file is never left by a program that was killed. Raises
        `OSError` where the folder cannot be written.
        """
        # In this order: another process that is making it makes the file before its log.
        log_left = log_of(self.path).exists()
        if self.path.exists():
            return
        if log_left:
            set_aside(self.path)
        self.path.absolute().parent.mkdir(parents=True, exist_ok=True)
        building = self.path.with_name(f"{self.path.name}.{secrets.token_hex(4)}")
        try:
            building.open("wb").close()  # says why it cannot be made, which SQLite does not
            with closing(sqlite3.connect(building)) as connection:
                connection.execute("PRAGMA journal_mode = WAL")
            os.link(building, self.path)
        except FileExistsError:  # another process has just made it
            pass
        finally:
            building.unlink(missing_ok=True)

    def in_place(self) -> InPlace:
        """Which files lie there now."""
        return InPlace(_identity(self.path), _identity(log_of(self.path)))

    def check_in_place(self) -> bool:
        """`Unavailable` unless what lies there may be used; whether it is another file than the one used so far.

        A file that was put there by `alloyref db restore` is used. One that was moved there leaves the log of the old
        one beside it, which SQLite would take for its own.
        """
        now, known = self.in_place(), self._known
        if now.file is None:
            raise Unavailable(GONE)
        if self.path.stat().st_size == 0:
            raise Unavailable(EMPTY)
        if self._damaged is not None and self._damaged == self._stamp():
            raise Unavailable(DAMAGED)
        if known is None or now == known:
            return False
        if now.file != known.file:
            if known.log is not None and now.log == known.log:
                raise Unavailable(REPLACED)
            return True
        if known.log is not None:
            raise Unavailable(LOG_LOST)
        self._known = now
        return False

    def remember(self, before: InPlace) -> InPlace:
        """Note what a connection has opened, with what lay there before; `Unavailable` if that has changed."""
        now = self._still(before)
        if self._known is None:
            self._known = now
        return now

    def forget(self) -> None:
        """Every connection is closed; the next one may open another file."""
        self._known = None

    def check_still(self, before: InPlace) -> None:
        """`Unavailable` if the file was taken away since, so that what was just written is in no file."""
        now = self._still(before)
        if before.log is not None and now.log != before.log:
            raise Unavailable(LOG_LOST)

    def _still(self, before: InPlace) -> InPlace:
        """What lies there now; `Unavailable` if the file is another one than before."""
        now = self.in_place()
        if now.file != before.file:
            raise Unavailable(GONE if now.file is None else REPLACED)
        return now

    def found_damaged(self) -> None:
        """A statement has met damage: the file is not used again before it has changed."""
        self._damaged = self._stamp()

    def look_for_damage(self) -> None:
        """`Unavailable` if the file does not hold together; looked through once each time that it has changed.

        A connection of its own reads what is on the disk; those of the pool keep pages in memory. A file that takes
        longer than `LOOK_SECONDS` is taken for sound, until a statement meets damage.
        """
        stamp = self._stamp()
        if stamp in (None, self._sound) or not stamp[1]:
            return
        ends = time.monotonic() + LOOK_SECONDS
        try:
            with closing(self.connect()) as connection:
                connection.set_progress_handler(lambda: time.monotonic() > ends, STEPS_BETWEEN)
                sound = connection.execute("PRAGMA quick_check(1)").fetchone() == ("ok",)
        except sqlite3.OperationalError as error:
            sound = error.sqlite_errorcode == sqlite3.SQLITE_INTERRUPT
            if not sound:
                return  # locked, or not to be opened: whoever uses it next is told so
        except sqlite3.DatabaseError:
            sound = False
        self._sound, self._damaged = (stamp, None) if sound else (None, stamp)
        if not sound:
            raise Unavailable(DAMAGED)

    def _stamp(self) -> tuple[int, int, int] | None:
        """What changes when the file is written to."""
        try:
            found = self.path.stat()
        except OSError:
            return None
        return found.st_ino, found.st_size, found.st_mtime_ns
