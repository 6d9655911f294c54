"""Which sockets are told to end connections whose clients do not read."""

from __future__ import annotations

import os
import socket

import pytest

from alloyref.web.unread import OPEN_FILES, end_unread

pytestmark = pytest.mark.skipif(
    not OPEN_FILES.is_dir() or not hasattr(socket, "TCP_USER_TIMEOUT"), reason="only Linux can"
)


def patience(one: socket.socket) -> int:
    """How many milliseconds a connection waits for its client."""
    return one.getsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT)


def test_connections_accepted_from_now_on_are_ended_and_others_left_alone() -> None:
    with socket.create_server(("127.0.0.1", 0)) as listener, socket.create_server(("127.0.0.1", 0)) as elsewhere:
        asks = socket.create_connection(elsewhere.getsockname())
        before = len(os.listdir(OPEN_FILES))
        assert end_unread(7) >= 2
        assert len(os.listdir(OPEN_FILES)) == before
        with socket.create_connection(listener.getsockname()) as client, listener.accept()[0] as accepted, asks:
            assert patience(listener) == patience(accepted) == 7000
            assert patience(client) == patience(asks) == 0
