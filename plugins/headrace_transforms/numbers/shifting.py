"""Selections of work offset systems as G92: the numbers in force are shifted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import isnan

import numpy as np

from headrace import Edit, EventKind, Job, before, delete, number_text, replace
from headrace_transforms.lines.respelling import Span, respelt
from headrace_transforms.numbers.style import MM_IN_INCH
from headrace_transforms.numbers.systems import Selected, way_between
from headrace_transforms.paths.arcs import AXES
from headrace_transforms.telling.refusing import refusal

_PLACES = {"mm": 6, "inch": 8}


def shifted(
    job: Job, selected: Selected, target: int, spelling: Mapping[str, str]
) -> Iterator[Edit]:
    """The edits that make each selection a G92, where the job moves in that system; words become
    what `spelling` says.

    Raises JobRefused where the head stands nobody knows where.
    """
    shift = _Shift(job, selected, target)
    for line, system in zip(selected.lines.tolist(), selected.numbers[1:].tolist(), strict=True):
        shift.look(line)
        word = shift.to(line, system) if shift.moves_behind(line) else None
        yield from _written(job, line, word, spelling)
    if shift.system != target and job.dialect.end_keeps_shift:
        end = job.landmarks.end
        if end < len(job.program) and any(w.letter in AXES for w in job.program[end].words):
            what = "the job moves where it ends, and the numbers of the first system come back here"
            raise refusal(
                "numbers-unknown",
                what,
                place=job.program.place(end),
                remedy="write the end of the program on a line of its own",
            )
        shift.look(end)
        word = shift.to(end, target)
        if word is not None:
            yield before(end, word)


class _Shift:
    """Goes from selection to selection: the `system` whose numbers are in force now, and where the
    head stood (X Y Z, mm, from the zero of the target) before the `line` looked at last."""

    def __init__(self, job: Job, selected: Selected, target: int) -> None:
        self.job = job
        self.selected = selected
        self.target = target
        self.used = {block.setting.system for block in job.trace.blocks if len(block)}
        self.system = target
        self.line = -1
        self.inch = False
        self.stood = [float("nan")] * 3

    def moves_behind(self, line: int) -> bool:
        """Whether the job moves between a selection and the next one."""
        lines = self.job.trace.line
        at = int(np.searchsorted(self.selected.lines, line, "right"))
        until = self.selected.lines[at] if at < len(self.selected.lines) else len(self.job.program)
        first = int(np.searchsorted(lines, line))
        return first < len(lines) and int(lines[first]) < int(until)

    def to(self, line: int, system: int) -> str | None:
        """The G92 that brings about the numbers of a system before the line looked at; None where
        they are in force."""
        job = self.job
        was, now = (way_between(job, each, self.target) for each in (self.system, system))
        words = []
        for axis, name in enumerate(AXES):
            if was[axis] == now[axis]:
                continue
            if isnan(self.stood[axis]):
                raise refusal(
                    "numbers-unknown",
                    f"where the head stands in {name} is not known here",
                    place=job.program.place(min(line, len(job.program) - 1)),
                    remedy=f"state {name} in the job before this line",
                )
            words.append(f"{name}{self._text(self.stood[axis] - float(now[axis]))}")
        self.system = system
        return f"G92 {' '.join(words)}" if words else None

    def look(self, line: int) -> None:
        """Where the head stands before a line: as the job says, or where it stood at the selection
        before and has not been sent away from since."""
        state = self.job.state_at(line)
        self.inch = state.units == "inch"
        if state.system not in self.used:
            return  # it was only selected: the head stands where it stood
        way = way_between(self.job, state.system, self.target)
        for axis, name in enumerate(AXES):
            number = state.position[axis]
            if not isnan(number):
                self.stood[axis] = number + float(way[axis])
            elif self._sent(name, line):
                self.stood[axis] = float("nan")
        self.line = line

    def _sent(self, name: str, line: int) -> bool:
        """Whether an axis may have gone elsewhere since the line looked at last."""
        job = self.job
        naming = job.program.lines_with(name)
        freely = job.program.lines_with("G", 28, 30)
        events = (EventKind.HOME, EventKind.PROBE, EventKind.CYCLE, EventKind.ZERO)
        others = [
            event.line
            for event in job.trace.events_of(*events)
            if not (isinstance(event.value, tuple) and event.value[0] == "system")
        ]
        return any(
            ((lines >= self.line) & (lines < line)).any()
            for lines in (naming, freely, np.array(others, np.int64))
        )

    def _text(self, place: float) -> str:
        """A place (mm) as it is said here."""
        if self.inch:
            return number_text(place / MM_IN_INCH, _PLACES["inch"])
        return number_text(place, _PLACES["mm"])


def _written(job: Job, index: int, word: str | None, spelling: Mapping[str, str]) -> Iterator[Edit]:
    """A line that selects a system: the G92 first, then the rest of it."""
    line = job.program[index]
    spans: dict[Span, str] = {
        (each.start, each.end): spelling[each.code]
        for each in line.words
        if each.letter == "G" and each.code in spelling
    }
    number = line.scan.number_span
    slash = "/" if line.scan.block_delete else ""
    if word is not None and number is not None:
        word = f"N{line.scan.number} {word}"
        spans[number] = ""
    if word is None and not spans:
        return
    rest = respelt(line, spans)
    texts = [] if word is None else [slash + word]
    if rest.strip():
        texts.append(rest)
    yield replace(index, *texts) if texts else delete(index)
