"""The database of what users write: SQLite for one machine, PostgreSQL for several, with every wait bounded.

A worker answers requests one at a time, so a wait here holds up everyone: locks, statements and connecting are
each given up after about two seconds, and a server that could not be reached is left alone for a moment.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, inspect, make_url, text
from sqlalchemy.exc import ArgumentError, DatabaseError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from alloyref.shop.errors import Unavailable
from alloyref.shop.tables import HEAD, VERSION_TABLE

FILE = "shop.sqlite"
FORMS = "write sqlite:///PATH or postgresql+psycopg://USER@HOST/NAME"
WAIT_SECONDS = 2
REST_SECONDS = 2.0
POSTGRES_OPTIONS = (
    f"-c lock_timeout={WAIT_SECONDS}s -c statement_timeout={WAIT_SECONDS + 1}s "
    "-c idle_in_transaction_session_timeout=15s"
)
AWAY = (OperationalError, InterfaceError, PoolTimeout)


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
    if made.drivername == "sqlite" and made.database not in (None, "", ":memory:"):
        return made
    raise DatabaseAddressError(FORMS)


class Database:
    """An engine with bounded waits; `read` and `write` are the only ways in."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._ready = False
        self._rests_until = 0.0

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
    def write(self, *, patient: bool = True) -> Iterator[Connection]:
        """A transaction that writes whole or not at all; `Unavailable` if another holds the lock for too long.

        With `patient=False` it does not wait for a lock at all.
        """
        self._check_schema()
        with self._open(write=True) as connection, _wait(connection, patient), connection.begin():
            if not patient and not self.is_sqlite:
                connection.execute(text("SET LOCAL lock_timeout = '20ms'"))
            yield connection

    @contextmanager
    def migrating(self) -> Iterator[Connection]:
        """A writing transaction on whatever schema there is."""
        with self._open(write=True) as connection, connection.begin():
            yield connection

    @contextmanager
    def _open(self, *, write: bool = False) -> Iterator[Connection]:
        """A connection, its failures told as `Unavailable` without the statement or the address."""
        if time.monotonic() < self._rests_until:
            raise Unavailable("The database of the shop's own data could not be reached just now; try again.")
        try:
            connection = self.engine.connect().execution_options(alloyref_write=write)
        except (*AWAY, DatabaseError) as error:  # the last is a file that is no database
            self._rests_until = time.monotonic() + REST_SECONDS
            raise Unavailable("The database of the shop's own data cannot be reached.") from error
        try:
            with closing(connection):
                yield connection
        except AWAY as error:
            raise Unavailable("The database of the shop's own data did not answer in time.") from error

    def _check_schema(self) -> None:
        """Look once whether the schema is this program's; after that it is."""
        if not self._ready:
            self.check_ready()

    def check_ready(self) -> None:
        """`Unavailable` unless the database answers and has the schema of this program."""
        found = self.revision()
        self._ready = found == HEAD
        if not self._ready:
            state = f"has schema {found}" if found else "has no schema yet"
            raise Unavailable(
                f"The database of the shop's own data {state}, this program needs {HEAD}: run alloyref db upgrade."
            )

    def revision(self) -> str | None:
        """The revision of its schema, or None if it has none."""
        with self._open() as connection, connection.begin():
            if not inspect(connection).has_table(VERSION_TABLE):
                return None
            found: str | None = connection.scalar(text(f"SELECT version_num FROM {VERSION_TABLE}"))  # noqa: S608 - a constant
            return found

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()


def open_database(url: URL, *, bounded: bool = True) -> Database:
    """The database at an address; nothing is connected to yet. Without `bounded`, statements may take their time."""
    if url.drivername == "sqlite":
        Path(str(url.database)).absolute().parent.mkdir(parents=True, exist_ok=True)
        engine = create_engine(url, connect_args={"timeout": WAIT_SECONDS}, pool_timeout=WAIT_SECONDS)
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
        return Database(engine)
    limits: dict[str, Any] = {"connect_timeout": WAIT_SECONDS, "application_name": "alloyref"}
    if bounded:
        limits |= {"options": POSTGRES_OPTIONS, "tcp_user_timeout": (WAIT_SECONDS + 1) * 1000}
    engine = create_engine(
        url, connect_args=limits, pool_pre_ping=True, pool_size=2, max_overflow=2, pool_timeout=WAIT_SECONDS
    )
    return Database(engine)


@contextmanager
def _wait(connection: Connection, patient: bool) -> Iterator[None]:
    """How long SQLite waits for a lock on this connection; set past SQLAlchemy, which would begin a transaction."""
    driver: Any = connection.connection.driver_connection
    if patient or not isinstance(driver, sqlite3.Connection):
        yield
        return
    driver.execute("PRAGMA busy_timeout = 0")
    try:
        yield
    finally:
        driver.execute(f"PRAGMA busy_timeout = {WAIT_SECONDS * 1000}")


def _prepare_sqlite(connection: sqlite3.Connection, _: object) -> None:
    """Readers do not wait for a writer (WAL), references hold, and what was answered survives a power cut (FULL)."""
    # Transactions are begun by hand, below: the driver would begin them only at the first change.
    connection.isolation_level = None
    for pragma in ("foreign_keys = ON", "journal_mode = WAL", "synchronous = FULL"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    """A writer takes the lock at once: taken later, it could be refused with work already done."""
    writes = connection.get_execution_options().get("alloyref_write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
