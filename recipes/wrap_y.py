"""A transform for a rotary axis: a flat job is cut round a blank, and Y becomes turns.

An arc is as long as radius times angle: on the surface Y mm are 360 * Y / (pi * diameter) degrees,
and deeper down the same turn is a shorter way. Every cut says its own F, so that it takes as long
as in the flat job. `wraps` declares what becomes of the path: both proofs roll the result out flat
again and compare it with the job, move by move.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import floor, log10

import numpy as np

from headrace import (
    Edit,
    Finding,
    Job,
    JobRefused,
    Wrap,
    after,
    before,
    needed,
    number_text,
    transform,
)
from headrace import replace as in_its_place

FEED = 1e-3
"""The share of a feed by which it may be rounded."""


def wrap(job: Job) -> Wrap:
    """How Y goes round the blank of the set-up on this machine."""
    blank = needed(job.setup.blank, "setup.blank", "wrap-y")
    axis, field = job.machine.rotary[blank.axis], f"machine.rotary.{blank.axis}.counts"
    if axis.along != "x":
        raise refused(job, 0, f"{blank.axis} lies along Y", "wrap X onto it, by a step of your own")
    counts = "linear" if job.machine.inverse_time else needed(axis.counts, field, "wrap-y")
    return Wrap("Y", blank.axis.upper(), axis.sense * 360 / blank.around, counts)


def places(job: Job) -> int:
    """How many places behind the point angles have."""
    return min(5, 5 if job.machine.decimals is None else job.machine.decimals)


@transform(
    "wrap-y",
    idempotent=True,
    wraps=lambda job: [wrap(job)],
    within=lambda job: 0.51 * 10.0 ** -places(job) / abs(wrap(job).degrees),
    feed_within=lambda job: FEED * float(np.nanmax(job.trace.feed, initial=0.0)),
)
def wrap_y(job: Job) -> Iterator[Edit]:
    """Turn the blank by what a flat job says along Y, each cut in the same time.

    X lies along the axis, Y around it, Z0 is the surface. Put it before all steps that move the
    machine, and behind those that take out arcs, cycles, increments and inches.

        G1 X40 Y10 F600    ->    G1 X40 A-28.64789 F582.086
    """
    found, trace, timed = wrap(job), job.trace, bool(job.machine.inverse_time)
    if not len(job.program.lines_with("Y")):
        return
    require_flat(job, found)
    x, y, z = ((trace.starts(axis), trace.ends(axis)) for axis in range(3))
    turns = [np.round(side * found.degrees, places(job)) for side in y]
    dx, da, dz = (np.where(np.isnan(a) & np.isnan(b), 0.0, b - a) for a, b in (x, turns, z))
    length = np.sqrt(dx**2 + (da / found.degrees) ** 2 + dz**2)
    counted = np.sqrt(dx**2 + dz**2 + (da**2 if found.counts == "all" else 0))
    counted = np.ones(len(da)) if timed else np.where(counted == 0, np.abs(da), counted)
    feeds = np.divide(trace.feed * counted, length, out=np.full(len(da), 600.0), where=length > 0)
    cuts = np.flatnonzero(trace.kind == 1)
    for row, number in enumerate(trace.line.tolist()):
        line = job.program[number]
        said = {word: line.text[word.start : word.end] for word in line.words}
        for word in said:
            if word.letter == "Y":
                said[word] = f"{found.onto}{number_text(turns[1][row], places(job))}"
            elif word.letter == "F":
                said[word] = ""
        if trace.kind[row] == 1:
            last = next(word for word in reversed(said) if said[word])
            said[last] += f" F{feed_text(job, number, feeds[row])}"
            if timed and row == cuts[0]:
                said[line.words[0]] = f"G93 {said[line.words[0]]}"
        yield in_its_place(number, line.rewritten(said))
    if timed and len(cuts):
        yield after(int(trace.line[cuts[-1]]), "G94")


@transform("turn-back", adds_motion=True)
def turn_back(job: Job) -> Iterator[Edit]:
    """Lift, and turn the blank back to its zero in the end.

    Put it before `park`: when the head has gone aside, everything must have come to rest.
    """
    high = needed(job.setup.safe_height, "setup.safe-height", "turn-back")
    yield before(job.landmarks.end, f"G0 Z{number_text(high)}", f"G0 {wrap(job).onto}0")


def require_flat(job: Job, found: Wrap) -> None:
    """JobRefused for the first line that would come to something else round a blank."""
    program, trace = job.program, job.trace
    cuts, lost = trace.kind == 1, np.isnan(trace.starts(0) + trace.starts(1) + trace.starts(2))
    straight = trace.line[trace.kind <= 1]
    for what, remedy, lines in (
        ("homing or a touch", "put this step before all that move the machine",
         trace.line[trace.kind > 3]),
        ("an arc", "put `arcs-to-lines` before this step", trace.line[trace.kind > 1]),
        ("several moves of one line", "put `cycles-to-moves` or `expand-calls` before this step",
         trace.line[1:][np.diff(trace.line) <= 0]),
        ("increments", "put `absolute` before this step", program.lines_with("G", 91)),
        ("inches", "put `units: {to: mm}` before this step", program.lines_with("G", 20)),
        ("no mm", "put `units: {to: mm}` before this step",
         np.zeros(0 if trace.end.units == "mm" else 1)),
        ("F counts by time", "export with G94", program.lines_with("G", 93)),
        ("a turn already", "export a flat job", program.lines_with(found.onto)),
        ("a place of the machine", "export without G53", program.lines_with("G", 53)),
        ("Y, and no straight move", "export without this line",
         np.setdiff1d(program.lines_with("Y"), straight)),
        ("a cut from a place that nobody knows", "let a rapid name X, Y and Z before it",
         trace.line[cuts & lost]),
    ):  # fmt: skip
        if len(lines):
            raise refused(job, int(lines[0]), f"{what}, and the job goes round a blank", remedy)


def feed_text(job: Job, line: int, feed: float) -> str:
    """A feed in six figures, as far as the machine reads them."""
    digits, most = max(0, 5 - floor(log10(feed))), job.machine.decimals
    text = number_text(feed, digits if most is None else min(digits, most))
    if abs(float(text) - feed) > FEED * feed:
        what = f"F{feed:.3g} cannot be said in the {most} decimals that the machine reads"
        raise refused(job, line, what, "describe `inverse-time`, if the machine reads G93")
    return text


def refused(job: Job, line: int, what: str, remedy: str) -> JobRefused:
    """The error to raise."""
    place = job.program.place(line)
    return JobRefused(findings=[Finding.of("wrap-unsuited", what, place, remedy=remedy)])
