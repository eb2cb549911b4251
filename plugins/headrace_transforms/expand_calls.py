"""Subprograms written out where they are called."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from headrace import Edit, Facet, Job, Line, delete, replace, transform
from headrace_transforms.lines.respelling import respelt
from headrace_transforms.telling.refusing import place_of, refusal


@transform(
    "expand-calls",
    changes=[Facet.SPELLING, Facet.COMMENTS, Facet.LINE_NUMBERS, Facet.PAUSE_TEXTS],
    idempotent=True,
)
def expand_calls(job: Job) -> Iterator[Edit]:
    """Write the lines of subprograms in the place of their calls, and take program numbers out.

    Followed are `M98 P100 L2` with `O100` to `M99` behind the program end, and `O100 call` with
    `O100 sub` to `O100 endsub` (common practice). Put it first: other steps see only what is
    written out.

        O7 (LID)            ->        (LID)
        M98 P100 L2                   G91 G1 X5
        M30                           G91 G1 X5
        O100                          M30
        G91 G1 X5
        M99
    """
    calls = job.trace.calls
    program = job.program
    if calls.heading is not None:
        yield _without(program[calls.heading])
    for body in calls.definitions:
        yield from (delete(index) for index in range(body.first, body.last + 1))
    for index, call in calls.calls.items():
        if not calls.defines(index):
            lines = [program[at] for at in calls.run(call)]
            yield replace(index, *_written(job, program[index], lines))


def needs_calls_expanded(job: Job) -> dict[str, Any] | None:
    """The options of the step where a job has subprograms or program numbers that its machine does
    not read; else None."""
    calls = job.trace.calls
    lacks = not job.machine.subprograms and (calls.heading is not None or calls.bodies)
    return {} if lacks else None


def _without(line: Line) -> Edit:
    """A line without its program number."""
    heading = line.scan.heading
    assert heading is not None
    text = respelt(line, {(heading.start, heading.end): ""})
    return replace(line.index, text) if text.strip() else delete(line.index)


def _written(job: Job, call: Line, lines: list[Line]) -> Iterator[str]:
    """The lines that a call runs, as they are but for line numbers; those of the call, number and
    comments, stand above them or on the first."""
    scan = call.scan
    slash = "/" if scan.block_delete else ""
    number = "" if scan.number is None else f"N{scan.number} "
    if call.comments:
        heading = [] if scan.heading is None else [(scan.heading.start, scan.heading.end)]
        spans = [*heading, *((word.start, word.end) for word in call.words)]
        yield respelt(call, dict.fromkeys(spans, ""))
        number = ""
    for line in lines:
        if line.scan.block_delete and not slash:
            what = "a switch leaves this line out of a subprogram, and of every call of it"
            raise refusal("switch-decides", what, place=place_of(job.program, line))
        own = line.scan.number_span
        text = line.text if own is None else respelt(line, {own: ""})
        if slash:
            text = text.lstrip(" \t").removeprefix("/")
        if text.strip():
            yield f"{slash}{number}{text}"
            number = ""
