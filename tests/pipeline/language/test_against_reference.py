"""The interpreter against the slow one in `reference`, on generated programs.

The reference is written from NISTIR 6556 alone and shares no code with headrace.
"""

from __future__ import annotations

import random
from itertools import zip_longest

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference import Options, Start, run
from reference.programs import programs, random_program
from reference.refusals import REFUSALS, Refusal

from headrace.findings import Severity
from headrace.language import interpreter
from headrace.program import text as text_module

from .comparing import (
    events_of_run,
    events_of_trace,
    going,
    rows_of_run,
    rows_of_trace,
    same,
    trace_of,
    until_probe,
)

_ENDS = st.sampled_from(["\n", "\r\n", "\r"])


def _agree(lines: list[str], start: Start, options: Options, end: str) -> None:
    expected = run(lines, start=start, options=options)
    assert expected.error is None
    trace = trace_of(lines, start, options, end)

    wanted, got = list(rows_of_run(expected)), list(rows_of_trace(trace))
    probed = any(row.kind == "probe" for row in wanted)
    for a, b in zip_longest(going(until_probe(wanted), start), going(until_probe(got), start)):
        assert a is not None, b
        assert b is not None, a
        assert same(a, b), (lines[a.line], a, b)
    if not probed:
        assert [f for f in trace.findings if f.severity is Severity.REFUSE] == []
        assert events_of_trace(trace) == events_of_run(expected)


@given(programs("all", longest=40), _ENDS)
@settings(max_examples=150, deadline=None)
def test_everything_agrees_with_the_reference(lines: list[str], end: str) -> None:
    _agree(lines, Start(), Options(), end)


@given(programs("all", longest=40, options=Options(level_twenty=True, block_delete=True)), _ENDS)
@settings(max_examples=60, deadline=None)
def test_switches_and_dialects_agree_with_the_reference(lines: list[str], end: str) -> None:
    _agree(lines, Start(), Options(level_twenty=True, block_delete=True), end)


@given(programs("plain", longest=120), _ENDS)
@settings(max_examples=60, deadline=None)
def test_plain_moves_agree_with_the_reference(lines: list[str], end: str) -> None:
    _agree(lines, Start(feed=600.0), Options(), end)


@pytest.mark.parametrize("seed", range(12))
def test_bulk_reading_agrees_across_chunks(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Chunks of a few lines, so that every kind of run is cut by their borders."""
    monkeypatch.setattr(text_module, "CHUNK_BYTES", 256 << (seed % 4))
    monkeypatch.setattr(text_module, "SMALL", 0)
    monkeypatch.setattr(interpreter, "SHORTEST_RUN", 1)
    rng = random.Random(seed)
    profile = "plain" if seed % 2 else "all"
    lines = random_program(rng, 300, profile=profile)
    _agree(lines, Start(feed=600.0 if profile == "plain" else 0.0), Options(), "\n")


@given(programs("all", longest=25), _ENDS)
@settings(max_examples=80, deadline=None)
def test_small_texts_in_bulk_agree_with_the_reference(lines: list[str], end: str) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_module, "SMALL", 0)
        patch.setattr(interpreter, "SHORTEST_RUN", 1)
        _agree(lines, Start(), Options(), end)


@pytest.mark.parametrize("case", REFUSALS, ids=lambda case: f"{case.kind}: {case.lines[-1][:30]}")
def test_what_the_standard_forbids_is_found(case: Refusal) -> None:
    """Every fault gives a finding at its line, unless it is one that only whole files show or
    that needs a tool table."""
    if case.kind in _ELSEWHERE or case.lines[0] in _ELSEWHERE:
        pytest.skip("judged elsewhere")
    trace = trace_of(list(case.lines), case.start, case.options)

    line = len(case.lines) if case.line < 0 else case.line + 1
    places = [finding.place.line for finding in trace.findings if finding.place]
    assert line in places, (case.kind, trace.findings)


_ELSEWHERE = {
    "line-too-long": "whole files: suitability",
    "percent-unclosed": "whole files: suitability",
    "no-end": "whole files: suitability",
    "N000009 G0 X1": "whole files: suitability; the number is in range, only its spelling is long",
    "G0 X1 ; home": "comments to the end of the line are common practice and read",
    "G90.1": "common practice, and read: how arc centres count",
    "O100": "common practice, and read: a program number at the top",
    "tool-bad": "how many tools there are is not known",
    "system-index": "no line of a program can say it",
}
