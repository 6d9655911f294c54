"""What the demo waits for."""

from __future__ import annotations

import pytest
import requests

from alloyref.cli.demo import BETWEEN_SECONDS, free_port, wait_until_ready


def test_a_service_that_never_comes_is_named_with_the_time_it_was_given() -> None:
    address = f"http://127.0.0.1:{free_port()}"
    with pytest.raises(requests.ConnectionError) as gave_up:
        wait_until_ready(address, "/healthz", BETWEEN_SECONDS)
    assert f"Waited {BETWEEN_SECONDS:g} s for {address}/healthz:" in str(gave_up.value)
