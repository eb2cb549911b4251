"""Everything can be done with the keys alone, and everything has a name.

Outside references: WCAG 2.2 — keyboard (2.1.1), no trap (2.1.2), focus order (2.4.3), focus visible
(2.4.7) and its contrast (1.4.11: 3:1), name and role (4.1.2) as the browser computes them.
"""

from __future__ import annotations

import pytest
from browser.chromium import Visits
from browser.papers import Papers
from browser.probes import accessible, contrast, probe
from playwright.sync_api import Page

CONTROLS = frozenset(
    ("button", "checkbox", "combobox", "link", "searchbox", "slider", "spinbutton", "textbox",
     "radio", "switch", "image", "img", "table", "region")
)  # fmt: skip
"""What must have a name."""


def walked(page: Page, key: str, most: int) -> list[dict[str, object]]:
    """What has the focus, press by press, until it leaves the page."""
    found = []
    for _ in range(most):
        page.keyboard.press(key)
        focus = probe(page, "focus")
        if focus is None or (found and focus["number"] == found[0]["number"]):
            return found
        found.append(focus)
    raise AssertionError(f"{key} does not leave the page: {found[-1]['where']}")


@pytest.mark.parametrize("name", ["lids", "changes"])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_tab_key_reaches_all_and_shows_where_it_is(
    visits: Visits, papers: Papers, name: str, theme: str
) -> None:
    page = visits(papers[name].sheet, color_scheme=theme).page
    reachable = probe(page, "reachable")
    found = walked(page, "Tab", len(reachable) + 5)
    assert sorted(str(focus["where"]) for focus in found) == sorted(reachable)
    assert len({focus["number"] for focus in found}) == len(found)
    for focus in found:
        assert focus["visible"], focus
        assert focus["outline"] >= 2, focus
        assert contrast(focus["ink"], focus["ground"]) >= 3, focus  # type: ignore[arg-type]


def test_back_again_is_the_same_way(visits: Visits, papers: Papers) -> None:
    page = visits(papers["changes"].sheet).page
    there = walked(page, "Tab", 500)
    page.locator("body").press("Home")
    page.reload()
    back = walked(page, "Shift+Tab", 500)
    assert [focus["number"] for focus in reversed(back)] == [focus["number"] for focus in there]


def test_the_order_of_the_keys_is_that_of_the_page(visits: Visits, papers: Papers) -> None:
    page = visits(papers["changes"].sheet).page
    numbers = [focus["number"] for focus in walked(page, "Tab", 500)]
    assert numbers == sorted(numbers)  # type: ignore[type-var]


def test_the_first_key_leads_past_the_heading(visits: Visits, papers: Papers) -> None:
    page = visits(papers["lids"].sheet).page
    page.keyboard.press("Tab")
    focus = probe(page, "focus")
    assert focus["visible"]
    page.keyboard.press("Enter")
    assert page.evaluate("() => document.activeElement.tagName") == "MAIN"


@pytest.mark.parametrize("name", ["lids", "changes", "setup", "refused"])
def test_everything_has_a_name(visits: Visits, papers: Papers, name: str) -> None:
    found = accessible(visits(papers[name].sheet).page)
    roles = {one["role"] for one in found}
    assert {"main", "banner", "heading", "table", "checkbox", "slider"} <= roles
    nameless = [one["role"] for one in found if one["role"] in CONTROLS and not one["name"].strip()]
    assert nameless == []


def test_boxes_are_ticked_by_key_and_by_hand(visits: Visits, papers: Papers) -> None:
    page = visits(papers["lids"].sheet).page
    first, second = page.locator("input[type=checkbox]").all()[:2]
    first.focus()
    page.keyboard.press("Space")
    assert first.is_checked()
    assert not second.is_checked()
    second.locator("xpath=ancestor::label").click()
    assert second.is_checked()
