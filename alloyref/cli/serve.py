"""`alloyref serve`: the service on a production server."""

from __future__ import annotations

import errno
import os
import signal
import socket
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NoReturn

import click

from alloyref.cli.data import settings_or_end
from alloyref.settings import Settings
from alloyref.shop.database import open_database
from alloyref.shop.errors import ShopError
from alloyref.shop.migrate import upgrade

GRACE_SECONDS = 15
NOT_STARTED = 1
STOPPING = (signal.SIGTERM, signal.SIGINT)
MOST_FILES = 65_536
MOST_CONNECTIONS = 16_384
# What a worker opens besides connections: databases, spooled answers, the event loop, the log.
OTHER_FILES = 256
# The longest header of one connection. A query may be long, but the server's own 418 kB are a way to fill memory.
HEADER_BYTES = 131_072


def _connections() -> int:
    """How many connections a worker may hold, as many as files may be open here.

    The server stops accepting beyond it, so it must be more than idle clients are likely to open: an idle one costs
    a few kilobytes and is closed when its header does not come. The soft limit of open files is first raised to the
    hard one, which is what the soft limit is for in a program that does not use select().
    """
    try:
        import resource  # noqa: PLC0415 - there is none on Windows
    except ImportError:
        return MOST_CONNECTIONS
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    most = MOST_FILES if hard == resource.RLIM_INFINITY else min(hard, MOST_FILES)
    if soft != resource.RLIM_INFINITY and soft < most:
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))
        soft = most
    return MOST_CONNECTIONS if soft == resource.RLIM_INFINITY else max(1, min(MOST_CONNECTIONS, soft - OTHER_FILES))


def _upgrade_file(settings: Settings) -> None:
    """Bring a SQLite database up to date before any worker starts; it is this service's own.

    PostgreSQL serves other hosts too, so it is upgraded by command only. Whatever is wrong, the catalogue and
    the calculations need no such database: the service starts, and /readyz says what is missing.
    """
    database = open_database(settings.database)
    try:
        if database.is_sqlite:
            upgrade(database)
        database.check_ready()
    except ShopError as error:
        click.echo(f"not ready: {error}", err=True)
    finally:
        database.close()


@click.command(short_help="Serve over HTTP")
@click.option("--host", help="Address to listen on; 127.0.0.1 unless told otherwise.")
@click.option("--port", type=click.IntRange(1, 65535), help="Port to listen on.")
@click.option("--workers", type=click.IntRange(1, 64), help="Worker processes.")
def serve(host: str | None, port: int | None, workers: int | None) -> None:
    """Serve over HTTP until stopped; running requests are finished first.

    Ends with 1 if the port is taken, with 2 if a setting, the data folder or a row of the data is not as it must be.

    \b
    Example:
      alloyref serve --port 8087
    """
    from alloyref.catalogue.files import data_folder  # noqa: PLC0415
    from alloyref.catalogue.kept import ensure_kept  # noqa: PLC0415 - imports of one command

    settings = settings_or_end()
    at = host or settings.host, port or settings.port
    _must_be_free(*at)
    # Before any worker starts, so that bad data are told once.
    ensure_kept(data_folder(), settings.data_dir)
    _upgrade_file(settings)
    os.environ.setdefault("ALLOYREF_DATA_DIR", str(settings.data_dir))
    _stop_workers_that_start()
    with _metrics_folder(settings):
        _server(settings, *at, workers or settings.workers).serve()


def _stop_workers_that_start() -> None:
    """Let a worker that is still starting end at once when it is told to.

    Forked from the server's first process, it has that one's way with signals until it sets its own: told to stop
    meanwhile, it would take no notice, go on starting, and be killed after `GRACE_SECONDS`. It has begun no request
    yet, so nothing is cut off. Signals wait while the process is forked, so that none falls between.
    """
    if not hasattr(os, "register_at_fork"):
        return  # Windows starts workers afresh
    os.register_at_fork(
        before=lambda: signal.pthread_sigmask(signal.SIG_BLOCK, STOPPING),
        after_in_parent=lambda: signal.pthread_sigmask(signal.SIG_UNBLOCK, STOPPING),
        after_in_child=_as_begun,
    )


def _as_begun() -> None:
    """The way with signals of a process of its own; what a terminal sends to all is left to the first process."""
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, STOPPING)


def _must_be_free(host: str, port: int) -> None:
    """End with 1 if the address cannot be listened on.

    The server lets sockets share a port, as its workers do, and so would share with another service unnoticed.
    """
    family, kind, protocol, _, where = _resolved(host, port)
    with socket.socket(family, kind, protocol) as probe:
        if os.name == "posix":
            # A service stopped a moment ago leaves connections that linger; they do not take the port.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            probe.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        try:
            probe.bind(where)
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                _end(f"{host}:{port} is taken: another service listens there. Stop it, or choose another --port.")
            _end(f"{host}:{port} cannot be listened on: {error.strerror}.")


def _resolved(host: str, port: int) -> Any:
    try:
        return socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)[0]
    except OSError as error:
        _end(f"{host} is no address of this machine: {error.strerror}.")


def _end(message: str) -> NoReturn:
    click.echo(message, err=True)
    sys.exit(NOT_STARTED)


@contextmanager
def _metrics_folder(settings: Settings) -> Iterator[None]:
    """A folder for the counts of all workers, as long as they run."""
    from alloyref.web.metrics import MULTIPROCESS  # noqa: PLC0415 - imports of one command

    if not settings.metrics or MULTIPROCESS in os.environ:
        yield
        return
    with tempfile.TemporaryDirectory(prefix="alloyref-metrics-") as folder:
        os.environ[MULTIPROCESS] = folder
        yield


def _server(settings: Settings, host: str, port: int, workers: int) -> Any:
    """The production server."""
    from granian import Granian  # noqa: PLC0415 - only this command needs the server
    from granian.constants import HTTPModes, Interfaces  # noqa: PLC0415
    from granian.http import HTTP1Settings  # noqa: PLC0415
    from granian.log import LogLevels  # noqa: PLC0415

    from alloyref.web.logs import configuration  # noqa: PLC0415

    return Granian(
        "alloyref.web.worker:application",
        factory=True,
        address=host,
        port=port,
        interface=Interfaces.RSGI,
        http=HTTPModes.http1,
        workers=workers,
        websockets=False,
        respawn_failed_workers=True,
        workers_kill_timeout=GRACE_SECONDS,
        backlog=2048,
        backpressure=_connections(),
        http1_settings=HTTP1Settings(
            header_read_timeout=int(settings.header_seconds * 1000), max_buffer_size=HEADER_BYTES
        ),
        log_level=LogLevels(settings.log_level),
        log_dictconfig=configuration(settings.log_format, settings.log_level),
    )
