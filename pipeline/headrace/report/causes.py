"""Which step is behind a line of a result, and behind a line that is not there any more."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from headrace.plugins import hookimpl
from headrace.program import Cause, Program
from headrace.report.alignment import Change
from headrace.report.ranges import Ranges


@dataclass(slots=True)
class Takers:
    """Watches the steps of one job at work, and keeps which of them took out which line.

    `step_of` maps a line of the job (from 0) to which step it was, counted from 1 as they ran;
    `ender` is the step that gave a last line without a line end one, as it put another behind it.
    """

    step_of: dict[int, int] = field(default_factory=dict)
    steps: int = 0
    ender: int | None = None

    @hookimpl
    def headrace_step_done(self, before: Program, after: Program) -> None:
        """One step more has run."""
        self.steps += 1
        if before is after:
            return
        gone = np.flatnonzero(_own(before) & ~_own(after))
        self.step_of.update(dict.fromkeys(gone.tolist(), self.steps))
        if self.ender is None and _is_ended(before, after):
            self.ender = self.steps


@dataclass(frozen=True, slots=True)
class Row:
    """A line taken out (`-`) or put in (`+`): its number in the source or the result, from 1."""

    sign: str
    line: int
    text: str
    cause: Cause | None


def rows(
    source: Ranges, result: Ranges, change: Change, takers: Takers, steps: tuple[Cause, ...]
) -> Iterator[Row]:
    """The lines of a change with their causes. `steps` are the causes of all steps, in order."""
    # a line without a cause that is not as it was is the last one, which was given a line end
    ender = steps[takers.ender - 1] if takers.ender else None
    rewritten: dict[int, Cause | None] = {}
    put_in: list[Row] = []
    for piece, low, high in result.parts(change.new_start, change.new_stop):
        ids = piece.lineage.ids_of(low, high).tolist()
        for at, known in zip(range(low, high), ids, strict=True):
            cause = piece.lineage.cause(at) or ender
            rewritten[known] = cause
            number = change.new_start + len(put_in) + 1
            put_in.append(Row("+", number, piece.text.line_text(at), cause))
    line = change.old_start
    for piece, low, high in source.parts(change.old_start, change.old_stop):
        for at in range(low, high):
            taker = takers.step_of.get(line)
            cause = steps[taker - 1] if taker else rewritten.get(line)
            line += 1
            yield Row("-", line, piece.text.line_text(at), cause)
    yield from put_in


def step_names(result: Ranges, changes: list[Change]) -> list[str]:
    """The steps that wrote the lines of some changes, in the order of the recipe."""
    found: dict[tuple[int, str], None] = {}
    for change in changes:
        for piece, low, high in result.parts(change.new_start, change.new_stop):
            if piece.lineage.which is None:
                continue
            for index in np.unique(piece.lineage.which[low:high]).tolist():
                cause = piece.lineage.causes[index]
                if cause is not None:
                    found[cause.number, cause.step] = None
    return [step for _, step in sorted(found, key=lambda each: each[0])]


def _is_ended(before: Program, after: Program) -> bool:
    """Whether the last line of `before` had no line end and has one in `after`."""
    last = before[len(before) - 1] if len(before) else None
    if last is None or last.raw.endswith((b"\n", b"\r")):
        return False
    for index in range(len(after) - 1, -1, -1):
        if after[index].id == last.id:
            return after[index].raw.endswith((b"\n", b"\r"))
    return False


def _own(program: Program) -> npt.NDArray[np.bool_]:
    """For each line of the job (n) whether the program still holds it."""
    here = np.zeros(program.job_lines, bool)
    ids = program.ids(np.arange(len(program)))
    here[ids[ids < program.job_lines]] = True
    return here
