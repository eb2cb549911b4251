"""Beginning and end of a file as the machine has them: % lines, and the word of the end."""

from __future__ import annotations

from collections.abc import Iterator

from headrace.findings import Finding, Severity
from headrace.job import Job


def ending_findings(job: Job) -> Iterator[Finding]:
    """What differs, the gravest first: a % that the machine does not read, another end word than
    its own, a frame that it wants and does not get."""
    program, machine = job.program, job.machine
    if not len(program):
        return
    first = next((line for line in program if line.is_code or line.scan.percent), program[0])
    framed = first.scan.percent
    ended = job.trace.ended_at
    end = program[len(program) - 1 if ended is None else ended]
    words = [word for word in end.words if word.code in ("M2", "M30")]
    if framed and not machine.percent:
        what = "a % line, and this machine's files have none"
        yield Finding.of("frame-differs", what, program.place(first.index))
    elif words and words[0].code != machine.end:
        what = f"the program ends by {words[0].code}, and this machine by {machine.end}"
        place = program.place(end.index)
        yield Finding.of("frame-differs", what, place, severity=Severity.NOTE)
    elif machine.percent and not framed:
        what = "this machine's files stand between two % lines, and this one does not"
        place = program.place(first.index)
        yield Finding.of("frame-differs", what, place, severity=Severity.NOTE)
