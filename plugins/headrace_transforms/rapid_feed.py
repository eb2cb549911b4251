"""Rapids that the machine takes as it is meant: by the corner, and at their own speed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from headrace import Edit, Facet, Job, Line, Program, number_text, transform
from headrace_transforms.lines.appending import gap, with_feed
from headrace_transforms.lines.line_blocks import Blocks, edits
from headrace_transforms.numbers.modal_feed import ModalFeed
from headrace_transforms.numbers.modes import require_codes
from headrace_transforms.numbers.style import MM_IN_INCH, inch_mode
from headrace_transforms.paths.arc_text import single_texts
from headrace_transforms.paths.rapids import RAPID, Rapids
from headrace_transforms.telling.refusing import refusal

_DEPTH, _ACROSS, _ALL = (2,), (0, 1), (0, 1, 2)
_IN_STEPS = 1.0, 100 / MM_IN_INCH
"""Steps that a rapid's F is rounded down to, in 1 mm/min: whole millimetres, hundredths of an
inch."""
_NOISE = 1e-6


@transform(
    "rapid-feed",
    changes=[Facet.SPELLING],
    detours=True,
    options={
        "feed": {
            "type": "number",
            "description": "How fast rapids go at the most; mm/min. Left out: as fast as the axes"
            " can.",
            "exclusiveMinimum": 0,
            "examples": [3000],
        },
        "diagonals": {
            "description": "Whether a rapid along Z and sideways at once becomes two, by the"
            " corner, or stays.",
            "enum": ["split", "keep"],
            "default": "split",
        },
        "words": {
            "type": "boolean",
            "description": "Whether every rapid says its own F; true or false. Left out: where the"
            " machine is described with `rapid-feed: word`.",
            "examples": [True],
        },
    },
    idempotent=True,
)
def rapid_feed(
    job: Job, *, feed: float | None, diagonals: str, words: bool | None
) -> Iterator[Edit]:
    """Take rapids by the corner, and give them their own F where G0 goes at F.

    Coming out of the work Z goes first, going in it goes last. The F of a rapid drives no axis
    faster than it can go; the next cut says its own feed again (RS274/NGC 2.1.2.5). Put it last of
    the steps that move the machine.

        G0 X10 Y20 Z1      ->        G0 X10 Y20 F6708
        G1 Z-2 F300                  G0 Z1 F1000
                                     G1 Z-2 F300
    """
    stated = job.machine.rapid_feed == "word" if words is None else words
    rapids = Rapids.of(job)
    split = rapids.slantwise & (diagonals == "split")
    _require_once(job, stated, diagonals)
    if not stated:
        rapids, split = rapids.where(split), split[split]
    if not len(rapids):
        return
    texts = _Texts(job, rapids)
    if stated:
        _require_minutes(job, rapids)
        texts.feeds[_ALL] = _feeds(job, rapids, _ALL, feed)
    if stated and split.any():
        texts.feeds.update({axes: _feeds(job, rapids, axes, feed) for axes in (_DEPTH, _ACROSS)})
    found: dict[int, Sequence[str]] = {
        line: texts.both(at, job.program[line]) if corner else texts.one(at, job.program[line])
        for at, (line, corner) in enumerate(zip(rapids.line.tolist(), split.tolist(), strict=True))
    }
    if stated:
        for line, number in ModalFeed.of(job).lost(rapids.row, rapids.line):
            found[line] = [with_feed(job.program[line], f"F{number}")]
    new = {at: said for at, said in found.items() if [job.program[at].text] != [*said]}
    if new:
        yield from edits(job.program, Blocks.of_texts(job.program, new))


def needs_rapids_fed(job: Job) -> dict[str, Any] | None:
    """The options of the step where the rapids of a job go at F; else None."""
    return {} if job.machine.rapid_feed == "word" and len(Rapids.of(job)) else None


@dataclass(frozen=True, slots=True, eq=False)
class _Texts:
    """What becomes of rapids, each by its number among all; `feeds` are their F words by the axes
    along which they go, none where they say no F."""

    job: Job
    rapids: Rapids
    feeds: dict[tuple[int, ...], list[str]] = field(default_factory=dict)

    def one(self, at: int, line: Line) -> list[str]:
        """A rapid that stays one."""
        return [with_feed(line, self.feeds[_ALL][at])]

    def both(self, at: int, line: Line) -> list[str]:
        """The two rapids of one that goes along Z and sideways: it rises first, and sinks last."""
        code = [line.text[word.start : word.end] for word in line.words if word.code == "G0"]
        own = [word for word in line.words if word.letter in "XYZABC"]
        parts: list[list[str]] = []
        for axes in (_DEPTH, _ACROSS) if self.rapids.ways[at, 2] > 0 else (_ACROSS, _DEPTH):
            words = [word for word in own if (word.letter == "Z") == (axes == _DEPTH)]
            parts.append(code if parts else [])
            parts[-1] = [*parts[-1], *(line.text[word.start : word.end] for word in words)]
            parts[-1] += [self.feeds[axes][at]] if self.feeds else []
        stated = [word for word in line.words if word.letter == "F"]
        if self.feeds and stated:
            line = Program.read(line.without(*stated).encode())[0]
        return single_texts(self.job, line, [gap(line.text).join(part) for part in parts])


def _feeds(job: Job, rapids: Rapids, axes: tuple[int, ...], most: float | None) -> list[str]:
    """The F words of rapids along some axes, in the units of their lines, rounded down."""
    feeds = rapids.fastest(job, axes)
    if most is not None:
        feeds = np.minimum(feeds, most)
    inch = inch_mode(job, len(job.program)).at(rapids.line)
    steps = np.floor(feeds * np.where(inch, _IN_STEPS[1], _IN_STEPS[0]) + _NOISE)
    each, which = np.unique(np.where(inch, steps / 100, steps), return_inverse=True)
    words = [f"F{number_text(number, 2)}" for number in each.tolist()]
    return [words[at] for at in which.tolist()]


def _require_once(job: Job, stated: bool, diagonals: str) -> None:
    """No rapids on lines that are called: each call may come from elsewhere."""
    trace = job.trace
    if trace.calls.calls and (stated or diagonals == "split"):
        called = trace.line[trace.kind == RAPID]
        called = called[np.isin(called, list(trace.calls.calls))]
        if len(called):
            raise refusal(
                "numbers-not-plain",
                "a subprogram with rapids is called here",
                place=job.program.place(int(called[0])),
                remedy="put the step `expand-calls` before it",
            )


def _require_minutes(job: Job, rapids: Rapids) -> None:
    """No F that would count moves a minute, nor units that are not known."""
    require_codes(job, len(job.program))
    first = 0
    for block in job.trace.blocks:
        at = np.searchsorted(rapids.row, (first, first + len(block)))
        first += len(block)
        if block.setting.inverse_time and at[1] > at[0]:
            place = job.program.place(int(rapids.line[at[0]]))
            raise refusal("rapid-timed", "this rapid would need an F under G93", place=place)
    if job.start.units is None and job.dialect.units is None:
        inch = inch_mode(job, len(job.program))
        if not len(inch.lines) or inch.lines[0] > rapids.line[0]:
            place = job.program.place(int(rapids.line[0]))
            raise refusal("units-unknown", "no line before this one states units", place=place)
