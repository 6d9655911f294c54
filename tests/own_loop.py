"""An event loop in a thread of its own, for the tests with a browser leave one running in theirs."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any


def in_own_loop(work: Coroutine[Any, Any, Any]) -> Any:
    """What the work gives, once it is done."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(asyncio.run, work).result()  # noqa: TID251 - the one place for it
