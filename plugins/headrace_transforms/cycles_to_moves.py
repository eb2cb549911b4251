"""Drilling cycles as the moves that they stand for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from headrace import Edit, EventKind, Facet, Job, Word, delete, replace, transform
from headrace_transforms.framing.ending import stop_codes
from headrace_transforms.lines.respelling import Span, respelt
from headrace_transforms.paths.holes import CYCLES, Hole, holes, lacking
from headrace_transforms.telling.refusing import place_of, refusal

_LETTERS = "XYZRPQLIJK"
_RETURNS = ("G80", "G98", "G99")


@transform(
    "cycles-to-moves",
    changes=[Facet.SPELLING],
    options={
        "which": {
            "description": "lacking: the cycles that the machine does not read; all: every one.",
            "enum": ["lacking", "all"],
            "default": "lacking",
        }
    },
    idempotent=True,
)
def cycles_to_moves(job: Job, *, which: str) -> Iterator[Edit]:
    """Write drilling cycles as plain moves, dwells and spindle words (RS274/NGC 3.5.16).

    Each line under a cycle becomes the moves that it makes, in their order: in absolute numbers or
    in increments, as the line counts. Where the machine has no cycle at all, G80, G98 and G99 go
    too, but for those that it describes under `modes`.

        G98 G81 X4 Y5 Z1.5 R2.8 F200      ->        G98 G0 X4 Y5 F200
                                                    G0 Z2.8
                                                    G1 Z1.5
                                                    G0 Z3
    """
    cycles = CYCLES if which == "all" else lacking(job)
    unread = _unread(job)
    drilled = set()
    for hole in holes(job, cycles):
        drilled.add(hole.line)
        yield replace(hole.line, *_texts(job, hole, unread))
    for index in _lines_with(job, unread):
        if index not in drilled:
            line = job.program[index]
            gone = [word for word in line.words if word.code in unread]
            text = respelt(line, _spans(gone, ""))
            yield replace(index, text) if text.strip() else delete(index)


def needs_cycles_written(job: Job) -> dict[str, Any] | None:
    """The options of the step where a job has cycles that its machine lacks; else None."""
    cycles = lacking(job)
    used = any(event.value in cycles for event in job.trace.events_of(EventKind.CYCLE))
    return {} if used or _lines_with(job, _unread(job)) else None


def _unread(job: Job) -> frozenset[str]:
    """The words around cycles that a machine without any does not read."""
    cycles, modes = job.machine.cycles, job.machine.modes
    return frozenset() if cycles is None or cycles else frozenset(_RETURNS) - {*modes}


def _lines_with(job: Job, words: frozenset[str]) -> list[int]:
    """The lines up to the program's end with some G words, ascending."""
    if not words:
        return []
    lines = job.program.lines_with("G", *(float(word[1:]) for word in words))
    found: list[int] = lines[lines <= job.landmarks.end].tolist()
    return found


def _texts(job: Job, hole: Hole, unread: frozenset[str]) -> Iterator[str]:
    """The lines in the place of one; its comments and its other words stay."""
    line = job.program[hole.line]
    waits = line.has("G", 4)  # its P is that of the dwell, too
    gone = [w for w in line.words if w.letter in _LETTERS or w.code in (*CYCLES, *unread)]
    gone = [word for word in gone if not (waits and word.letter == "P")]
    stops = [word for word in line.words if word.code in _stops(job)]
    slash = "/" if line.scan.block_delete else ""
    if slash and any(word.letter not in "XYZL" for word in gone):
        what = "what this line says of the cycle holds for the lines behind it too"
        raise refusal("switch-decides", what, place=place_of(job.program, line))
    moves = [slash + text for text in hole.texts]
    first = hole.texts[0] if not waits else ""
    if stops:  # they come last, and what is shown at them is beside them
        kept = [line.text[w.start : w.end] for w in line.words if w not in gone + stops]
        number = [] if line.scan.number is None else [f"N{line.scan.number}"]
        yield slash + " ".join(filter(None, [*number, *kept, first]))
    else:
        yield respelt(line, _spans(gone, first))
    yield from moves if waits else moves[1:]
    if stops:
        rest = _spans([word for word in line.words if word not in stops], "")
        if line.scan.number_span is not None:
            rest[line.scan.number_span] = ""
        yield respelt(line, rest)


def _spans(words: Sequence[Word], first: str) -> dict[Span, str]:
    """Words taken out, and another text in the place of the first."""
    spans = {(word.start, word.end): "" for word in words}
    return spans | dict.fromkeys(list(spans)[:1], first)


def _stops(job: Job) -> frozenset[str]:
    return frozenset(f"M{code}" for code in stop_codes(job))
