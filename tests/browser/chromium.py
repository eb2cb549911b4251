"""A browser of the system, never one that a test fetches, and pages opened in it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Page, sync_playwright
from trials.tools import found, needed_tools

PATIENCE = 15_000
"""ms that a busy machine may take for what should be there at once."""


@contextmanager
def chromium() -> Iterator[Browser]:
    """Debian's own. Skips, or fails where all tools are required, when it is not there."""
    needed_tools("chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=found("chromium"),
            args=["--no-sandbox", "--disable-dev-shm-usage", "--force-color-profile=srgb"],
        )
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Visit:
    """An open page, and all that it said, asked for and stumbled over since."""

    page: Page
    said: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    asked_for: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, page: Page) -> Visit:
        visit = cls(page)
        page.on("console", lambda message: visit.said.append(f"{message.type}: {message.text}"))
        page.on("pageerror", lambda error: visit.errors.append(str(error)))
        page.on("request", lambda request: visit.asked_for.append(request.url))
        return visit

    def open(self, path: Path) -> Page:
        self.page.goto(path.as_uri(), wait_until="load")
        return self.page


class Visits:
    """Visits in contexts of their own, without a network; all are closed in the end."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._contexts: list[Any] = []

    def __call__(self, path: Path, **circumstances: Any) -> Visit:
        """Open a file in a browser of these circumstances (see Playwright's `new_context`)."""
        context = self._browser.new_context(
            **{"offline": True, "viewport": {"width": 1280, "height": 900}, **circumstances}
        )
        context.set_default_timeout(PATIENCE)
        self._contexts.append(context)
        visit = Visit.of(context.new_page())
        visit.open(path)
        return visit

    def close(self) -> None:
        for context in self._contexts:
            context.close()
