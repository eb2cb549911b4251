"""One card file a tool."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from headrace import Edit, EventKind, Facet, Job, Part, delete, replace, transform
from headrace_transforms.changing import require_described
from headrace_transforms.fitting import fitted
from headrace_transforms.refusing import place_of, refusal
from headrace_transforms.restoring import first_motion_stated, restored


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
    """Where parts begin, each with its tool, and the length of the job at the end. With a bit that
    is called for behind the last cut nothing is left to do."""
    cuts: list[tuple[int, int | None]] = [(0, None)]
    first_cut = job.landmarks.first_cut
    last_cut = max((int(b.line[b.cuts].max()) for b in job.trace.blocks if b.cuts.any()), default=0)
    for event in job.trace.events_of(EventKind.TOOL):
        tool = event.value if isinstance(event.value, int) else None
        line = job.program[event.line]
        if tool is None:
            what = "this line changes the tool, and no T says to which"
            raise refusal("tool-unnamed", what, place=place_of(job.program, line))
        if line.scan.block_delete:
            what = "this line changes the tool only where a switch says so"
            raise refusal("tool-optional", what, place=place_of(job.program, line))
        if first_cut is not None and event.line > last_cut:
            continue
        if job.setup.tools or job.setup.tool.stick_out is not None:
            require_described(job, line, tool)
        if first_cut is None or event.line <= first_cut:
            cuts[0] = (0, tool)
        elif tool != cuts[-1][1]:
            cuts.append((_with_its_text(job, event.line), tool))
    return [*cuts, (len(job.program), None)]


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
