"""New texts for many lines: edits line by line, or whole stretches at once where they lie close."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from headrace import Edit, Program, before, delete, replace, rewrite
from headrace_transforms.lines.text_lines import encoded, lines_of, stretch

_MANY = 32
"""From this many changes on a stretch is rewritten as a whole."""
_NEAR = 8
"""Changes that lie no more lines apart than this are of one stretch."""


@dataclass(frozen=True, slots=True)
class Change:
    """A line (`raw` are its bytes now), its new text, and lines to be put before it."""

    index: int
    raw: bytes
    new: str
    before: list[str] = field(default_factory=list)

    @property
    def is_plain(self) -> bool:
        """Whether a line comes in the place of a line and nothing else happens."""
        return not self.before and self.index > 0 and self.new.strip() != ""


def edits(program: Program, changes: Iterable[Change]) -> Iterator[Edit]:
    """The edits that carry out the changes, which come by ascending lines."""
    run: list[Change] = []
    for change in changes:
        if run and not (change.is_plain and change.index - run[-1].index <= _NEAR):
            yield from _together(program, run)
            run = []
        if change.is_plain:
            run.append(change)
        else:
            yield from _alone(change)
    yield from _together(program, run)


def _alone(change: Change) -> Iterator[Edit]:
    if change.before:
        yield before(change.index, *change.before)
    yield replace(change.index, change.new) if change.new.strip() else delete(change.index)


def _together(program: Program, run: list[Change]) -> Iterator[Edit]:
    if len(run) < _MANY:
        for change in run:
            yield from _alone(change)
        return
    start, stop = run[0].index, run[-1].index + 1
    lines = lines_of(stretch(program, start, stop))
    for change in run:
        end = change.raw[len(change.raw.rstrip(b"\r\n")) :] or program.line_end.encode()
        lines[change.index - start] = encoded(change.new, change.raw) + end
    yield rewrite(start, stop, b"".join(lines))
