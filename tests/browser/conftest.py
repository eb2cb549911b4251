"""One browser for all tests of a worker; each visit has a context of its own."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.chromium import Visits, chromium
from browser.papers import Papers
from playwright.sync_api import Browser, Page


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture
def visits(browser: Browser) -> Iterator[Visits]:
    """Opens files; see `Visits`."""
    found = Visits(browser)
    yield found
    found.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """An empty page in a context of its own, without a network."""
    with browser.new_context(offline=True) as context:
        yield context.new_page()


@pytest.fixture(scope="session")
def papers(tmp_path_factory: pytest.TempPathFactory) -> Papers:
    """Run sheets of the gallery, each made when it is first asked for."""
    folder: Path = tmp_path_factory.mktemp("papers")
    return Papers(folder)
