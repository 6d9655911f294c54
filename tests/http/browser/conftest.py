"""A real browser for the pages; without one these tests are skipped, or fail where one is required."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

# Without these the browser itself asks the network for things of its own.
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WAIT_MS = 20_000
GRAVE = ("serious", "critical")


@dataclass
class Watch:
    """What a page did that it should not have done."""

    page: Page
    address: str
    console: list[str] = field(default_factory=list)
    left_the_host: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.set_default_timeout(WAIT_MS)
        self.page.on("console", lambda one: self.console.append(one.text) if one.type == "error" else None)
        self.page.on("pageerror", lambda error: self.console.append(str(error)))
        self.page.on("request", lambda one: self._asked(one.url))

    def _asked(self, url: str) -> None:
        if not url.startswith((self.address + "/", "data:")):
            self.left_the_host.append(url)

    def go(self, path: str) -> Page:
        """Open an address of the service."""
        self.page.goto(self.address + path)
        return self.page


Visit = Callable[..., Watch]


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's or the system's own chromium."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        reason = "no chromium is installed"
        if os.environ.get("CI_REQUIRES_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=found, args=list(QUIET))
        yield started
        started.close()


@pytest.fixture
def visit(browser: Browser, server: Any) -> Iterator[Visit]:
    """A fresh visitor: `visit(width=390, color_scheme="dark", java_script_enabled=False)`."""
    contexts = []
    watches = []

    def arrive(width: int = 1200, **options: Any) -> Watch:
        context = browser.new_context(viewport={"width": width, "height": 900}, **options)
        contexts.append(context)
        watch = Watch(context.new_page(), server.address)
        watches.append(watch)
        return watch

    yield arrive
    for context in contexts:
        context.close()
    for watch in watches:
        assert watch.left_the_host == []
        # A form that is refused comes back with status 422, which the browser reports as an error of its own.
        assert [line for line in watch.console if "status of 422" not in line] == []


@pytest.fixture
def grave() -> Callable[[Page], list[str]]:
    """The serious findings of axe-core on a page."""

    def find(page: Page) -> list[str]:
        found = Axe().run(page).response["violations"]
        return [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found if one["impact"] in GRAVE]

    return find
