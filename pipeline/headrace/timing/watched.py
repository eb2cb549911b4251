"""What a run with a watch says of a machine: how many times longer motion takes than planned.

The watch stands while the machine homes, as nobody knows how far it has to its switches, and at
pauses, each of which costs a moment; and nothing is faster than full feed. So a run may say too
little, or nothing true.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from headrace.errors import JobRefused
from headrace.findings import Finding
from headrace.job import Job
from headrace.language.trace import HOME, PROBE
from headrace.machine import TimedRun
from headrace.timing.clock import Clock, clock_of, described
from headrace.timing.reading import watch_text

MOST = 4.0
"""More than so many times longer than planned, corners and all, and something else has taken the
time: a pause, or a feed that was turned down to a quarter."""
LEAST_MOTION = 120.0
"""A run must move for so long (s): a watch in a hand is a second or two off (common practice), and
that is to be little."""
MOST_OPEN = 0.1
"""So much of the planned motion may vary with where the bit touches: no more than the band."""
_READ = 1.0
"""A watch is read to whole seconds (s)."""


def watched(job: Job, took: float, name: str) -> TimedRun:
    """The timed run of a job that took so long (s), homing and pauses left out.

    JobRefused where the run says nothing that can be true, or too little.
    """
    place = job.program.place(0)

    def refuse(kind: str, what: str) -> JobRefused:
        return JobRefused(findings=[Finding.of(kind, what, place)])

    job = replace(job, machine=replace(job.machine, timing=None))
    if lacking := _lacking(job):
        raise refuse("times-not-planned", f"the machine file does not tell {lacking}")
    clock = clock_of(job)
    waiting, homing = float(clock.waits.sum()), job.trace.kind == HOME
    motion, least = (float(times[~homing].sum()) for times in (clock.moving, clock.least))
    unknown, open_ = np.count_nonzero(clock.unknown & ~homing), _open(clock, job)
    if unknown:
        what = f"how far or how fast it goes is not known of {unknown} of its moves"
        raise refuse("run-tells-little", what)
    if motion < LEAST_MOTION:
        what = f"the machine moves for {watch_text(motion)} only"
        raise refuse("run-tells-little", what)
    if open_ > MOST_OPEN * motion:
        what = (
            f"{watch_text(open_)} of {watch_text(motion)} of motion depend on where the bit touches"
        )
        raise refuse("run-tells-little", what)
    if took + _READ < least + waiting:
        what = (
            f"{name} took {watch_text(took)}, and with every move at its full feed it takes"
            f" {watch_text(least + waiting)}"
        )
        raise refuse("time-too-short", what)
    factor = round((took - waiting) / motion, 3)
    if factor > MOST:
        what = (
            f"{name} took {watch_text(took)}, and {watch_text(motion + waiting)} was planned:"
            f" motion took {factor:g} times as long"
        )
        raise refuse("time-too-long", what)
    return TimedRun(factor, round(motion + waiting, 1), took, name)


def _lacking(job: Job) -> str | None:
    """What the description must tell for a time to be planned, and does not."""
    machine = job.machine
    if described(machine):
        return None
    slow = [name.upper() for name, axis in machine.axes.items() if axis.acceleration is None]
    if slow:
        return f"how fast {' and '.join(slow)} {'gain' if len(slow) > 1 else 'gains'} speed"
    return "how corners are taken"


def _open(clock: Clock, job: Job) -> float:
    """How much of the planned motion is there only if the way is as long as it may be (s)."""
    apart = job.trace.kind == PROBE
    return float((clock.moving[apart] - clock.least[apart]).sum())
