"""A service whose searches for a charge, drawing and settling wait until a test lets them go on."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

SECONDS = 20
# What every Python process of the service runs first: such work tells the test that it has begun, and waits.
WAITS = f"""
import os
import socket

import alloyref.web.places
from alloyref.domain.charge import calculation as charge
from alloyref.domain.recovery import calculation as recovery
from alloyref.pictures.drawing import Drawing


def waiting(work):
    def waits(*given):
        with socket.create_connection(("127.0.0.1", int(os.environ["TOLD_AT"])), {SECONDS}) as told:
            told.recv(1)
        return work(*given)

    return waits


charge.SearchTime = waiting(charge.SearchTime)  # begun once for each charge, before its searches
recovery.settlement_of = waiting(recovery.settlement_of)
Drawing.render = waiting(Drawing.render)
alloyref.web.places.WAIT_SECONDS = float(os.environ["WAIT"])
alloyref.web.places.MOST_WAITING = int(os.environ.get("LINE", alloyref.web.places.MOST_WAITING))
"""


class Searches:
    """Where searches, and other long work, that have begun are seen, one by one."""

    def __init__(self, listener: socket.socket) -> None:
        self._listener = listener

    @contextmanager
    def begun(self) -> Iterator[None]:
        """The next one, once it has begun; it goes on at the end."""
        told, _ = self._listener.accept()
        with told:
            yield


@contextmanager
def held(start: Callable[..., AbstractContextManager[Any]], folder: Path, **environment: str) -> Iterator[Any]:
    """A service, and its searches."""
    (folder / "sitecustomize.py").write_text(WAITS, encoding="utf-8")
    path = os.pathsep.join(filter(None, (str(folder), os.environ.get("PYTHONPATH"))))
    with socket.create_server(("127.0.0.1", 0)) as listener:
        listener.settimeout(SECONDS)
        port = listener.getsockname()[1]
        with start(PYTHONPATH=path, TOLD_AT=str(port), **environment) as running:
            yield running, Searches(listener)
