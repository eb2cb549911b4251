"""Numbers as people read them: never told tighter than they are."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from headrace.counting import count_text
from headrace.machine.span import Span
from headrace.sheet.telling import (
    band_text,
    left_text,
    size_text,
    span_text,
    time_text,
)

SECONDS = st.floats(0, 200 * 3600)
_TIME = re.compile(r"(?:(\d+) h )?(?:(\d+) min ?)?(?:(\d+) s)?")


def told(text: str) -> timedelta:
    """What a time says, read back."""
    match = _TIME.fullmatch(text)
    assert match, text
    hours, minutes, seconds = (int(part or 0) for part in match.groups())
    assert minutes < 60 or not match[1]
    return timedelta(hours=hours, minutes=minutes, seconds=seconds)


def ends(text: str) -> tuple[timedelta, timedelta]:
    """What a band says, read back."""
    low, _, high = text.partition(" to ")
    if not high:
        return told(low), told(low)
    unit = high.split()[-1]
    return told(low if " " in low else f"{low} {unit}"), told(high)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (0.4, "under 1 s"),
        (59.4, "59 s"),
        (59.5, "1 min 00 s"),
        (760, "12 min 40 s"),
        (3599.5, "1 h 00 min"),
        (3930, "1 h 06 min"),
        (90000, "25 h 00 min"),
    ],
)
def test_time(seconds: float, text: str) -> None:
    assert time_text(seconds) == text


@given(SECONDS)
def test_a_time_is_right_to_the_second_and_from_an_hour_on_to_the_minute(seconds: float) -> None:
    """Against `datetime.timedelta`."""
    if 0 < seconds < 1:
        assert time_text(seconds) == "under 1 s"
        return
    off = abs(told(time_text(seconds)) - timedelta(seconds=seconds))
    assert off <= timedelta(seconds=0.5 if seconds < 3599.5 else 30, microseconds=1)


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (0, 0, "0 s"),
        (41.2, 54.9, "41 to 55 s"),
        (179.9, 180, "2 to 3 min"),
        (613, 945, "10 to 16 min"),
        (600, 600, "10 min"),
        (3200, 4000, "53 min to 1 h 07 min"),
        (7200, 7200, "2 h 00 min"),
    ],
)
def test_band(low: float, high: float, text: str) -> None:
    assert band_text(low, high) == text


@given(SECONDS, SECONDS)
def test_a_band_holds_what_it_tells_of(one: float, other: float) -> None:
    low, high = sorted((one, other))
    least, most = ends(band_text(low, high))

    assert least <= timedelta(seconds=low)
    assert most >= timedelta(seconds=high)
    assert most - least <= timedelta(seconds=high - low) + timedelta(minutes=2)


def test_lengths() -> None:
    assert span_text(Span(17.6, 18.1)) == "17.6 to 18.1 mm"
    assert span_text(Span(-18.3, 0)) == "-18.3 to 0 mm"
    assert span_text(Span(12.0200004, 12.02)) == "12.02 mm"
    assert span_text(Span(-0.0001, 0)) == "0 mm"
    assert span_text(Span(1200, 1800), "mm/min") == "1200 to 1800 mm/min"
    assert span_text(Span(0, 620), "") == "0 to 620"
    assert size_text(17000, "rev/min") == "17000 rev/min"
    assert size_text(0.008191, places=6) == "0.008191 mm"


@given(st.floats(-1e5, 1e5), st.floats(0, 1e5))
def test_a_span_is_told_to_half_a_thousandth(least: float, width: float) -> None:
    text = span_text(Span(least, least + width))
    low, _, high = text.removesuffix(" mm").partition(" to ")

    assert float(low) == pytest.approx(least, abs=0.0005 + 1e-9)
    assert float(high or low) == pytest.approx(least + width, abs=0.0005 + 1e-9)


def test_what_is_left_under_a_cut() -> None:
    assert left_text(Span(8.6, 9.1)) == "8.6 to 9.1 mm stay uncut"
    assert left_text(Span(0, 0.5)) == "0 to 0.5 mm stay uncut"
    assert left_text(Span(-0.7, -0.2)) == "0.2 to 0.7 mm into the spoilboard"
    assert left_text(Span(-0.5, 0)) == "0 to 0.5 mm into the spoilboard"
    assert left_text(Span(-0.3, 0.2)) == "from 0.3 mm into the spoilboard to 0.2 mm uncut"


def test_count() -> None:
    assert [count_text(n, "pause") for n in (0, 1, 2)] == ["0 pauses", "1 pause", "2 pauses"]
