"""Forms of words and numbers that the described machine does not read."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Block
from headrace.language.arcs import TAU
from headrace.language.modal import PLANES
from headrace.program import Numerals
from headrace.rehearsal.words.dialects import adaptable, rises
from headrace.rehearsal.words.lines import slashed
from headrace.rehearsal.words.modes import end_of

Bools = npt.NDArray[np.bool_]
Longs = npt.NDArray[np.int64]

_ROUND = TAU - 1e-9
_POINTED = np.zeros(256, np.bool_)
_POINTED[list(b"XYZABCIJKRQ")] = True


def form_findings(job: Job) -> Iterator[Finding]:
    """The first line for each form that the machine does not read."""
    yield from _arcs(job)
    yield from _modes(job)
    yield from _places(job)
    yield from _points(job)
    if job.machine.optional_lines == "refused":
        for line in slashed(job.program, end_of(job)):
            what = "the machine stops at lines that begin with a slash"
            yield _unknown(job, line, what, "optional-lines")
            return


def _arcs(job: Job) -> Iterator[Finding]:
    """Arcs at all, their forms and planes, helices and full circles."""
    has = job.machine.arcs
    lacking = {
        "any arc": not has.centre and not has.radius,
        "a centre": has.radius and not has.centre,
        "a radius": has.centre and not has.radius,
        "a plane": len(has.planes) < len(PLANES),
        "a helix": not has.helix,
        "a full circle": not has.full_circles,
    }
    if lacking["any arc"]:
        lacking = {"any arc": True}
    open_ = [name for name, lacks in lacking.items() if lacks]
    by_radius = job.program.lines_with("R") if open_ else np.zeros(0, np.int64)
    for block in job.trace.blocks if open_ else ():
        if block.arcs is None:
            continue
        lines = block.line[block.arcs.rows]
        for name in list(open_):
            found = np.flatnonzero(_of_kind(job, name, block, lines, by_radius))
            if len(found):
                open_.remove(name)
                what = f"the machine reads no arcs {_told(name, block.setting.plane)}"
                yield _unknown(job, int(lines[found[0]]), what, "arcs-to-lines")


def _of_kind(
    job: Job, name: str, block: Block, lines: npt.NDArray[np.int32], by_radius: Longs
) -> Bools:
    """Which arcs of a block (k) are of some kind."""
    assert block.arcs is not None
    rows, every = block.arcs.rows, np.ones(len(lines), np.bool_)
    if name == "a plane":
        return every & (f"G{block.setting.plane}" not in job.machine.arcs.planes)
    if name == "a helix":
        across = PLANES[block.setting.plane][2]
        return rises(block.starts(across)[rows], block.ends[across][rows])
    if name == "a full circle":
        return every & (block.arcs.turn >= _ROUND)
    radius = np.isin(lines, by_radius)
    return every if name == "any arc" else radius if name == "a radius" else ~radius


def _told(name: str, plane: int) -> str:
    """A kind of arcs, in a sentence that begins "the machine reads no arcs"."""
    return {
        "any arc": "at all",
        "a centre": "by their centre (I J K)",
        "a radius": "by their radius (R)",
        "a plane": f"in the plane G{plane}",
        "a helix": "that leave their plane",
        "a full circle": "that end where they begin",
    }[name]


def _modes(job: Job) -> Iterator[Finding]:
    """Units and distances that the machine cannot be set to."""
    machine = job.machine
    lines, codes = job.program.codes()
    within = lines <= end_of(job)
    for number, name, has, step in (
        (20, "lengths in inch", "inch" in machine.units, "units"),
        (21, "lengths in mm", "mm" in machine.units, "units"),
        (91, "increments", "increments" in machine.distances, "absolute"),
        (90, "places as such", "absolute" in machine.distances, "absolute"),
    ):
        here = within & (codes == number)
        if not has and here.any():
            what = f"the machine reads no {name} (G{number})"
            yield _unknown(job, int(lines[np.argmax(here)]), what, step)


def _places(job: Job) -> Iterator[Finding]:
    """The first number with more places behind the point than the machine reads."""
    most = job.machine.decimals
    if most is None:
        return
    lines = job.program.lines_finer(most)
    if len(lines) and (line := int(lines[0])) <= end_of(job):
        what = f"a number with more than {most} places behind its point, which is all that is read"
        yield _unknown(job, line, what, "decimals")


def _points(job: Job) -> Iterator[Finding]:
    """The first number of an axis without its point, where the machine wants one."""
    if job.machine.decimal_point != "required":
        return
    program = job.program
    for numerals in Numerals.of(program, 0, min(end_of(job) + 1, len(program))):
        lacking = _POINTED[numerals.letter] & ~numerals.pointed
        if lacking.any():
            line = int(numerals.line[np.argmax(lacking)])
            what = "a number of an axis without a point, and the machine wants one in each"
            yield _unknown(job, line, what, "decimals")
            return


def _unknown(job: Job, line: int, what: str, step: str) -> Finding:
    return adaptable(job, "word-unknown-here", line, what, step)
