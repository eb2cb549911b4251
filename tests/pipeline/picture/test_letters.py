"""Letters, scales and dimensions; and what a browser makes of the letters."""

from __future__ import annotations

from itertools import combinations

import pytest
from browser.chromium import chromium
from hypothesis import given
from hypothesis import strategies as st
from pipeline.picture.drawn import DEMOS, prepared

from headrace.picture.bedding import bedding
from headrace.picture.dimension import Row
from headrace.picture.job import job_drawings
from headrace.picture.lettering import SIZE, Box, Lettering, box_of, spot, spread, text_width
from headrace.picture.scale import bar_length, scale_for, scale_text
from headrace.picture.style import style

PAPER = Box(0.0, 0.0, 100.0, 80.0)
size = st.floats(1e-3, 1e7, allow_nan=False)


def test_letters_are_nine_points_high() -> None:
    # a point is 1/72 inch of 25.4 mm
    assert SIZE / (25.4 / 72) >= 9


@given(size, size)
def test_the_scale_is_the_largest_of_the_series_that_fits(wide: float, high: float) -> None:
    scale = scale_for((wide, high), (125.0, 110.0))

    assert wide / scale <= 125 * (1 + 1e-6)
    assert high / scale <= 110 * (1 + 1e-6)
    larger = scale_for((wide / 2.5 * 0.999, high / 2.5 * 0.999), (125.0, 110.0))
    assert larger < scale
    digits = f"{scale:.6e}".split("e")[0].rstrip("0").rstrip(".")
    assert digits in {"1", "2", "2.5", "5"}


def test_scales_are_told_as_on_drawings() -> None:
    # ISO 5455: 1:5 for reduction, 2:1 for enlargement
    assert [scale_text(scale) for scale in (1.0, 5.0, 2.5, 0.5)] == ["1:1", "1:5", "1:2.5", "2:1"]


@given(st.sampled_from([0.01, 0.5, 1.0, 2.5, 20.0, 1000.0]), st.floats(5, 40))
def test_a_scale_bar_is_round_and_no_longer_than_told(scale: float, longest: float) -> None:
    length = bar_length(scale, longest)

    assert longest / 2.5 - 1e-9 <= length / scale <= longest + 1e-6
    assert f"{length:.6e}"[0] in "125"


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(1, 10)), min_size=1, max_size=8))
def test_things_in_a_row_are_spread(row: list[tuple[float, float]]) -> None:
    wanted, lengths = zip(*row, strict=True)
    found = spread(wanted, lengths, -5.0, 105.0)

    for (a, la), (b, lb) in combinations(zip(found, lengths, strict=True), 2):
        assert abs(a - b) >= (la + lb) / 2 - 1e-9
    assert max(m + length / 2 for m, length in zip(found, lengths, strict=True)) <= 105 + 1e-9
    if len(row) == 1 and wanted[0] - lengths[0] / 2 >= 0 and wanted[0] + lengths[0] / 2 <= 100:
        assert found == [wanted[0]]


@given(st.lists(st.tuples(st.floats(5, 95), st.floats(5, 75), st.integers(1, 9999)), max_size=60))
def test_labels_have_room_or_are_left_out(places: list[tuple[float, float, int]]) -> None:
    letters = Lettering(PAPER)
    shown = [letters.near(str(number), spot(x, y)) for x, y, number in places]

    written = [element for element in letters.elements if element.startswith("<text")]
    assert len(written) == sum(shown)
    found = []
    for element in written:
        x, y = (float(element.split(f' {axis}="')[1].split('"')[0]) for axis in "xy")
        found.append(box_of(element.split(">")[1].split("<")[0], x, y))
    assert all(not one.meets(other, 0.1) for one, other in combinations(found, 2))
    assert all(box.left >= -0.01 and box.bottom <= 80.01 for box in found)


def test_a_row_tells_its_lengths() -> None:
    assert Row.of([0, 1, 2, 3], [0, 29.004, 547, 580]).texts == ("29", "518", "33")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_a_browser_has_room_for_all_letters(dark: bool) -> None:
    """Chromium's own boxes of the letters: none over another, none wider than reckoned with."""
    drawings = []
    for number, (recipe, name) in enumerate(DEMOS):
        made = prepared(recipe, name)
        found = bedding(made.machine, made.setup, f"b{number}")
        assert found is not None
        drawings += [*job_drawings(made, f"f{number}"), found]
    figures = "".join(f"<figure>{drawing.svg}</figure>" for drawing in drawings)
    with chromium() as browser:
        page = browser.new_page(color_scheme="dark" if dark else "light", device_scale_factor=4)
        page.set_content(f"<meta charset=utf-8><style>{style()}</style>{figures}")
        read = page.evaluate(
            """() => [...document.querySelectorAll('svg')].map(svg =>
                 [...svg.querySelectorAll('text')].map(text => {
                   const box = text.getBoundingClientRect(), look = getComputedStyle(text);
                   return [text.textContent, box.left, box.top, box.right, box.bottom,
                           text.getComputedTextLength(), look.fill]; }))"""
        )
        paper = page.evaluate("getComputedStyle(document.querySelector('.hr-paper')).fill")
        page.close()

    assert len(read) == len(drawings)
    for drawing, texts in zip(drawings, read, strict=True):
        for told, *_, width, fill in texts:
            assert width <= text_width(told) * 1.02, (drawing.title, told)
            assert fill != paper
        for one, other in combinations(texts, 2):
            _, left, top, right, bottom, *_ = one
            # letters stand within 0.76 of their height over the line and 0.24 below: the boxes of
            # a browser have leading too, which may lie over another's
            lead = 1.6
            beside = left >= other[3] or other[1] >= right
            above = top + lead >= other[4] - lead or other[2] + lead >= bottom - lead
            assert beside or above, (drawing.title, one[0], other[0])
