"""A bare application on the same server: takes a body, writes an answer that is there already, and sends it.

What a bulk request costs before a single row is read: the body received, as many bytes written to a file of the
temporary folder while it comes, and that file sent. `ANSWER` names the answer.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

PART = 1_000_000


async def application(scope: Any, protocol: Any) -> None:
    """Answer one request (RSGI)."""
    path = Path(os.environ["ANSWER"])
    length, size = int(scope.headers.get("content-length") or 0), path.stat().st_size
    if not length:
        protocol.response_empty(200, [])
        return
    received, arrivals = 0, aiter(protocol)
    spool = Path(os.environ["SPOOL"])
    with path.open("rb") as answer, tempfile.NamedTemporaryFile(dir=spool, delete=False) as file:
        while received < length:
            received += len(await anext(arrivals))
            due = size if received == length else size * received // length
            while file.tell() < due:
                file.write(answer.read(min(PART, due - file.tell())))
    protocol.response_file(200, [("content-type", "text/csv"), ("content-length", str(size))], file.name)
