"""The slider follows the card file: line, state, and the marker in both drawings."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from browser.chromium import Visits
from browser.papers import Papers
from playwright.sync_api import Locator, Page


@pytest.fixture
def section(visits: Visits, papers: Papers) -> Locator:
    return visits(papers["lids"].sheet).page.locator("section.hr-file").first


def slider_of(section: Locator) -> Locator:
    return section.locator(".hr-controls input[type=range]").first


def said(section: Locator) -> str:
    section.page.wait_for_timeout(60)
    return re.sub(r"\s+", " ", section.locator(".hr-state").inner_text())


def test_keys_move_it_and_what_is_told_changes(section: Locator) -> None:
    slider = slider_of(section)
    slider.focus()
    slider.press("Home")
    first, start = said(section), slider.input_value()
    for _ in range(5):
        slider.press("ArrowRight")
    assert float(slider.input_value()) > float(start)
    assert said(section) != first
    slider.press("End")
    last = said(section)
    assert last not in ("", first)
    slider.press("Home")
    assert said(section) == first


def test_the_mouse_moves_it(section: Locator) -> None:
    slider = slider_of(section)
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    assert box is not None
    page: Page = section.page
    middle = box["y"] + box["height"] / 2
    page.mouse.click(box["x"] + box["width"] / 2, middle)
    half, told = float(slider.input_value()), said(section)
    least, most = (float(slider.get_attribute(name) or 0) for name in ("min", "max"))
    assert least < half < most
    page.mouse.move(box["x"] + box["width"] / 2, middle)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.8, middle, steps=4)
    page.mouse.up()
    assert float(slider.input_value()) > half
    assert said(section) != told


def test_the_marker_moves_in_both_drawings(section: Locator) -> None:
    slider = slider_of(section)
    slider.focus()
    seen: dict[str, set[str]] = {"top": set(), "side": set()}
    for press in ("Home", *["PageUp"] * 6):
        slider.press(press)
        section.page.wait_for_timeout(60)
        for view, places in seen.items():
            marker = section.locator(f"figure[data-view={view}] svg .hr-tip").first
            places.add(str(marker.bounding_box()))
    assert all(len(places) > 3 for places in seen.values())


ALONG = """([section, lines]) => {
  const slider = section.querySelector('.hr-along input');
  return lines.map((line) => {
    slider.value = String(line);
    slider.dispatchEvent(new Event('input'));
    return Object.fromEntries([...section.querySelectorAll('.hr-state > div')].map(
      (row) => [row.querySelector('dt').textContent.trim(), row.querySelector('dd').textContent]));
  });
}"""


def modal(card_file: str) -> Iterator[tuple[int, dict[str, float]]]:
    """Each line behind the last G92, from 1, with the words that hold after it: X, Y, Z, F and G.

    RS274/NGC (NISTIR 6556), 3.4: such words stay until there are others. A few lines of its own,
    for files of the demo: millimetres, absolute, a line's G0 to G3 its only word of that group.
    """
    words: dict[str, float] = {}
    rows = card_file.splitlines()
    last = max(at for at, row in enumerate(rows) if "G92" in row)
    for number, row in enumerate(rows, 1):
        plain = re.sub(r"\([^)]*\)", "", row)
        moves = number > last + 1
        for letter, value in re.findall(r"([A-Z]) *([-+]?[0-9.]+)", plain):
            if letter in "XYZF" or (letter == "G" and float(value) <= 3):
                words[letter] = float(value)
            elif letter in "M" and float(value) in (2, 30):
                return
        if moves and re.search(r"[XYZ]", plain):
            yield number, dict(words)


@pytest.mark.parametrize("at", [0, 1])
def test_what_is_told_is_what_the_card_file_says(visits: Visits, papers: Papers, at: int) -> None:
    """The place after every move, and the feed of every cut, as a person reads them in the file."""
    paper = papers["lids"]
    section = visits(paper.sheet).page.locator("section.hr-file").nth(at)
    name = section.locator("h2 bdi").first.inner_text()
    lines = list(modal((paper.card / name).read_text("ascii")))
    assert len(lines) > 80
    told = section.page.evaluate(ALONG, [section.element_handle(), [line for line, _ in lines]])
    for (line, words), state in zip(lines, told, strict=True):
        assert state["Line"].split()[0] == str(line)
        for axis, label in (("X", "X from the corner"), ("Y", "Y from the corner"),
                            ("Z", "Z from the top")):  # fmt: skip
            place = float(state[label].split()[0].replace("\N{MINUS SIGN}", "-"))
            assert place == pytest.approx(words[axis], abs=0.06), state
        if words["G"] > 0:
            assert state["Feed"].startswith(f"{words['F']:g} mm/min"), state
