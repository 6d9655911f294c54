"""The database of what users write: SQLite for one machine, PostgreSQL for several, with every wait bounded.

But for what may take long, a worker answers requests one at a time, so a wait here holds up everyone: locks,
statements and connecting are each given up after about two seconds, and a server that could not be reached is left
alone for a moment.
"""

from __future__ import annotations

import secrets
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, delete, event, insert, inspect, make_url, text
from sqlalchemy.exc import ArgumentError, DatabaseError, DBAPIError, InterfaceError, OperationalError

from alloyref.shop.errors import Unavailable
from alloyref.shop.sqlite_file import DAMAGED, WAIT_SECONDS, SqliteFile
from alloyref.shop.tables import HEAD, VERSION_TABLE, alloys

FILE = "shop.sqlite"
FORMS = "write sqlite:///PATH or postgresql+psycopg://USER@HOST/NAME"
REST_SECONDS = 2.0
POSTGRES_OPTIONS = (
    f"-c lock_timeout={WAIT_SECONDS}s -c statement_timeout={WAIT_SECONDS + 1}s "
    "-c idle_in_transaction_session_timeout=15s"
)
AWAY = (OperationalError, InterfaceError)
STATES_AWAY = {
    "25006": "may only be read now",
    "25P03": "has ended the connection, which stood still for long",
    "42P01": "has lost a table: see alloyref db check",
    "XX001": "is damaged: see the log of PostgreSQL, and restore a backup",
    "XX002": "has a damaged index: see the log of PostgreSQL, and REINDEX",
    "58P01": "has lost a file: see the log of PostgreSQL, and restore a backup",
}
"""What PostgreSQL answers on a standby, to a process that was stopped meanwhile, and where it is damaged or was made
anew; no driver counts it as away."""
SQLITE_DAMAGED = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
SQLITE_REFUSED = frozenset({sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM})
FULL = "53100"
"""What PostgreSQL answers where its disk is full."""
LOOK_SECONDS = 1.0
"""How long the question whether all is ready waits for a lock."""
HURRY_SECONDS = 0.1
"""How long a write waits for a lock after one that failed, until one succeeds."""
LEAST_FREE = 1_000_000
"""Bytes that the disk of a SQLite file must have free; the largest entry and all that goes with it need less."""
TRIAL_BYTES = 100_000
NO_BOUND = -1
"""A thread has one connection at a time, so the threads of a worker bound them, and none waits for another's."""


class DatabaseAddressError(ValueError):
    """The address is of no database that this program writes to."""


def address(url: str, folder: Path) -> URL:
    """The database that a setting means; without one, a SQLite file in `folder`.

    >>> address("postgresql://bench@db.example/shop", Path("here")).drivername
    'postgresql+psycopg'
    """
    if not url:
        return URL.create("sqlite", database=str(folder / FILE))
    try:
        made = make_url(url)
    except (ValueError, ArgumentError):
        raise DatabaseAddressError(FORMS) from None
    if made.drivername in ("postgresql", "postgresql+psycopg"):
        if find_spec("psycopg") is None:
            raise DatabaseAddressError("PostgreSQL needs one package more: pip install 'alloyref[postgres]'")
        return made.set(drivername="postgresql+psycopg")
    if made.drivername == "sqlite" and made.database not in (None, "", ":memory:") and not made.query:
        return made
    raise DatabaseAddressError(FORMS)


class Database:
    """An engine with bounded waits; `read` and `write` are the only ways in."""

    def __init__(self, engine: Engine, file: SqliteFile | None = None) -> None:
        self.engine = engine
        self._file = file
        self._ready = False
        self._rests_until = 0.0
        self._write_failed = False

    @property
    def is_sqlite(self) -> bool:
        """Whether it is a file of this machine."""
        return self.engine.dialect.name == "sqlite"

    @property
    def file(self) -> Path:
        """The file of a SQLite database."""
        return Path(str(self.engine.url.database))

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """A transaction that only reads, on the right schema; `Unavailable` if the database is away."""
        self._check_schema()
        with self._open() as connection, connection.begin():
            yield connection

    @contextmanager
    def write(self, *, wait: float = WAIT_SECONDS) -> Iterator[Connection]:
        """A transaction that writes whole or not at all; `Unavailable` if another holds the lock for longer.

        `wait` is in seconds; with 0 a lock is not waited for at all.
        """
        self._check_schema()
        if self._write_failed:
            # The one before has waited in vain; as many waits as there are requests would hold up everyone.
            wait = min(wait, HURRY_SECONDS)
        try:
            with self._open(write=True) as connection, _waiting(connection, wait), connection.begin():
                if wait != WAIT_SECONDS and not self.is_sqlite:
                    # 0 would mean for ever.
                    connection.execute(text(f"SET LOCAL lock_timeout = '{max(20, int(wait * 1000))}ms'"))
                yield connection
        except Unavailable:
            # Not being able to have a lock at once is no failure.
            self._write_failed = self._write_failed or wait > 0
            raise
        else:
            self._write_failed = False

    @contextmanager
    def migrating(self) -> Iterator[Connection]:
        """A writing transaction on whatever schema there is; a file of SQLite that is not there is made."""
        if self._file:
            self._file.make()
        with self._open(write=True) as connection, connection.begin():
            yield connection

    @contextmanager
    def _open(self, *, write: bool = False) -> Iterator[Connection]:
        """A connection, its failures told as `Unavailable` without the statement or the address."""
        if time.monotonic() < self._rests_until:
            raise Unavailable("The database of the shop's own data could not be reached just now; try again.")
        self._check_file()
        before = self._file.in_place() if self._file else None
        with closing(self._connected(write)) as connection:
            try:
                opened = self._file.remember(before) if self._file and before else None
                yield connection
            except DBAPIError as error:
                self._ready = False
                self._look_at(error)
                raise
        if write and self._file and opened:
            # It is committed, and nobody is told so where that was into a file which was taken away.
            self._file.check_still(opened)

    def _connected(self, write: bool) -> Connection:
        try:
            return self.engine.connect().execution_options(alloyref_write=write)
        except (*AWAY, DatabaseError) as error:  # the last is a file that is no database
            if self.is_sqlite:
                self._look_at(error)
            self._rests_until = time.monotonic() + REST_SECONDS
            raise Unavailable("The database of the shop's own data cannot be reached.") from error

    def _look_at(self, error: DBAPIError) -> None:
        """`Unavailable` where a statement failed because the database is away or damaged."""
        if _sqlite_code(error) in SQLITE_DAMAGED and self._file:
            self._file.found_damaged()
            raise Unavailable(DAMAGED) from error
        state = STATES_AWAY.get(getattr(error.orig, "sqlstate", None) or "")
        if state is None and isinstance(error, AWAY):
            state = _state(error)
        if state is not None:
            raise Unavailable(f"The database of the shop's own data {state}.") from error

    def _check_file(self) -> None:
        """`Unavailable` unless the file of SQLite lies where it is looked for; another one is opened anew."""
        if self._file and self._file.check_in_place():
            self.engine.dispose()
            self._file.forget()
            self._ready = False

    def _check_schema(self) -> None:
        """Look once whether the schema is this program's; after that it is."""
        if self._ready:
            self._check_file()
        if not self._ready:
            self._read_schema()

    def check_ready(self) -> None:
        """`Unavailable` unless the database answers, has the schema of this program and can be written to.

        To a SQLite file the way is tried without writing; to PostgreSQL only after a write has failed, with a
        transaction that leaves nothing behind.
        """
        self._read_schema()
        if self.is_sqlite and shutil.disk_usage(self.file.absolute().parent).free < LEAST_FREE:
            raise Unavailable("The disk that holds the shop's own data is full.")
        if not self.is_sqlite and not self._write_failed:
            return
        failed = self._write_failed
        with self.write(wait=LOOK_SECONDS) as connection:
            if failed:
                _try_to_write(connection)

    def _read_schema(self) -> None:
        self._ready = False
        if self._file and not self._file.is_yet_to_be_made():
            self._check_file()  # first: a file beside the log of another is not to be opened
            self._file.look_for_damage()
        found = self.revision()
        self._ready = found == HEAD
        if not self._ready:
            state = f"has schema {found}" if found else "has no schema yet"
            raise Unavailable(
                f"The database of the shop's own data {state}, this program needs {HEAD}: run alloyref db upgrade."
            )

    def revision(self) -> str | None:
        """The revision of its schema, or None if it has none."""
        if self._file and self._file.is_yet_to_be_made():
            return None
        with self._open() as connection, connection.begin():
            if not inspect(connection).has_table(VERSION_TABLE):
                return None
            found: str | None = connection.scalar(text(f"SELECT version_num FROM {VERSION_TABLE}"))  # noqa: S608 - a constant
            return found

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()
        if self._file:
            self._file.forget()


def open_database(url: URL, *, bounded: bool = True) -> Database:
    """The database at an address; nothing is connected to yet. Without `bounded`, statements may take their time."""
    if url.drivername == "sqlite":
        file = SqliteFile(Path(str(url.database)))
        engine = create_engine(url, creator=file.connect, max_overflow=NO_BOUND)
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return Database(engine, file)
    limits: dict[str, Any] = {"connect_timeout": WAIT_SECONDS, "application_name": "alloyref"}
    if bounded:
        limits |= {"options": POSTGRES_OPTIONS, "tcp_user_timeout": (WAIT_SECONDS + 1) * 1000}
    engine = create_engine(url, connect_args=limits, pool_pre_ping=True, pool_size=2, max_overflow=NO_BOUND)
    if bounded:
        from alloyref.shop.patience import bounded_connection  # noqa: PLC0415 - needs the driver of PostgreSQL

        connect = bounded_connection(WAIT_SECONDS + 2).connect
        event.listen(engine, "do_connect", lambda dialect, record, given, named: connect(*given, **named))
    return Database(engine)


@contextmanager
def _waiting(connection: Connection, wait: float) -> Iterator[None]:
    """How long SQLite waits for a lock on this connection; set past SQLAlchemy, which would begin a transaction."""
    driver: Any = connection.connection.driver_connection
    if wait == WAIT_SECONDS or not isinstance(driver, sqlite3.Connection):
        yield
        return
    driver.execute(f"PRAGMA busy_timeout = {int(wait * 1000)}")
    try:
        yield
    finally:
        driver.execute(f"PRAGMA busy_timeout = {WAIT_SECONDS * 1000}")


def _try_to_write(connection: Connection) -> None:
    """Write as much as a large entry has and take it back, in a transaction of the caller's."""
    row = {"id": secrets.token_hex(16), "version": 0, "created": "", "changed": ""}
    connection.execute(insert(alloys), [{**row, "document": secrets.token_hex(TRIAL_BYTES // 2)}])
    connection.execute(delete(alloys).where(alloys.c.id == row["id"]))


def _state(error: Exception) -> str:
    """What became of a statement, in words that hold neither it nor the address."""
    code = _sqlite_code(error)
    if code == sqlite3.SQLITE_FULL or getattr(getattr(error, "orig", None), "sqlstate", None) == FULL:
        return "has no room left on its disk"
    if code in SQLITE_REFUSED:
        return "cannot be opened and written in its place: see who may write its file and folder"
    return "did not answer in time"


def _sqlite_code(error: Exception) -> int | None:
    """The kind of error that SQLite tells, without what it says more closely."""
    code: int | None = getattr(getattr(error, "orig", None), "sqlite_errorcode", None)
    return None if code is None else code & 0xFF


def _prepare_sqlite(connection: sqlite3.Connection, _: object) -> None:
    """Readers do not wait for a writer (WAL), references hold, and what was answered survives a power cut (FULL)."""
    # Transactions are begun by hand, below: the driver would begin them only at the first change.
    connection.isolation_level = None
    # The last one reads, so that the log is there when it is noted which files are in use.
    for pragma in ("foreign_keys = ON", "journal_mode = WAL", "synchronous = FULL", "schema_version"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    """A writer takes the lock at once: taken later, it could be refused with work already done."""
    writes = connection.get_execution_options().get("alloyref_write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
