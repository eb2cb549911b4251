"""Pauses of the recipe's own."""

from __future__ import annotations

from collections.abc import Iterator

from headrace import Edit, Facet, Job, after, pausing, transform
from headrace_transforms.framing.ending import ending_of
from headrace_transforms.telling.refusing import place_of, refusal
from headrace_transforms.telling.wording import operator_text


@transform(
    "pause",
    changes=[Facet.STOPS, Facet.COMMENTS],
    options={
        "at": {
            "description": "Where the machine waits, without unit.",
            "enum": ["start", "first-cut", "tool-change-before", "tool-change-after", "end"],
            "examples": ["first-cut"],
        },
        "text": {
            "type": "string",
            "description": "What the operator reads; text, written in capitals without accents.",
            "minLength": 1,
            "maxLength": 250,
            "examples": ["EXTRACTION ON"],
        },
    },
    required=["at", "text"],
)
def pause(job: Job, *, at: str, text: str) -> Iterator[Edit]:
    """Wait for the operator at a named place, with a text.

    The pause stands alone on its line, by the machine's own word, with the text where the machine
    shows it. A text that the display would cut is refused. At tool changes it waits at each one;
    a job without tool changes gets no such pause.

        G1 Z-3 F200   ->        (EXTRACTION ON)
                                M0
                                G1 Z-3 F200
    """
    machine, marks = job.machine, job.landmarks
    shown = operator_text(text)
    if at == "start":
        yield from pausing(machine, marks.start, shown)
    elif at == "first-cut":
        if marks.first_cut is None:
            raise refusal("no-cut", f"the pause {shown!r} is for the first cut; the job never cuts")
        yield from pausing(machine, marks.first_cut, shown)
    elif at == "end":
        yield from _at_end(job, shown)
    else:
        for index in marks.tool_changes:
            line = job.program[index]
            if at == "tool-change-before":
                yield from pausing(machine, index, shown)
                continue
            if any(line.has(axis) for axis in "XYZABC"):
                raise refusal(
                    "pause-behind-move",
                    "a tool change and a move on one line: the pause would come behind the move",
                    place=place_of(job.program, line),
                )
            yield from pausing(machine, index, shown, insert=after)


def _at_end(job: Job, shown: str) -> Iterator[Edit]:
    """Before the end word, but behind the move that may stand on its line."""
    ending = ending_of(job)
    if ending.word is None or not ending.rest_acts:
        yield from pausing(job.machine, job.landmarks.end, shown)
        return
    yield ending.without_word()
    yield from pausing(job.machine, ending.line, shown, insert=after)
    yield after(ending.line, ending.word.code)
