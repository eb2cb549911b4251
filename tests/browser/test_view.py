"""Moving the drawings, and going along a file: by keys, mouse, wheel and fingers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from random import Random

import pytest
from browser.chromium import Visits
from browser.papers import Papers
from pipeline.sheet.track_reading import CUT, PROBE, Read, read
from playwright.sync_api import Locator, Page, expect
from plugins.shop import job

from headrace.sheet.view.script import view_script, view_style
from headrace.sheet.view.track import track_of
from headrace.timing.clock import clock_of

NAMES = ["lids", "changes", "excluder"]


@pytest.fixture
def section(visits: Visits, papers: Papers) -> Locator:
    return visits(papers["lids"].sheet).page.locator("section.hr-file").first


def pane(section: Locator, view: str = "top") -> Locator:
    found = section.locator(f"figure[data-view={view}] .hr-pane")
    found.scroll_into_view_if_needed()
    return found


def window(pane: Locator) -> list[float]:
    """What of the paper is seen: x, y, width, height in mm."""
    return [
        float(number) for number in (pane.locator("svg").get_attribute("viewBox") or "").split()
    ]


def go_to(section: Locator, line: int) -> None:
    field = section.get_by_label("Go to line")
    field.fill(str(line))
    field.press("Enter")


TOLD = """section => Object.fromEntries([...section.querySelectorAll('.hr-state > div')].map(
  row => [row.querySelector('dt').textContent.trim(), row.querySelector('dd').textContent]))"""

ALONG = """([section, lines]) => {
  const slider = section.querySelector('.hr-along input');
  return lines.map(line => {
    slider.value = String(line);
    slider.dispatchEvent(new Event('input'));
    return (TOLD)(section);
  });
}""".replace("TOLD", TOLD)
"""What is told at each of some lines."""

LEAPS = """([section, name]) => {
  const button = [...section.querySelectorAll('button')].find(one => one.textContent === name);
  const said = [(TOLD)(section)];
  for (;;) {
    button.click();
    const now = (TOLD)(section);
    if (now.Line === said.at(-1).Line) return said.slice(1);
    said.push(now);
  }
}""".replace("TOLD", TOLD)
"""What is told at each stop of a button, until it goes no further."""


def leaps(section: Locator, name: str) -> list[dict[str, str]]:
    found: list[dict[str, str]] = section.page.evaluate(LEAPS, [section.element_handle(), name])
    return found


def larger_than(page: Page, share: float, whole: list[float]) -> None:
    """Wait until less of the top view is seen than a share of it."""
    page.wait_for_function(
        "most => document.querySelector('section.hr-file figure[data-view=top] svg')"
        ".viewBox.baseVal.width < most",
        arg=whole[2] * share,
    )


def told(section: Locator) -> dict[str, str]:
    found: dict[str, str] = section.evaluate(TOLD)
    return found


def track_of_section(section: Locator) -> Read:
    name = section.get_attribute("data-track-id")
    return read((section.locator(f"script#{name}").text_content() or "").strip())


def number(text: str) -> float:
    return float(text.split()[0].replace("−", "-"))


def seconds(text: str) -> float:
    """A time as people read it, in s."""
    parts = {unit: float(count) for count, unit in re.findall(r"(\d+) (h|min|s)", text)}
    return parts.get("h", 0) * 3600 + parts.get("min", 0) * 60 + parts.get("s", 0)


def sections(visits: Visits, papers: Papers) -> Iterator[Locator]:
    for name in NAMES:
        yield from visits(papers[name].sheet).page.locator("section.hr-file").all()


# --- along the file -----------------------------------------------------------------------------


def test_each_line_is_told_as_the_track_has_it(visits: Visits, papers: Papers) -> None:
    """By another reader of the same track."""
    for section in sections(visits, papers):
        track = track_of_section(section)
        step = max(1, track.lines // 40)
        lines = [*range(1, track.lines, step), track.lines]
        every = section.page.evaluate(ALONG, [section.element_handle(), lines])
        for line, values in zip(lines, every, strict=True):
            place, time, point = track.at(line)
            state = track.state[point]
            assert values["Line"] == f"{line} of {track.lines}"
            for axis, name in enumerate(("X from the corner", "Y from the corner")):
                if state.known >> axis & 1:
                    assert number(values[name]) == pytest.approx(place[axis], abs=0.0051)
                else:
                    assert values[name] == "not known"
            if state.known & 4:
                heights = [float(one.replace("−", "-"))
                           for one in re.findall(r"[−\d.]+", values["Z from the top"])]  # fmt: skip
                expected = [place[2]] + [place[2] + state.spread / 100] * bool(state.spread)
                assert heights == pytest.approx(expected, abs=0.0051)
            if track.line[point] == line and state.kind in (CUT, PROBE):
                feed = f"{(state.feed - 1) / 1000:g}"
                assert values["Feed"] == ("not stated" if not state.feed else f"{feed} mm/min")
            fast = f"{(state.speed - 1) / 1000:g} rev/min"
            assert (fast in values["Spindle"]) == (state.spindle in (2, 3, 4) and state.speed > 0)
            # whole seconds up to an hour
            assert seconds(values["Time so far"]) == pytest.approx(time, abs=0.51)


def test_pause_by_pause(visits: Visits, papers: Papers) -> None:
    for section in sections(visits, papers):
        go_to(section, 1)
        forth = leaps(section, "Next pause")
        rows = section.locator("table.rs-pauses tbody tr").all()
        for row, values in zip(rows, forth, strict=True):
            line = int(re.findall(r"line (\d+)", row.inner_text())[0])
            assert values["Line"].startswith(f"{line} of ")
            assert values["Now"].startswith("Pause ")
            display = row.locator("pre")
            if display.count():
                assert display.inner_text().strip() in values["Now"]
        assert leaps(section, "Pause before") == forth[-2::-1]


def test_entries_are_those_that_the_drawing_counts(visits: Visits, papers: Papers) -> None:
    counted = 0
    for section in sections(visits, papers):
        caption = section.locator("figure[data-view=top] figcaption").inner_text()
        found = re.search(r"goes into the sheet at (\d+) places", caption)
        if found is None:
            continue
        counted += 1
        go_to(section, 1)
        entries = leaps(section, "Next entry")
        assert len(entries) == int(found[1])
        assert {entry["Now"] for entry in entries} == {"Cut"}
    assert counted


def test_a_line_that_is_not_there(section: Locator) -> None:
    go_to(section, 40)
    before = told(section)
    for wrong in ("0", "99999", "top", ""):
        field = section.get_by_label("Go to line")
        field.fill(wrong)
        section.get_by_role("button", name="Go", exact=True).click()
        assert field.get_attribute("aria-invalid") == "true"
        expect(section.get_by_role("status")).to_contain_text("Lines go from 1 to")
    assert told(section) == before
    go_to(section, 41)
    assert section.get_by_label("Go to line").get_attribute("aria-invalid") == "false"


def test_quick_changes_are_said_once(section: Locator) -> None:
    section.page.evaluate(
        """() => {
          const status = document.querySelector('.hr-said');
          const slider = document.querySelector('.hr-along input');
          window.changes = 0;
          new MutationObserver(() => { window.changes += 1; }).observe(status, { childList: true });
          for (let line = 50; line < 80; line += 1) {
            slider.value = String(line);
            slider.dispatchEvent(new Event('input'));
          }
        }"""
    )
    expect(section.get_by_role("status")).to_contain_text("Line: 79 of")
    assert section.page.evaluate("window.changes") == 1


def test_it_moves_by_itself_and_waits_where_the_machine_waits(section: Locator) -> None:
    track = track_of_section(section)
    first, second = (track.line[pause.at] for pause in track.pauses[:2])
    section.get_by_label("Pace").select_option("60")
    play = section.get_by_role("button", name="Show it moving")
    for line in (first, second):
        play.click()
        expect(section.get_by_role("button", name="Stop showing")).to_have_count(0)
        assert told(section)["Line"] == f"{line} of {track.lines}"
    play.click()
    section.get_by_role("button", name="Stop showing").click()
    assert play.is_visible()


def test_it_stays_beside_the_drawings_where_there_is_room(section: Locator) -> None:
    page = section.page
    page.set_viewport_size({"width": 1280, "height": 800})
    slider = section.locator(".hr-along input")
    for view, edge in (("top", "start"), ("side", "end")):
        section.locator(f"figure[data-view={view}]").evaluate(
            "(one, block) => one.scrollIntoView({ block })", edge
        )
        drawing = section.locator(f"figure[data-view={view}] svg")
        expect(drawing).to_be_in_viewport(ratio=1)
        expect(slider).to_be_in_viewport(ratio=1)
        left, right = drawing.bounding_box(), slider.bounding_box()
        assert left is not None
        assert right is not None
        assert left["x"] + left["width"] <= right["x"]
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280


def test_it_stands_right_under_the_top_view_where_there_is_none(section: Locator) -> None:
    section.page.set_viewport_size({"width": 1100, "height": 800})
    top, panel, side = (
        section.locator(which).bounding_box()
        for which in ("figure[data-view=top]", ".hr-controls", "figure[data-view=side]")
    )
    assert top is not None
    assert panel is not None
    assert side is not None
    assert top["y"] + top["height"] <= panel["y"]
    assert panel["y"] + panel["height"] <= side["y"]


def test_it_stays_in_sight_once_it_is_used(section: Locator) -> None:
    section.page.set_viewport_size({"width": 1100, "height": 600})
    keep = section.get_by_role("button", name="Keep in sight")
    assert keep.get_attribute("aria-pressed") == "false"
    section.locator(".hr-along input").press("ArrowRight")
    assert keep.get_attribute("aria-pressed") == "true"
    section.locator("figure[data-view=top]").evaluate("one => one.scrollIntoView()")
    expect(section.locator(".hr-along input")).to_be_in_viewport()
    keep.click()
    section.locator("figure[data-view=top]").evaluate("one => one.scrollIntoView()")
    expect(section.locator(".hr-along input")).not_to_be_in_viewport()


HARNESS = """<!doctype html><meta charset="utf-8"><title>Comb</title><style>{style}</style>
<section class="hr-file" data-track-id="track-1"><figure class="hr-figure" data-view="top">
<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60">
<g class="hr-plane" transform="matrix(.2 0 0 -.2 10 50)"></g></svg></figure>
<div class="hr-controls" hidden></div>
<script type="application/octet-stream" id="track-1">{track}</script></section>
<script>{script}</script>"""
"""A page that holds nothing but one file."""


def opened(page: Page, text: str, machine: str = "speed") -> Locator:
    made = job(text, machine)
    track = track_of(made, clock_of(made))
    page.set_content(HARNESS.format(style=view_style(), track=track, script=view_script()))
    return page.locator("section.hr-file")


def test_states_in_words(page: Page) -> None:
    text = (
        "G21 G90 G94 G17\nG0 X5\nM4\nG1 X9 F300\nS9000 M3\nG93\nG1 X3 F20\nG94\nM5\n"
        "F450\nG1 X8\nT2 M6\nM1\nG4 P1\nG0 X0\nM2\n"
    )
    section = opened(page, text)

    def at(line: int) -> dict[str, str]:
        found: list[dict[str, str]] = page.evaluate(ALONG, [section.element_handle(), [line]])
        return found[0]

    assert at(1)["Now"] == "No motion"
    assert at(2)["Z from the top"] == "not known"
    assert at(2)["Feed"] == "none"
    assert at(2)["Bit"] == "the one in the collet"
    assert at(4)["Spindle"] == "on the other way, speed not stated"
    assert at(4)["Feed"] == "300 mm/min"
    assert at(7)["Feed"] == "20 moves a minute"
    assert at(7)["Spindle"] == "on, 9000 rev/min"
    assert at(9)["Spindle"] == "off"
    assert at(11)["Feed"] == "450 mm/min"
    assert at(12)["Bit"] == "T2"
    assert at(13)["Now"].startswith("Pause 1 of 1: the display shows nothing. It may not wait")
    assert at(13)["Next pause"] == "none"
    assert at(14)["Now"] == "Wait"
    assert at(16)["Now"] == "End"
    assert section.get_by_role("button", name="Next pause").is_enabled()


def test_what_is_left_out_is_said(page: Page) -> None:
    start = "G21 G90 G94 G17\nG0 X1 F300\n"
    feeds = "\n".join(f"G1 X{at / 100:.2f} F{500 + at % 7}" for at in range(41_000))
    note = opened(page, f"{start}{feeds}\nM2\n").locator(".hr-note")
    assert "Feeds change too often to tell all" in note.inner_text()
    pecks = "\n".join(f"G0 X{at % 400}\nG1 X{at % 400 + 1} F300" for at in range(21_000))
    note = opened(page, f"{start}{pecks}\nM2\n").locator(".hr-note")
    assert "only pauses and bits are" in note.inner_text()
    plain = opened(page, f"{start}G1 X5\nM2\n").locator(".hr-note").inner_text()
    assert "too often" not in plain


def test_rough_places_are_told_as_such(page: Page) -> None:
    chance = Random(4)
    way = "\n".join(f"X{300 + chance.uniform(0, 3):.2f}" for _ in range(80_000))
    section = opened(page, f"G21 G90 G94 G17\nG0 X1\nG1 F900\n{way}\nM2\n")
    track = track_of_section(section)
    assert track.within > 0.3
    line = next(line for line in range(1000, 60_000) if line not in set(track.line[:2000]))
    found = page.evaluate(ALONG, [section.element_handle(), [line]])[0]
    assert re.fullmatch(r"about [−\d]+\.\d mm", found["X from the corner"])
    assert f"Places are right to {track.within:g} mm" in section.locator(".hr-note").inner_text()


# --- the drawings -------------------------------------------------------------------------------

WHERE = """(svg, [x, y]) => {
  const point = new DOMPoint(x, y).matrixTransform(svg.querySelector('.hr-plane').getScreenCTM());
  return [point.x, point.y];
}"""
"""Where a place on the sheet is on the screen, as the browser itself has it."""


def middle(locator: Locator) -> tuple[float, float]:
    box = locator.bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


@pytest.mark.parametrize(("view", "height"), [("top", 1), ("side", 2)])
def test_the_marker_stands_at_the_tip(section: Locator, view: str, height: int) -> None:
    track = track_of_section(section)
    frame = pane(section, view)
    cuts = sorted({line for line, state in zip(track.line, track.state, strict=True)
                   if state.kind == CUT})  # fmt: skip
    for line in cuts[:: len(cuts) // 4]:
        go_to(section, line)
        for key in ("0", "+", "+", "ArrowLeft"):
            frame.press(key)
            place, _, _ = track.at(line)
            expected = frame.locator("svg").evaluate(WHERE, [place[0], place[height]])
            assert middle(frame.locator(".hr-tip circle").last) == pytest.approx(expected, abs=0.6)


def test_keys_change_what_is_seen(section: Locator) -> None:
    frame = pane(section)
    whole = window(frame)
    frame.press("ArrowRight")
    assert window(frame) == whole
    frame.press("+")
    frame.press("+")
    near = window(frame)
    assert near[2] == pytest.approx(whole[2] / 1.6**2, rel=1e-3)
    assert near[2] / near[3] == pytest.approx(whole[2] / whole[3], rel=1e-3)
    for key, axis, sign in (("ArrowRight", 0, 1), ("ArrowLeft", 0, -1), ("ArrowDown", 1, 1)):
        before = window(frame)
        frame.press(key)
        assert (window(frame)[axis] - before[axis]) * sign > 0
    frame.press("-")
    assert window(frame)[2] > near[2]
    frame.press("0")
    assert window(frame) == pytest.approx(whole, abs=1e-3)


def test_nothing_is_seen_beyond_the_paper(section: Locator) -> None:
    frame = pane(section)
    x, y, wide, high = window(frame)
    frame.evaluate(
        """frame => {
          const press = key => frame.dispatchEvent(new KeyboardEvent('keydown', { key }));
          for (let times = 0; times < 12; times += 1) press('+');
          for (let times = 0; times < 500; times += 1) press('ArrowRight');
        }"""
    )
    seen = window(frame)
    assert seen[2] == pytest.approx(wide / 60, rel=1e-3)
    assert seen[0] + seen[2] == pytest.approx(x + wide, abs=1e-2)
    assert y <= seen[1]
    assert seen[1] + seen[3] <= y + high + 1e-2


def test_buttons_change_it_too(section: Locator) -> None:
    frame = pane(section)
    whole = window(frame)
    smaller = section.get_by_role("button", name="Top view: smaller")
    assert smaller.is_disabled()
    section.get_by_role("button", name="Top view: larger").click()
    assert window(frame)[2] < whole[2]
    smaller.click()
    assert window(frame)[2] == pytest.approx(whole[2], rel=1e-3)
    section.get_by_role("button", name="Top view: larger").click()
    section.get_by_role("button", name="Top view: all of it").click()
    assert window(frame) == pytest.approx(whole, abs=1e-3)


def paper_at(frame: Locator, x: float, y: float) -> list[float]:
    place: list[float] = frame.locator("svg").evaluate(
        """(svg, [x, y]) => {
          const point = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM().inverse());
          return [point.x, point.y];
        }""",
        [x, y],
    )
    return place


def test_the_wheel_scrolls_the_page_until_it_is_meant(section: Locator) -> None:
    page: Page = section.page
    frame = pane(section)
    whole = window(frame)
    x, y = middle(frame)
    page.mouse.move(x, y)
    at = page.evaluate("scrollY")
    page.mouse.wheel(0, 120)
    page.wait_for_function("at => scrollY > at", arg=at)
    assert window(frame) == whole
    # whole pixels: a browser may tell a mouse's place without its fraction
    x, y = (round(place) + 30 for place in middle(frame))
    page.mouse.move(x, y)
    at, under = page.evaluate("scrollY"), paper_at(frame, x, y)
    page.keyboard.down("Control")
    page.mouse.wheel(0, -240)
    page.keyboard.up("Control")
    larger_than(page, 0.9, whole)
    assert page.evaluate("scrollY") == at
    # what lies under the pointer stays under it
    assert paper_at(frame, x, y) == pytest.approx(under, abs=0.05)


def test_a_drawing_that_has_the_focus_takes_the_wheel(section: Locator) -> None:
    page: Page = section.page
    frame = pane(section)
    whole = window(frame)
    frame.focus()
    page.mouse.move(*middle(frame))
    page.mouse.wheel(0, -240)
    larger_than(page, 0.9, whole)
    # outwards at full size it goes on to the page: nobody is caught
    frame.press("0")
    at = page.evaluate("scrollY")
    page.mouse.wheel(0, 240)
    page.wait_for_function("at => scrollY > at", arg=at)
    assert window(frame) == pytest.approx(whole, abs=1e-3)


def test_dragging_takes_the_paper_along(section: Locator) -> None:
    page: Page = section.page
    frame = pane(section)
    for _ in range(3):
        frame.press("+")
    x, y = middle(frame)
    under = paper_at(frame, x, y)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 140, y - 95, steps=30)
    page.mouse.up()
    # but for the first few pixels, which tell a drag from a tap
    assert paper_at(frame, x + 140, y - 95) == pytest.approx(under, abs=1)
    assert paper_at(frame, x, y) != pytest.approx(under, abs=4)


def test_a_double_tap_shows_all(section: Locator) -> None:
    frame = pane(section)
    whole = window(frame)
    frame.press("+")
    frame.dblclick()
    assert window(frame) == pytest.approx(whole, abs=1e-3)


def test_a_tap_on_the_way_goes_there(section: Locator) -> None:
    track = track_of_section(section)
    frame = pane(section)
    go_to(section, 1)
    cuts = [at for at, state in enumerate(track.state) if state.kind == CUT]
    cut = cuts[len(cuts) // 2]
    frame.scroll_into_view_if_needed()
    x, y = frame.locator("svg").evaluate(WHERE, list(track.place[cut][:2]))
    section.page.mouse.click(x, y)
    values = told(section)
    assert number(values["X from the corner"]) == pytest.approx(track.place[cut][0], abs=2)
    assert number(values["Y from the corner"]) == pytest.approx(track.place[cut][1], abs=2)
    # far from the way nothing happens
    box = frame.bounding_box()
    assert box is not None
    section.page.mouse.click(box["x"] + box["width"] - 3, box["y"] + box["height"] - 3)
    assert told(section) == values


def test_two_fingers_spread_the_drawing(visits: Visits, papers: Papers) -> None:
    visit = visits(papers["lids"].sheet, viewport={"width": 360, "height": 740}, has_touch=True)
    page = visit.page
    section = page.locator("section.hr-file").first
    frame = pane(section)
    whole = window(frame)
    x, y = middle(frame)
    under = paper_at(frame, x, y)
    fingers = page.context.new_cdp_session(page)

    def touch(kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x + across, "y": y + low, "id": number}
                  for number, (across, low) in enumerate(places)]  # fmt: skip
        fingers.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    touch("touchStart", (-30, 0), (30, 0))
    for far in (35, 45, 55, 60):
        touch("touchMove", (-far, 0), (far, 0))
    touch("touchEnd")
    larger_than(page, 0.7, whole)
    # twice as far apart: twice as large, about the place between the fingers
    assert window(frame)[2] == pytest.approx(whole[2] / 2, rel=0.05)
    assert paper_at(frame, x, y) == pytest.approx(under, abs=2)
    # a large drawing follows one finger, and the page stays
    at, before = page.evaluate("scrollY"), window(frame)
    touch("touchStart", (0, 0))
    for far in (20, 45):
        touch("touchMove", (far, far))
    touch("touchEnd")
    assert window(frame)[0] < before[0]
    assert page.evaluate("scrollY") == at
    assert visit.errors == []


def test_paper_has_none_of_it(section: Locator) -> None:
    go_to(section, 100)
    section.page.emulate_media(media="print")
    for part in (".hr-controls", ".hr-sizes", ".hr-over"):
        for found in section.locator(part).all():
            assert not found.is_visible()
    assert pane(section).locator("svg").is_visible()


@pytest.mark.parametrize(("motion", "often"), [("no-preference", True), ("reduce", False)])
def test_who_wants_less_motion_gets_less(page: Page, motion: str, often: bool) -> None:
    """Media Queries Level 5, 12.1: two steps a second at the most."""
    page.clock.install(time=0)
    page.emulate_media(reduced_motion=motion)  # type: ignore[arg-type]
    moves = "\n".join(f"X{at}" for at in range(2, 400))
    section = opened(page, f"G21 G90 G94 G17\nG0 X1\nG1 F900\n{moves}\nM2\n")
    page.evaluate(
        """() => {
          window.changes = 0;
          const line = document.querySelector('.hr-is-line dd');
          new MutationObserver(() => { window.changes += 1; }).observe(line, { childList: true });
        }"""
    )
    section.get_by_role("button", name="Show it moving").click()
    page.clock.run_for(1000)
    assert (page.evaluate("window.changes") > 10) is often
    assert page.evaluate("window.changes") > 0
