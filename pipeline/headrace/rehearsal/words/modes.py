"""Modes: what a program relies on and does not state, and what it leaves in force at its end."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.language.modal import CYCLES, G_GROUP
from headrace.language.trace import HOME

_DISTANCE, _PLANE, _FEED, _SYSTEM = 3, 2, 5, 12
"""Modal groups of RS274/NGC table 4."""

_UNUSUAL: tuple[tuple[str, tuple[float, ...], tuple[float, ...]], ...] = (
    ("G93", (93,), (94,)),
    ("G18", (18,), (17, 19)),
    ("G19", (19,), (17, 18)),
    ("G90.1", (90.1,), (91.1,)),
)
"""Modes that no file expects at its beginning: a name, what sets and what cancels each. (G91 and
drilling cycles are looked at more closely elsewhere.)"""

_CYCLES = tuple(code / 10 for code in sorted(CYCLES))


def mode_findings(job: Job) -> Iterator[Finding]:
    """Modes that are not stated before the first move, or still in force at the end."""
    yield from _unstated(job)
    yield from _left_on(job)
    yield from _knob_dead(job)


def end_of(job: Job) -> int:
    """The line of the program's end, or the number of lines where it has none."""
    return len(job.program) if job.trace.ended_at is None else job.trace.ended_at


def last_line(job: Job, *numbers: float) -> int:
    """The last line (from 0) before the end with one of these G words, G0 to G3 left out; -1
    without one."""
    lines, found = job.program.codes()
    before = lines[np.isin(found, numbers) & (lines < end_of(job))]
    return int(before[-1]) if len(before) else -1


def _unstated(job: Job) -> Iterator[Finding]:
    """The first move comes before modes that decide where it leads, or how fast."""
    first = next(_moving_lines(job), None)
    if first is None:
        return
    stated = job.state_at(first + 1).stated
    _, codes = job.program.codes()
    turns = any(block.arcs is not None for block in job.trace.blocks)
    turns = turns or bool(np.isin(codes, _CYCLES).any())
    grave = [
        word
        for word, group, matters in (("G90", _DISTANCE, True), ("G17", _PLANE, turns))
        if matters and group not in stated
    ]
    lacking = [*grave, *(["G94"] if _FEED not in stated else [])]
    lacking += [word for word in job.machine.modes if _group(word) not in {*stated, None}]
    systems = job.machine.work_zero.systems
    lacking += systems[:1] if _SYSTEM not in stated else ()
    if lacking:
        words = " ".join(dict.fromkeys(lacking))
        yield Finding.of(
            "modes-not-stated",
            f"the first move comes before {words} {'is' if len(lacking) == 1 else 'are'} stated",
            job.program.place(first),
            remedy=f"write `{words}` on the first line, or add the step `safe-start`",
            severity=Severity.WARN if grave else Severity.NOTE,
        )


def _moving_lines(job: Job) -> Iterator[int]:
    """The lines of the first moves of each block, homing left out."""
    for block in job.trace.blocks:
        moves = np.flatnonzero(block.kind != HOME)
        if len(moves):
            yield int(block.line[moves[0]])


def _group(word: str) -> int | None:
    """The modal group of a G word such as `G64 P0.1`; None for others, and for motions."""
    letter, number = word[0], word[1:].split()[0]
    group = G_GROUP.get(round(float(number) * 10)) if letter == "G" else None
    return None if group == 1 else group


def _left_on(job: Job) -> Iterator[Finding]:
    """Modes that the program does not cancel."""
    left = [
        (line, word)
        for word, on, off in _UNUSUAL
        if (line := last_line(job, *on)) > last_line(job, *off)
    ]
    if left:
        words = " and ".join(word for _, word in left)
        what = f"{words} {'is' if len(left) == 1 else 'are'} still in force at the end"
        yield Finding.of("mode-left-on", what, job.program.place(min(left)[0]))


def _knob_dead(job: Job) -> Iterator[Finding]:
    """The first stretch in which the knobs for feed and speed do nothing."""
    off = job.program.lines_with("M", 49)
    if not len(off):
        return
    first = int(off[0])
    on = job.program.lines_with("M", 48)
    later = on[on > first]
    until = job.program.place(int(later[0])).excerpt.strip() if len(later) else ""
    till = f"up to `{until}`" if until else "from here to the end"
    what = f"the knobs for feed and speed do nothing {till}"
    yield Finding.of("knob-dead", what, job.program.place(first))
