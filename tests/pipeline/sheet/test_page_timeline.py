"""The picture of when a file waits: pauses in order, at their times, apart from one another."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import lsq_linear
from workshop.sheets import BARE, full

from headrace.sheet.facts import FileFacts, Pause
from headrace.sheet.timeline import spread, timeline
from headrace.timing.times import Times

WIDTH, APART, RADIUS = 180.0, 7.8, 3.6
FROM, TO = 5.0, 175.0
SVG = "{http://www.w3.org/2000/svg}"


def waiting(times: list[float | None], whole: float) -> FileFacts:
    """A file that cuts for `whole` seconds and waits at these times."""
    pauses = tuple(
        Pause(number, number, (), (), None, False, after)
        for number, after in enumerate(times, start=1)
    )
    spent = Times(whole, whole, 0, 0, 0, 0, None, None, False, len(pauses), 0, ())
    return replace(BARE, pauses=pauses, times=spent)


def drawn(file: FileFacts) -> ET.Element:
    made = timeline(file)
    assert made is not None
    return ET.fromstring(str(made))


PLACES = st.lists(st.floats(FROM, TO), min_size=1, max_size=23).map(sorted)


@given(PLACES)
def test_numbers_never_lie_on_one_another_or_beside_the_paper(places: list[float]) -> None:
    found = spread(places)

    assert all(after - before >= APART - 1e-9 for before, after in pairwise(found))
    assert found[0] >= APART / 2 - 1e-9
    assert found[-1] <= WIDTH - APART / 2 + 1e-9


@given(PLACES)
def test_they_move_as_little_as_need_be(places: list[float]) -> None:
    """Against SciPy's least squares with bounds: the first place, and gaps that are never less."""
    count = len(places)
    design = np.tril(np.ones((count, count)))
    room = WIDTH - APART * count
    target = np.array(places) - APART * (np.arange(count) + 0.5)
    gaps = lsq_linear(design, target, (0, np.inf), tol=1e-12).x
    best = np.clip(design @ gaps, 0, room) + APART * (np.arange(count) + 0.5)

    ours = np.sum((np.array(spread(places)) - places) ** 2)
    assert ours <= np.sum((best - places) ** 2) + 1e-3


def test_places_far_apart_stay_where_they_are() -> None:
    assert spread([20.0, 60.0, 160.0]) == pytest.approx([20, 60, 160])
    assert spread([90.0, 90.0, 90.0]) == pytest.approx([90 - APART, 90, 90 + APART])


def test_each_pause_leads_to_its_time() -> None:
    """Half of the time is half of the line: 5 + 170 / 2 = 90 mm."""
    svg = drawn(waiting([0.0, 300.0, 600.0], 600.0))
    strokes = [path.get("d", "") for path in svg.iter(f"{SVG}path")]
    feet = [float(m[1]) for d in strokes if (m := re.fullmatch(r"M.* .*L(.*) 15\.5", d))]
    numbers = [text.text for text in svg.iter(f"{SVG}text") if text.get("y") == "6.2"]

    assert feet == [5, 90, 175]
    assert numbers == ["1", "2", "3"]
    assert svg.get("role") == "img"
    assert svg.get("aria-label") == (
        "3 pauses in 10 min 00 s of planned time: pause 1 after 0 s; pause 2 after 5 min 00 s;"
        " pause 3 after 10 min 00 s."
    )


@pytest.mark.parametrize("whole", [0.3, 7, 59, 61, 900, 3700, 90000, 400000])
def test_times_under_the_line_keep_apart(whole: float) -> None:
    """A letter of 3.4 mm is no wider than 0.7 of that, as for the boldest of common typefaces."""
    svg = drawn(waiting([whole / 2], whole))
    boxes = []
    for text in svg.iter(f"{SVG}text"):
        if text.get("y") == "21.5":
            wide = 0.7 * 3.4 * len(text.text or "")
            at = float(text.get("x", ""))
            left = at - {"start": 0, "middle": wide / 2, "end": wide}[text.get("text-anchor", "")]
            boxes.append((left, left + wide))
    boxes.sort()

    assert len(boxes) >= 2
    assert all(one[1] < other[0] for one, other in pairwise(boxes))
    assert boxes[-1][1] <= WIDTH


def test_none_where_it_would_tell_nothing_or_not_clearly() -> None:
    assert timeline(BARE) is None
    assert timeline(waiting([None, None], 60)) is None
    assert timeline(waiting([0.0], 0)) is None
    assert timeline(waiting([float(n) for n in range(23)], 60)) is not None
    assert timeline(waiting([float(n) for n in range(24)], 60)) is None, "24 x 7.8 mm are too wide"


def test_a_pause_of_unknown_time_is_left_to_the_table() -> None:
    numbers = [t.text for t in drawn(full("LID.NC", "f")).iter(f"{SVG}text") if t.get("y") == "6.2"]

    assert numbers == ["1", "3"]
