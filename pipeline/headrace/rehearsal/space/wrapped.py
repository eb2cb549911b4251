"""A wrap that a step declares, against the rotary axis and the blank that are described."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isclose

from headrace.findings import Finding, Severity
from headrace.job import Job
from headrace.plugins import Wrap
from headrace.rehearsal.space.rolled import turns

_NEAR = 1e-6
"""The share by which numbers may be rounded."""


def wrap_findings(job: Job, wraps: Sequence[Wrap]) -> Iterator[Finding]:
    """The proof of a step takes a wrap for true; it is mirrored where the axis turns the other way,
    too fast or too slow where F counts otherwise, stretched where the blank is another one."""
    blank = job.setup.blank
    for wrap in wraps if blank is not None else ():
        assert blank is not None
        letter = blank.axis
        axis = job.machine.rotary[letter]
        if wrap.onto != letter.upper() or wrap.axis != ("Y" if axis.along == "x" else "X"):
            continue
        meant, counts = axis.sense * 360 / blank.around, axis.counts
        if wrap.degrees * meant < 0:
            what = f"{wrap}: so {wrap.onto} would turn the other way than `top-goes` tells"
            yield Finding.of("wrap-unsuited", what, remedy="turn it by the machine's own sense")
        elif not isclose(wrap.degrees, meant, rel_tol=_NEAR):
            what = f"{wrap}, and round the blank it is {meant:.6g}: what is cut comes out stretched"
            remedy = f"wrap it for a diameter of {blank.diameter:g}, if that is not meant so"
            yield Finding.of("wrap-unsuited", what, remedy=remedy, severity=Severity.WARN)
        if counts not in (None, wrap.counts) and _by_feed(job, letter):
            what = (
                f"{wrap}: F is taken to count `{wrap.counts}`, and the machine's counts `{counts}`"
            )
            remedy = f"declare the wrap with counts `{counts}`, and work feeds out by that"
            yield Finding.of("wrap-unsuited", what, remedy=remedy)


def _by_feed(job: Job, letter: str) -> bool:
    """Whether some cut turns an axis at a feed, not in a time."""
    return any(
        not block.setting.inverse_time and block.cuts.any() and turns(block, letter)
        for block in job.trace.blocks
    )
