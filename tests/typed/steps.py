# pyright: strict
"""Transforms of one's own, with all types stated."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from headrace import (
    Edit,
    EventKind,
    Facet,
    Finding,
    Job,
    JobRefused,
    Place,
    Program,
    Transform,
    Use,
    after,
    before,
    delete,
    hookimpl,
    needed,
    number_text,
    replace,
    transform,
)


@transform(
    "settle",
    changes=[Facet.DWELL],
    options={"seconds": {"type": "number", "description": "s", "exclusiveMinimum": 0}},
    required=["seconds"],
)
def settle(job: Job, *, seconds: float) -> Iterator[Edit]:
    """Wait after every line that starts the spindle."""
    for line in job.program:
        if line.has("M", 3, 4):
            yield after(line.index, f"G4 P{number_text(seconds, 3)}")


@transform("shout", changes=[Facet.COMMENTS])
def shout(job: Job) -> Sequence[Edit]:
    """Write the first comment in capitals, and say how thick the plate is."""
    plate = needed(job.setup.plate.thickness, "setup.plate.thickness", "shout")
    start: int = job.landmarks.start
    edits = [before(start, f"(PLATE {number_text(plate, 2)})")]
    for line in job.program:
        for comment in line.comments:
            found: str = comment.text
            edits.append(replace(line.index, f"({found.upper()})"))
            return edits
    if not len(job.program):
        what = "there is nothing to shout about"
        place = Place(job.program.name, 1)
        raise JobRefused(findings=[Finding.of("no-moves", what, place)])
    return edits


@transform("twice", gives="steps")
def twice(job: Job) -> Iterator[Use]:
    """Settle for as many seconds as there are bits."""
    bits = {event.value for event in job.trace.events_of(EventKind.TOOL)}
    yield Use("settle", {"seconds": float(len(bits) + 1)})


@transform("bare", changes=[Facet.COMMENTS])
def bare(job: Job) -> Iterator[Edit]:
    """Take out lines that hold nothing but a comment."""
    for line in job.program:
        if line.comments and not line.words:
            yield delete(line.index)


@hookimpl
def headrace_transforms() -> list[Transform]:
    """What this module offers."""
    return [settle, shout, twice, bare]


@hookimpl
def headrace_step_done(name: str, before: Program, after: Program) -> None:
    """Watch the steps go by."""
    added: int = len(after) - len(before)
    print(f"{name}: {added:+d} lines")
