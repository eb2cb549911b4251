"""One card file a tool."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from headrace import Edit, EventKind, Facet, Job, Line, Part, delete, replace, transform
from headrace_transforms.framing.changing import called_bit, require_described
from headrace_transforms.framing.fitting import fitted
from headrace_transforms.framing.restoring import first_motion_stated, restored


@transform(
    "split-tools",
    gives="parts",
    changes=[
        Facet.STOPS,
        Facet.PAUSE_TEXTS,
        Facet.SPINDLE,
        Facet.OUTPUTS,
        Facet.DWELL,
        Facet.WORK_ZERO,
        Facet.CORNERS,
        Facet.TOOL,
        Facet.SPELLING,
        Facet.COMMENTS,
        Facet.LINE_NUMBERS,
    ],
    adds_motion=True,
    options={
        "ask": {
            "type": "boolean",
            "description": "Whether each file first asks for its bit; true or false.",
            "default": True,
        }
    },
)
def split_tools(job: Job, *, ask: bool) -> Iterator[Part]:
    """Make one card file for each tool, each complete by itself.

    The job is parted where another bit is called for. A part begins with what the lines before it
    have brought about (units, modes, feed, speed, outputs, the place), and then goes through all
    other steps of the recipe: so each file homes, touches off with its own bit, starts the spindle
    and parks. The words that call for bits go. Must be the first step.

        T1 M6         ->        (FIT TOOL 1)            (FIT TOOL 2)
        G0 X10 Y10              M0                      M0
        ...                     G0 X10 Y10              G21 G17 G90 G94
        T2 M6                   ...                     G0 X40 Y10
        G0 X60 Y80                                      G0 Z25
                                                        G0 X60 Y80
                                                        ...
    """
    cuts = _bounds(job)
    for number, ((start, tool), (stop, _)) in enumerate(pairwise(cuts)):
        edits = [*_without_calls(job, start, stop)]
        if ask and tool is not None:
            at = job.landmarks.start if number == 0 else start
            edits = [*fitted(job, at, tool), *edits]
        opening: tuple[str, ...] = ()
        if number:
            opening = tuple(restored(job, start))
            edits += first_motion_stated(job, start, stop)
        yield Part(start, stop, tool, opening, tuple(edits))


def _bounds(job: Job) -> list[tuple[int, int | None]]:
    """Where parts begin, each with its tool, and the length of the job at the end. A bit that cuts
    nothing before the next one is called, or before the end, gets no part."""
    bounds: list[tuple[int, int | None]] = [(0, None)]
    feeds = [block.cuts for block in job.trace.blocks]
    cuts = np.flatnonzero(np.concatenate(feeds)) if feeds else np.zeros(0, int)
    calls = [
        (event.moves, *_called(job, event.line, event.value))
        for event in job.trace.events_of(EventKind.TOOL)
    ]
    ends = [moves for moves, _, _ in calls[1:]] + [len(job.trace)]
    for (moves, line, tool), end in zip(calls, ends, strict=False):
        before, behind = np.searchsorted(cuts, (moves, end))
        if not before:
            bounds[0] = (0, tool)
        elif before < behind and tool != bounds[-1][1]:
            _require_described(job, line, tool)
            bounds.append((_with_its_text(job, line.index), tool))
    return [*bounds, (len(job.program), None)]


def _called(job: Job, at: int, tool: object) -> tuple[Line, int]:
    """The line that calls for a bit, and the bit's number."""
    line = job.program[at]
    return line, called_bit(job, line, tool)


def _require_described(job: Job, line: Line, number: int) -> None:
    """JobRefused where the set-up tells of another bit, and not of this one."""
    if job.setup.tools or job.setup.tool.stick_out is not None:
        require_described(job, line, number)


def _with_its_text(job: Job, index: int) -> int:
    """A change and the comments above it belong together, and so does the call for the bit."""
    while index > 0:
        above = job.program[index - 1]
        calls_only = all(word.letter in "NT" for word in above.words)
        if above.scan.percent or not calls_only or above.scan.settings:
            break
        index -= 1
    return index


def _without_calls(job: Job, start: int, stop: int) -> Iterator[Edit]:
    """The lines of a part without T and M6."""
    program = job.program
    lines = {*program.lines_with("T").tolist(), *program.lines_with("M", 6).tolist()}
    for index in sorted(lines):
        if start <= index < stop:
            line = program[index]
            calls = [w for w in line.words if w.letter == "T" or w.code == "M6"]
            bare = all(word.letter in "NTM" for word in line.words) and not line.comments
            if bare and len(calls) == sum(word.letter != "N" for word in line.words):
                yield delete(index)
            else:
                yield replace(index, line.without(*calls))
