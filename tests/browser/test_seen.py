"""What is there can be read: contrast, sizes, nothing over something else, nothing cut.

Outside references: WCAG 2.2 — contrast (1.4.6: 7:1), non-text contrast (1.4.11: 3:1), resizing text
(1.4.4: 200 %), reflow (1.4.10: 320 px), target size (2.5.8: 24 px; 2.5.5: 44 px), contents of
headings — with the definitions of `probes.py`.
"""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from typing import Any

import pytest
from browser.chromium import Visits
from browser.papers import MADE, Papers
from browser.probes import faint, luminance, overlapping, probe

NARROW: dict[str, Any] = {
    "viewport": {"width": 360, "height": 740},
    "has_touch": True,
    "is_mobile": True,
    "device_scale_factor": 2,
}
"""A telephone."""
HALVED: dict[str, Any] = {"viewport": {"width": 640, "height": 450}, "device_scale_factor": 2}
"""A window of 1280 px, its content at 200 %."""
LEAST: dict[str, Any] = {"viewport": {"width": 320, "height": 640}}
WIDE: dict[str, Any] = {"viewport": {"width": 1280, "height": 900}}
SCREENS = {"narrow": NARROW, "halved": HALVED, "least": LEAST, "wide": WIDE}
THEMES = ("light", "dark")
LINES = frozenset(("hr-rapid", "hr-line", "hr-travel", "hr-keep", "hr-edge", "hr-dim"))
"""Kinds of lines: rapids, cuts, ends of travel, room around clamps, the sheet, dimensions."""
WIDE_LINE = 1.0
"""mm of paper: a broader stroke is an area, which its outline bounds."""


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("name", ["lids", "changes", "refused", "excluder"])
def test_every_text_has_contrast(visits: Visits, papers: Papers, name: str, theme: str) -> None:
    page = visits(papers[name].sheet, color_scheme=theme).page
    texts = probe(page, "texts")
    assert len(texts) > 200
    assert faint(texts, 7) == []


@pytest.mark.parametrize("theme", THEMES)
def test_the_themes_differ_and_are_what_was_asked_for(
    visits: Visits, papers: Papers, theme: str
) -> None:
    page = visits(papers["lids"].sheet, color_scheme=theme).page
    light = [sum(text["ground"]) > 3 * 200 for text in probe(page, "texts") if not text["drawn"]]
    assert sum(light) > 0.9 * len(light) if theme == "light" else sum(light) < 0.1 * len(light)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("name", ["lids", "changes", "excluder", "windows"])
def test_every_line_has_contrast(visits: Visits, papers: Papers, name: str, theme: str) -> None:
    page = visits(papers[name].sheet, color_scheme=theme).page
    lines = [line for line in probe(page, "lines") if line["width"] < WIDE_LINE]
    assert len(lines) > 20
    assert faint(lines, 3) == []


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("name", ["lids", "changes", "hostile", "refused"])
def test_the_page_never_moves_sideways_and_cuts_nothing(
    visits: Visits, papers: Papers, name: str, screen: str
) -> None:
    page = visits(papers[name].sheet, **SCREENS[screen]).page
    assert probe(page, "sideways") == 0
    assert probe(page, "cut") == []


@pytest.mark.parametrize("screen", ["narrow", "wide"])
@pytest.mark.parametrize("name", ["lids", "changes"])
def test_no_line_of_text_lies_over_another(
    visits: Visits, papers: Papers, name: str, screen: str
) -> None:
    page = visits(papers[name].sheet, **SCREENS[screen]).page
    assert list(overlapping(probe(page, "rows"), 4, 4)) == []


@pytest.mark.parametrize("name", MADE)
def test_no_label_of_a_drawing_lies_over_another_or_leaves_it(
    visits: Visits, papers: Papers, name: str
) -> None:
    page = visits(papers[name].sheet).page
    drawings = probe(page, "labels")
    assert drawings
    for drawing in drawings:
        assert list(overlapping(drawing["texts"])) == [], drawing["where"]
        left, top, right, bottom = drawing["frame"]
        for text in drawing["texts"]:
            a, b, c, d = text["box"]
            inside = a >= left - 2 and b >= top - 2 and c <= right + 2 and d <= bottom + 2
            assert inside, (drawing["where"], text)


@pytest.mark.parametrize("name", ["lids", "changes", "excluder"])
def test_kinds_of_lines_are_told_apart_without_colour(
    visits: Visits, papers: Papers, name: str
) -> None:
    """In grey print: any two kinds of lines differ by their dashes or their width."""
    page = visits(papers[name].sheet).page
    page.emulate_media(media="print")
    looks: dict[str, set[tuple[str, float]]] = {kind: set() for kind in LINES}
    for line in probe(page, "lines"):
        for kind in LINES & set(line["where"].split(".")):
            looks[kind].add((_pattern(line["dash"]), round(line["width"], 2)))
    assert all(looks[kind] for kind in ("hr-rapid", "hr-line", "hr-edge", "hr-dim"))
    for one, other in combinations(sorted(LINES), 2):
        assert not looks[one] & looks[other], (one, other)


def _pattern(dash: str) -> str:
    """A dash pattern whatever its scale: `2px 1px` is `4px 2px`."""
    lengths = [float(length) for length in re.findall(r"[0-9.]+", dash)]
    return " ".join(f"{length / lengths[0]:.2f}" for length in lengths)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("name", ["lids", "changes", "parts"])
def test_depths_are_told_apart_by_lightness(
    visits: Visits, papers: Papers, name: str, theme: str
) -> None:
    """Deeper is darker on light paper, lighter on dark paper, step by step."""
    page = visits(papers[name].sheet, color_scheme=theme).page
    steps: dict[str, float] = {}
    for line in probe(page, "lines"):
        for kind in line["where"].split("."):
            if re.fullmatch(r"hr-d[0-9]", kind):
                steps[kind] = luminance(line["ink"]) + 0.05
    assert len(steps) > 1
    for (_, shallow), (_, deep) in pairwise(sorted(steps.items())):
        assert (shallow / deep if theme == "light" else deep / shallow) > 1.15


@pytest.mark.parametrize("screen", ["narrow", "wide"])
@pytest.mark.parametrize("name", ["lids", "changes", "setup"])
def test_no_short_word_is_torn(visits: Visits, papers: Papers, name: str, screen: str) -> None:
    assert probe(visits(papers[name].sheet, **SCREENS[screen]).page, "torn") == []


@pytest.mark.parametrize("screen", ["narrow", "wide"])
def test_what_is_pressed_is_large_enough(visits: Visits, papers: Papers, screen: str) -> None:
    page = visits(papers["lids"].sheet, **SCREENS[screen]).page
    targets = probe(page, "targets")
    assert len(targets) > 15
    small = [one for one in targets if min(one["width"], one["height"]) < 24 and not one["inline"]]
    assert small == []
    controls = page.locator(".hr-controls button, .hr-controls input, .hr-controls select")
    boxes = [box for one in controls.all() if one.is_visible() if (box := one.bounding_box())]
    assert boxes
    assert [box for box in boxes if min(box["width"], box["height"]) < 44] == []


@pytest.mark.parametrize("name", MADE)
def test_headings_go_down_by_one_and_begin_with_one(
    visits: Visits, papers: Papers, name: str
) -> None:
    headings = probe(visits(papers[name].sheet).page, "headings")
    levels = [level for level, _ in headings]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - earlier <= 1 for earlier, later in pairwise(levels))
    assert all(text for _, text in headings)


def test_nothing_moves_for_those_who_ask_for_less_of_it(visits: Visits, papers: Papers) -> None:
    page = visits(papers["lids"].sheet, reduced_motion="reduce").page
    assert probe(page, "animated") == []
