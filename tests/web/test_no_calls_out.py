"""The service opens no connection that a request could name: the code that serves imports nothing to do so with."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import alloyref

ROOT = Path(alloyref.__file__).parent
CALLS_OUT = {"requests", "urllib.request", "urllib3", "http.client", "socket", "ftplib", "smtplib", "subprocess"}
# Opens no socket: it sets an option of those that the server has.
OPENS_NONE = {("unread.py", "socket")}
SERVING = ("domain", "catalogue", "services", "shop", "web")


def imported(path: Path) -> Iterator[str]:
    """The modules that a file imports."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{one.name}" for one in node.names)


def test_nothing_that_serves_can_call_out() -> None:
    files = [path for part in SERVING for path in (ROOT / part).rglob("*.py")]
    assert len(files) > 60
    found = {(path.name, name) for path in files for name in imported(path) if name in CALLS_OUT}
    assert found == OPENS_NONE


def test_the_search_would_find_it() -> None:
    assert CALLS_OUT & set(imported(ROOT / "client" / "transport.py"))
