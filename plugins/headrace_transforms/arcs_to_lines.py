"""Arcs as the machine can go them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from headrace import Edit, Facet, Job, transform
from headrace_transforms.lines.line_blocks import Blocks, edits
from headrace_transforms.lines.plain_lines import PlainLines
from headrace_transforms.paths.arc_parts import CHORD, Parts, parts_of
from headrace_transforms.paths.arc_plan import Plan, lacks_arcs, plan_of
from headrace_transforms.paths.arc_text import plain_texts, single_texts, with_code, word_texts
from headrace_transforms.paths.arcs import Longs

_AT_ONCE = 1 << 15
"""So many parts of arcs are written at once."""


@transform(
    "arcs-to-lines",
    changes=[Facet.SPELLING],
    options={
        "tolerance": {
            "type": "number",
            "description": "How far the path may come to lie from where it was; mm.",
            "exclusiveMinimum": 0,
            "maximum": 1,
            "default": 0.01,
        },
        "which": {
            "description": "lacking: only arcs that the machine does not read as they are said;"
            " all: every arc becomes lines.",
            "enum": ["lacking", "all"],
            "default": "lacking",
        },
    },
    within=lambda _, *, tolerance, **__: tolerance,
    idempotent=True,
)
def arcs_to_lines(job: Job, *, tolerance: float, which: str) -> Iterator[Edit]:
    """Cut arcs into chords, or say them in the form that the machine reads.

    An arc in a plane that the machine does not know, or a helix that it does not follow, becomes
    the fewest lines that stay within the tolerance; with as many places as the machine reads they
    end on the arc, and the last one where the arc ends. Where only the form is lacking an arc stays
    one: the centre for the radius (RS274/NGC 3.5.3), or the other way round, and a full circle as
    two halves. Lines behind them get back the motion word that they relied on.

        N7 G2 X10 Y0 R5 F900    ->    N7 G1 X0.0394 Y0.6267 F900
                                      X0.1571 Y1.2434
                                      (and so on, to X10 Y0)
    """
    plan = plan_of(job, tolerance, which)
    if not len(plan.arcs):
        return
    texts = _modal_again(job, plan)
    with ThreadPoolExecutor(2) as pool:  # array calls let another thread run
        written = list(pool.map(lambda some: _written(job, plan, some), _windows(plan)))
    for _, others in written:
        texts.update(others)
    blocks = [each for each, _ in written if each is not None]
    yield from edits(job.program, *blocks, Blocks.of_texts(job.program, texts))


def _written(job: Job, plan: Plan, some: Longs) -> tuple[Blocks | None, dict[int, Sequence[str]]]:
    """What some arcs become: on plain lines in bulk, on others one by one."""
    lines = PlainLines.of(job.program, plan.arcs.line[some])
    plain, rest = some[lines.plain], some[~lines.plain]
    blocks = None
    if len(plain):
        parts = _parts(plan, plain)
        told = lines.where(np.flatnonzero(lines.plain))
        data, lengths = plain_texts(parts, told, job.program.line_end.encode())
        counts = np.bincount(parts.owner)
        blocks = Blocks(plan.arcs.line[plain], data, np.cumsum(lengths), counts)
    texts: dict[int, Sequence[str]] = {}
    if len(rest):
        for at, words in zip(rest.tolist(), word_texts(_parts(plan, rest)), strict=True):
            line = job.program[int(plan.arcs.line[at])]
            texts[line.index] = single_texts(job, line, words)
    return blocks, texts


def _windows(plan: Plan) -> Iterator[Longs]:
    """The arcs in runs of about so many parts as are written at once."""
    total = np.cumsum(plan.count)
    bounds = np.searchsorted(total, np.arange(_AT_ONCE, int(total[-1]), _AT_ONCE))
    yield from (some for some in np.split(np.arange(len(total)), np.unique(bounds)) if len(some))


def _parts(plan: Plan, chosen: Longs) -> Parts:
    return parts_of(plan.arcs.where(chosen), plan.count[chosen], plan.form[chosen], plan.places)


def _modal_again(job: Job, plan: Plan) -> dict[int, Sequence[str]]:
    """Arcs that stay as they are and relied on the motion word of one that is in chords now."""
    every = plan.every
    chords = np.isin(every.line, plan.arcs.line[plan.form == CHORD])
    behind = np.concatenate([[False], chords[:-1]])
    if chords.any() and len(job.program.lines_optional()):
        behind[:] = True  # a switch may leave out the arcs between
    stays = np.flatnonzero(behind & ~np.isin(every.line, plan.arcs.line))
    texts: dict[int, Sequence[str]] = {}
    if not len(stays):
        return texts
    stated = PlainLines.of(job.program, every.line[stays])
    for at in stays[(stated.code < 0) | ~stated.plain].tolist():
        line = job.program[int(every.line[at])]
        if not line.has("G", 2, 3):
            texts[line.index] = [with_code(job, line, f"G{every.kind[at]}")]
    return texts


def needs_arcs_written(job: Job) -> dict[str, Any] | None:
    """The options with which a job needs `arcs-to-lines` on its machine; None where it does not."""
    return {"which": "lacking"} if lacks_arcs(job) else None
