"""Stops: what waits later than it seems, or not at all, and what the operator does not read."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.language.modal import AXES
from headrace.program.columns import ODD
from headrace.rehearsal.words.lines import own

_STOPS = frozenset((EventKind.STOP, EventKind.OPTIONAL_STOP))
_UNSWITCHED = (0, 60)
"""Words that stop always; M1 stops where a switch is on (RS274/NGC 3.6.1)."""


def stop_findings(job: Job) -> Iterator[Finding]:
    """The first stop of each sort that does not do what it seems to."""
    stops = [event for event in job.trace.events_of(*_STOPS) if own(job, event)]
    yield from _behind_move(job, stops)
    yield from _not_described(job)
    yield from _cut_short(job, stops)
    yield from _messages(job)


def _behind_move(job: Job, stops: list[Event]) -> Iterator[Finding]:
    """A stop on a line that moves."""
    shared = [
        event.line
        for event in stops
        if any(word.letter in AXES for word in job.program[event.line].words)
        and job.program[event.line].has("M")
    ]
    if shared:
        more = f" ({len(shared)} lines do so)" if len(shared) > 1 else ""
        what = f"the machine moves before it stops here{more}"
        yield Finding.of("stop-behind-move", what, job.program.place(shared[0]))


def _not_described(job: Job) -> Iterator[Finding]:
    """A stop by another word than the machine's own."""
    word = job.machine.pause.word
    others = [code for code in _UNSWITCHED if word != f"M{code}"]
    lines = job.program.lines_with("M", *others)
    lines = lines[job.program.own(lines)]
    if len(lines):
        place = job.program.place(int(lines[0]))
        code = next(c for c in others if job.program[int(lines[0])].has("M", c))
        what = f"the machine waits by {word}; whether it waits at M{code} is not described"
        yield Finding.of("stop-not-described", what, place)


def _cut_short(job: Job, stops: list[Event]) -> Iterator[Finding]:
    """A text at a stop that the display shows only in part."""
    pause = job.machine.pause
    if pause.text == "none":
        return
    for event in stops:
        at = event.line - (pause.text == "before")
        comments = job.program[at].comments if at >= 0 else ()
        text = (comments[-1].message or comments[-1].text).strip() if comments else ""
        if len(text) > pause.width:
            shown = text[: pause.width]
            what = f"the display shows {pause.width} of {len(text)} characters: {shown!r}"
            yield Finding.of("message-lost", what, job.program.place(at))
            return


def _messages(job: Job) -> Iterator[Finding]:
    """A message that is not the last comment of its line: only that one counts (3.3.5)."""
    program = job.program
    odd, commented = program.lines_flagged(ODD), program.lines_with_comments()
    at = np.searchsorted(commented, odd)
    both = odd[(at < len(commented)) & (np.append(commented, -1)[at] == odd)]
    for line in both.tolist():  # a message is never read in bulk
        comments = [c for c in program[line].comments if not c.semicolon]
        if any(c.message is not None for c in comments[:-1]):
            what = "only the last comment of a line counts, and the message stands before it"
            yield Finding.of("message-lost", what, program.place(line))
            return
