"""The rules that others have written down for pages, held against ours.

Outside reference: axe-core, as the package axe-playwright-python brings it: all its rules for
WCAG 2.0 to 2.2, A to AAA, and its best practices.
"""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from browser.chromium import Visits
from browser.papers import Papers
from playwright.sync_api import Page

OPTIONS = {
    "resultTypes": ["violations"],
    "rules": {
        "color-contrast-enhanced": {"enabled": True},
        "target-size": {"enabled": True},
        "identical-links-same-purpose": {"enabled": True},
    },
}


def broken(page: Page) -> list[str]:
    """What axe finds, each with the first places where."""
    found: list[dict[str, Any]] = Axe().run(page, options=OPTIONS).response["violations"]
    return [
        f"{rule['id']}: {[node['target'] for node in rule['nodes'][:3]]} of {len(rule['nodes'])}"
        for rule in found
    ]


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("name", ["lids", "changes", "refused"])
def test_no_rule_is_broken(visits: Visits, papers: Papers, name: str, theme: str) -> None:
    assert broken(visits(papers[name].sheet, color_scheme=theme).page) == []


def test_a_narrow_page_breaks_none_either(visits: Visits, papers: Papers) -> None:
    page = visits(papers["lids"].sheet, viewport={"width": 360, "height": 740}).page
    assert broken(page) == []


def test_a_broken_rule_is_seen(page: Page) -> None:
    page.set_content(
        "<!doctype html><html lang='en'><title>Lids</title><main><h1>Lids</h1>"
        "<p style='color:#767676;background:#fff'>hive</p><input></main>"
    )
    found = [rule.split(":")[0] for rule in broken(page)]
    assert found == ["color-contrast-enhanced", "label"]
