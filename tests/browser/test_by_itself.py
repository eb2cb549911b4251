"""The page stands by itself: it needs no network, no other file and no script, and lets none in.

Outside references: Content Security Policy Level 3 as the browser carries it out; the browser's own
list of what a page asks for.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from browser.chromium import Visits
from browser.papers import HOSTILE, MADE, Papers
from browser.probes import probe


@pytest.mark.parametrize("name", MADE)
def test_it_opens_without_a_word_and_asks_for_nothing(
    visits: Visits, papers: Papers, name: str
) -> None:
    path = papers[name].sheet
    visit = visits(path)
    visit.page.mouse.wheel(0, 4000)
    visit.page.keyboard.press("End")
    visit.page.wait_for_timeout(50)
    assert visit.said == []
    assert visit.errors == []
    assert visit.asked_for == [path.as_uri()]


def test_it_may_be_copied_elsewhere(visits: Visits, papers: Papers, tmp_path: Path) -> None:
    path = tmp_path / "a stick" / "SHEET.HTM"
    path.parent.mkdir()
    shutil.copy(papers["lids"].sheet, path)
    here, there = visits(papers["lids"].sheet), visits(path)
    assert there.said == there.errors == []
    assert there.asked_for == [path.as_uri()]
    assert there.page.inner_text("header") == here.page.inner_text("header")
    assert probe(there.page, "headings") == probe(here.page, "headings")
    assert there.page.locator(".hr-controls input[type=range]").count() == 2


@pytest.mark.parametrize("name", ["lids", "setup"])
def test_all_is_there_without_script(visits: Visits, papers: Papers, name: str) -> None:
    path = papers[name].sheet
    plain, whole = (visits(path, java_script_enabled=on).page for on in (False, True))
    assert probe(plain, "headings") == [
        heading for heading in probe(whole, "headings") if heading in probe(plain, "headings")
    ]
    files = plain.locator("section.hr-file")
    assert files.count() == whole.locator("section.hr-file").count() > 0
    for number in range(files.count()):
        for view in ("top", "side"):
            drawing = files.nth(number).locator(f"figure[data-view={view}] svg")
            box = drawing.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) > 40
    assert not plain.locator(".hr-controls").first.is_visible()


def test_nothing_else_may_run_or_load(visits: Visits, papers: Papers) -> None:
    """Each of these would leave its mark where the policy did not hold."""
    visit = visits(papers["lids"].sheet)
    page = visit.page
    blocked = page.evaluate(
        """async () => {
            const seen = [];
            document.addEventListener("securitypolicyviolation",
                (event) => seen.push(event.effectiveDirective));
            const add = (text) => document.body.insertAdjacentHTML("beforeend", text);
            add('<img src="lid.png" onerror="window.stung = 1">');
            add('<p id="hive" style="color: rgb(1, 2, 3)">hive</p>');
            add('<iframe src="about:blank"></iframe><iframe src="lid.html"></iframe>');
            const script = document.createElement("script");
            script.textContent = "window.stung = 1";
            document.body.append(script);
            const style = document.createElement("style");
            style.textContent = "body { outline: 3px solid rgb(1, 2, 3) }";
            document.head.append(style);
            await fetch("http://127.0.0.1:9/").catch(() => 0);
            await new Promise((done) => setTimeout(done, 100));
            return [...new Set(seen)].sort();
        }"""
    )
    assert page.evaluate("() => window.stung") is None
    assert page.evaluate("() => getComputedStyle(hive).color") != "rgb(1, 2, 3)"
    assert page.evaluate("() => getComputedStyle(document.body).outlineColor") != "rgb(1, 2, 3)"
    assert {"connect-src", "img-src", "script-src-attr", "script-src-elem", "style-src-attr",
            "style-src-elem"} <= set(blocked)  # fmt: skip


def test_forms_and_bases_lead_nowhere(visits: Visits, papers: Papers) -> None:
    page = visits(papers["lids"].sheet).page
    page.evaluate(
        """() => {
            document.head.insertAdjacentHTML("beforeend", '<base href="http://bees.example/">');
            document.body.insertAdjacentHTML("beforeend",
                '<form id="f" action="http://127.0.0.1:9/"><button>go</button></form>');
        }"""
    )
    assert page.evaluate("() => document.baseURI") == papers["lids"].sheet.as_uri()
    before = page.url
    page.evaluate("() => f.requestSubmit()")
    page.wait_for_timeout(50)
    assert page.url == before


def test_names_and_comments_are_text_and_nothing_else(visits: Visits, papers: Papers) -> None:
    paper = papers["hostile"]
    visit = visits(paper.sheet)
    page = visit.page
    assert page.evaluate("() => window.stung") is None
    assert page.locator("img, iframe, object, embed, form, link").count() == 0
    assert page.locator("script").count() == 1 + page.locator("section.hr-file script").count()
    shown = page.inner_text("body")
    for name in HOSTILE:
        for piece in re.split(r"[^ -~]", name):
            assert piece in shown
    assert "\u202e" not in page.content()
    assert "\u0007" not in page.content()


def test_a_refused_job_is_told_and_has_no_drawing(visits: Visits, papers: Papers) -> None:
    paper = papers["refused"]
    assert paper.exit_code == 1
    page = visits(paper.sheet).page
    section = page.locator("section[aria-labelledby=refused]")
    assert "feeder-board.nc" in section.inner_text()
    assert "Why:" in section.inner_text()
    assert section.locator("svg").count() == 0
    assert page.locator("section.hr-file").count() == 1
