"""Clients that do not read: their connections are ended, though the server itself has no limit for that."""

from __future__ import annotations

import os
import socket
import stat
from collections.abc import Iterator
from pathlib import Path

OPEN_FILES = Path("/proc/self/fd")
UNREAD_SECONDS = 30
"""As long as nginx waits for such a client with the settings that we recommend."""


def end_unread(seconds: int = UNREAD_SECONDS) -> int:
    """Let the system end each connection whose client takes nothing for so long; how many sockets were told.

    Only Linux can, and finds the sockets that listen: connections that they accept from now on do as they are told.
    The server opens them after the application is loaded, and does not show them.
    """
    told = 0
    for listening in _listening():
        with listening:
            listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, seconds * 1000)
            told += 1
    return told


def _listening() -> Iterator[socket.socket]:
    """A second handle of each socket of this process that listens for connections over IP."""
    if not OPEN_FILES.is_dir() or not hasattr(socket, "TCP_USER_TIMEOUT"):
        return
    for name in os.listdir(OPEN_FILES):
        found = _socket(int(name))
        if found is None:
            continue
        over_ip = found.family in (socket.AF_INET, socket.AF_INET6)
        if over_ip and found.getsockopt(socket.SOL_SOCKET, socket.SO_ACCEPTCONN):
            yield found
        else:
            found.close()


def _socket(file: int) -> socket.socket | None:
    """A second handle of an open file, if that is a socket."""
    try:
        if not stat.S_ISSOCK(os.fstat(file).st_mode):
            return None
        return socket.socket(fileno=os.dup(file))
    except OSError:  # closed meanwhile
        return None
