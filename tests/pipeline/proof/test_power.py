"""A small part of `power.py`, which tries the proof's strength by the ten thousand; and transforms
that reach for what they share with the core."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
import pytest

from headrace import replace
from headrace.language import interpret
from headrace.program import Cause, Program

from .faults import FAULTS, Fault
from .power import try_faults, try_rewrites
from .rewrites import REWRITES
from .trial import program, version

SOME = 16


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_undeclared_change_is_never_accepted(fault: Fault) -> None:
    tally = try_faults(fault, SOME, seed=7)

    assert tally.done == SOME
    assert (tally.by_steps, tally.by_run) == (0, 0), "\n".join(tally.shown)


@pytest.mark.parametrize("name", REWRITES)
def test_harmless_rewrite_is_never_refused(name: str) -> None:
    tally = try_rewrites(name, 60, seed=7)

    assert tally.done >= 60
    assert (tally.by_steps, tally.by_run) == (0, 0), "\n".join(tally.shown)


def test_there_are_faults_of_many_classes() -> None:
    assert len(FAULTS) >= 24
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)


LONG = ["G21 G90 G94 G17", "G0 Z5", "G0 X0 Y0", "G1 Z-1 F600"]
LONG += [f"X{at % 90}.5 Y{at // 90} F{600 + at % 7}" for at in range(500)]
LONG += ["G2 X50 Y60 I3 J4", "G1 X0", "M30"]


def _arrays(job: Program) -> Iterator[tuple[str, npt.NDArray[np.generic]]]:
    """All arrays that a transform can get at by the names of the interface."""
    trace = interpret(job)
    for number, block in enumerate(trace.blocks):
        for name in ("rel", "kind", "feed"):
            yield f"blocks[{number}].{name}", getattr(block, name)
        for axis in range(6):
            yield f"blocks[{number}].ends[{axis}]", block.ends[axis]
        if block.arcs is not None:
            for name in ("rows", "centre_u", "centre_v", "turn"):
                yield f"blocks[{number}].arcs.{name}", getattr(block.arcs, name)
    yield "trace.line", trace.line
    yield "trace.kind", trace.kind
    yield "trace.feed", trace.feed
    for piece in job.pieces:
        yield "text.starts", piece.text.starts
        if piece.lineage.ids is not None and piece.lineage.which is not None:
            yield "lineage.ids", piece.lineage.ids
            yield "lineage.which", piece.lineage.which
        for chunk in piece.text.chunks:
            for name in ("first_word", "flags", "letters", "letter", "mantissa", "scale"):
                yield f"chunk.{name}", getattr(chunk, name)


@pytest.mark.parametrize("edited", [False, True], ids=["as read", "edited"])
@pytest.mark.parametrize("lines", [LONG, LONG[:12]], ids=["long", "short"])
def test_shared_arrays_cannot_be_written_to(lines: list[str], edited: bool) -> None:
    """What a transform changed in place would be changed for the proof too: before and after."""
    job = program(lines)
    if edited:
        job = job.edited([replace(5, "G1 X1"), replace(8, "X3")], Cause("trial", 1))

    writable = [name for name, array in _arrays(job) if array.size and array.flags.writeable]

    assert writable == []


def test_answers_of_a_program_are_the_transforms_own() -> None:
    """What `lines_with` gives may be written to; the next answer is the same as the first."""
    job = program(LONG)
    for ask in (
        lambda: job.lines_with("X"),
        lambda: job.lines_with("F", 601),
        lambda: job.lines_with_comments(),
        lambda: job.codes()[0],
        lambda: job.ids(np.arange(20)),
    ):
        first = ask()
        kept = first.copy()
        if first.flags.writeable:
            first[:] = 0
        np.testing.assert_array_equal(ask(), kept)


def test_state_that_a_transform_spoils_is_not_the_next_one() -> None:
    """A state is asked for anew; what is done to it stays with who did it."""
    job = program(LONG)
    before = version(job)
    before.trace.end.position[0] = 999.0

    assert version(job).trace.end.position[0] == 0.0
