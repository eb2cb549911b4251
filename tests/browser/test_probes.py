"""The probes see what they are there to see: each is shown a page with a planted fault.

The values of contrast are those of the W3C: black on white 21:1 (WCAG 2.2, contrast ratio), and
#767676 on white, the lightest grey that reaches 4.5:1 (W3C, Understanding success criterion 1.4.3).
"""

from __future__ import annotations

import pytest
from browser.probes import accessible, contrast, faint, overlapping, probe
from playwright.sync_api import Page

HEAD = "<!doctype html><html lang='en'><meta charset='utf-8'><title>Lids</title>"


def test_contrast_is_that_of_the_standard() -> None:
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert contrast((255, 255, 255), (255, 255, 255)) == pytest.approx(1)
    assert contrast((0x76, 0x76, 0x76), (255, 255, 255)) == pytest.approx(4.54, abs=0.005)
    assert contrast((0x77, 0x77, 0x77), (255, 255, 255)) < 4.5


def test_the_ground_of_text_is_all_that_lies_behind_it(page: Page) -> None:
    page.set_content(
        HEAD + "<body style='background:#000'><div style='background:rgba(255,255,255,.5)'>"
        "<p style='color:#fff'>bees</p></div></body>"
    )
    (found,) = probe(page, "texts")
    assert found["ground"] == pytest.approx([127.5] * 3, abs=1)
    assert found["ink"] == [255, 255, 255]


def test_faded_text_is_seen(page: Page) -> None:
    page.set_content(HEAD + "<body style='background:#fff'><p style='opacity:.3'>bees</p></body>")
    (found,) = faint(probe(page, "texts"), 7)
    assert found.endswith("p bees")


def test_the_ground_of_a_label_is_what_is_drawn_under_it(page: Page) -> None:
    page.set_content(
        HEAD + "<body style='background:#fff'><svg viewBox='0 0 40 20' width='400'>"
        "<rect x='0' y='0' width='20' height='20' fill='#222'/>"
        "<text x='2' y='10' font-size='4'>hive</text><text x='22' y='10' font-size='4'>lid</text>"
        "</svg></body>"
    )
    (found,) = faint(probe(page, "texts"), 7)
    assert found.endswith("text hive")
    assert [text["size"] for text in probe(page, "texts")] == pytest.approx([40, 40])


def test_faint_lines_are_seen_and_their_width_is_that_on_paper(page: Page) -> None:
    page.set_content(
        HEAD + "<body style='background:#fff'><svg viewBox='0 0 40 20' style='width:40mm'>"
        "<g transform='scale(.2)'><path class='rim' d='M0 0H100' stroke='#ddd' stroke-width='2'/>"
        "<path class='lid' d='M0 5H100' stroke='#444' stroke-width='1.5' stroke-dasharray='2 1'/>"
        "</g></svg></body>"
    )
    rim, lid = probe(page, "lines")
    assert (rim["where"], lid["where"]) == ("path.rim", "path.lid")
    assert [rim["width"], lid["width"]] == pytest.approx([0.4, 0.3])
    assert len(faint([rim, lid], 3)) == 1
    assert lid["dash"] != rim["dash"]


def test_labels_over_one_another_are_seen(page: Page) -> None:
    page.set_content(
        HEAD + "<body><svg viewBox='0 0 40 20' width='400'><text x='2' y='10' font-size='4'>hive"
        "</text><text x='4' y='11' font-size='4'>lid</text><text x='25' y='11' font-size='4'>rim"
        "</text></svg></body>"
    )
    (svg,) = probe(page, "labels")
    assert list(overlapping(svg["texts"])) == ["'hive' over 'lid'"]


def test_lines_of_text_over_one_another_are_seen(page: Page) -> None:
    page.set_content(HEAD + "<body><p>hive</p><p style='margin-top:-30px'>lid</p><p>rim</p></body>")
    assert list(overlapping(probe(page, "rows"))) == ["'hive' over 'lid'"]


def test_a_page_that_is_too_wide_is_seen(page: Page) -> None:
    page.set_viewport_size({"width": 360, "height": 600})
    page.set_content(HEAD + "<body><p style='width:500px'>bees</p></body>")
    assert probe(page, "sideways") > 100
    page.set_content(
        HEAD + "<body><div style='overflow:auto'><p style='width:500px'>bees</p></div></body>"
    )
    assert probe(page, "sideways") == 0


@pytest.mark.parametrize(
    ("style", "seen"),
    [
        ("overflow:hidden;width:40px;white-space:nowrap", True),
        ("overflow:auto;width:40px;white-space:nowrap", False),
        ("height:10px;overflow:hidden", True),
        ("", False),
    ],
)
def test_text_that_is_cut_is_seen(page: Page, style: str, seen: bool) -> None:
    page.set_content(HEAD + f"<body><div style='{style}'>a lid for the hive</div></body>")
    assert bool(probe(page, "cut")) == seen


def test_small_targets_and_those_without_a_name_are_seen(page: Page) -> None:
    page.set_content(
        HEAD + "<body><button style='padding:0;width:10px;height:10px'></button>"
        "<label style='display:inline-block;padding:20px'><input type='checkbox'> Clip on</label>"
        "</body>"
    )
    button, box = probe(page, "targets")
    assert button["width"] == 10
    assert box["width"] > 44
    assert box["height"] > 44
    controls = {one["role"]: one["name"] for one in accessible(page)}
    assert controls["button"] == ""
    assert controls["checkbox"] == "Clip on"


def test_a_focus_that_does_not_show_is_seen(page: Page) -> None:
    page.set_content(
        HEAD + "<body><button style='outline:none'>a</button><button>b</button></body>"
    )
    page.keyboard.press("Tab")
    assert probe(page, "focus")["outline"] == 0
    page.keyboard.press("Tab")
    assert probe(page, "focus")["outline"] > 0


def test_what_moves_by_itself_is_seen(page: Page) -> None:
    page.set_content(HEAD + "<body><p style='transition: color 1s'>a</p><p>b</p></body>")
    assert probe(page, "animated") == ["p"]


def test_words_that_are_torn_are_seen(page: Page) -> None:
    page.set_content(
        HEAD + "<body><p style='width:20px;overflow-wrap:anywhere'>Machine</p>"
        "<p style='width:80px'>a machine that homes</p></body>"
    )
    assert probe(page, "torn") == ["Machine in p: Machine"]


def test_headings_are_told_as_they_show(page: Page) -> None:
    page.set_content(
        HEAD + "<body><h1>Lids</h1><h2>How <span style='position:absolute;width:1px;height:1px;"
        "overflow:hidden'>ever</span> it <b>cuts</b></h2><h3 hidden>no</h3></body>"
    )
    assert probe(page, "headings") == [[1, "Lids"], [2, "How it cuts"]]
