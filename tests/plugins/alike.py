"""Generated programs of the standard as jobs, and what the reference interpreter makes of them
before and behind a step."""

from __future__ import annotations

import math

from pipeline.language.comparing import state_of
from plugins.shop import machine, setup
from reference import Options, Run, Start, run

from headrace import Job, JobRefused, Program
from headrace.findings import Severity
from headrace.language import Dialect
from headrace.plugins import Contract
from headrace.plugins.contract import Facet
from headrace.proof import prove_run
from headrace.proof.second.follower import Dialect as SecondDialect

NUMBERS_REFUSED = ("value-unknown", "word-unknown-here", "switch-decides")
"""What `plain-numbers` may refuse a sound program for."""
WRITING = Contract(frozenset((Facet.SPELLING, Facet.COMMENTS, Facet.LINE_NUMBERS)))


def standard_job(lines: list[str], **fields: object) -> Job:
    """A job in the language of the standard, from a known start; `fields` change the machine."""
    described = machine("speed", {"spindle/reverse": True, **fields})
    program = Program.read("".join(line + "\n" for line in lines).encode(), "job.nc")
    return Job(program, described, setup("speed"), Dialect(), state_of(Start()))


def unframed(lines: list[str]) -> list[str]:
    """A generated program up to its end, without the % lines around it."""
    marks = [at for at, line in enumerate(lines) if line.strip() == "%"]
    return [line for line in lines[: marks[-1] if marks else None] if line.strip() != "%"]


def sound(job: Job) -> bool:
    """Whether nothing of the job is refused before any step."""
    return not any(finding.severity is Severity.REFUSE for finding in job.trace.findings)


def require_known(error: JobRefused, *names: str) -> None:
    """A step has refused for one of the reasons that it may have."""
    assert {finding.name for finding in error.findings} <= set(names)


def run_of(job: Job) -> Run:
    """The reference interpreter's run."""
    return run([line.text for line in job.program], start=Start(), options=Options())


def require_alike(before: Job, after: Job, *, followed: bool = True) -> None:
    """The same moves and events by the reference interpreter, whose lines may be others; and by
    the second reading of the whole, where that can follow."""
    was, now = run_of(before), run_of(after)
    assert was.error is None
    assert now.error is None
    old, new = _moves(was), _moves(now)
    assert len(old) == len(new)
    for first, second in zip(old, new, strict=True):
        assert first[:-1] == second[:-1]
        for a, b in zip(first[-1], second[-1], strict=True):
            assert math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-6), (first, second)
    assert _events(was) == _events(now)
    if not followed:
        return
    proof = prove_run(before.program, [after.program], WRITING, False, SecondDialect({}))
    assert proof.breach is None, proof.breach


def _moves(run: Run) -> list[tuple[object, ...]]:
    """Moves but for their lines, numbers last; rapids that go nowhere are no moves."""
    return [
        (m.kind, m.plane, m.spindle, m.speed, m.tool, m.mist, m.flood, m.feed_unit,
         (*m.machine_end, *m.end, m.feed or 0.0, m.turn, *(m.centre or ())))
        for m in run.moves
        if m.kind != "rapid" or not all(map(_near, m.machine_start, m.machine_end))
    ]  # fmt: skip


def _near(a: float, b: float) -> bool:
    return math.isclose(a, b, abs_tol=1e-6)


def _events(run: Run) -> list[tuple[str, object]]:
    """Events but for the modes that cycles keep to themselves (path control, spindle synch)."""
    return [
        (e.kind, round(e.data, 6) if isinstance(e.data, float) else e.data)
        for e in run.events
        if e.kind not in ("path", "synch", "orient")
    ]
