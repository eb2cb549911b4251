"""Lines that begin with a slash: settled once and for all."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace as changed
from typing import Any

from headrace import Dialect, Edit, Facet, Job, Line, delete, transform
from headrace_transforms.lines.line_changes import Change, edits
from headrace_transforms.paths.reach import runs
from headrace_transforms.telling.refusing import place_of, refusal

_BLANKS = r"(?:[ \t]++|\((?:[^()\r\n]++|\([^()\r\n]*+\))*+\))*+"
_LEAD = re.compile(rf"({_BLANKS})/")


def _dialect(job: Job) -> Dialect:
    machine = Dialect.of(job.machine)
    return changed(
        job.dialect,
        block_delete=machine.block_delete,
        optional_settled=machine.optional_settled,
    )


def _facets(job: Job) -> set[Facet]:
    if not job.dialect.block_delete:
        return {Facet.OPTIONAL}
    return {Facet.OPTIONAL, Facet.COMMENTS, Facet.LINE_NUMBERS, Facet.PAUSE_TEXTS}


@transform(
    "optional-lines",
    changes=[Facet.OPTIONAL, Facet.COMMENTS, Facet.LINE_NUMBERS, Facet.PAUSE_TEXTS],
    facets=_facets,
    dialect=_dialect,
    idempotent=True,
)
def optional_lines(job: Job) -> Iterator[Edit]:
    """Settle lines that begin with a slash: they run, or they are taken out.

    A switch at the panel leaves such lines out (RS274/NGC 2.2.2). What they are here is said by the
    recipe: `assume: {optional-lines: run}` takes the slash away, `leave-out` the line. Where
    neither recipe nor machine file says it, the job is refused.

        /G1 X40        ->        G1 X40
    """
    lines = _slashed(job)
    if lines and not job.dialect.optional_settled:
        what = "this line begins with a slash, and nothing says whether it runs"
        raise refusal("optional-undecided", what, place=place_of(job.program, lines[0]))
    if job.dialect.block_delete:
        yield from (delete(line.index) for line in lines if line.is_code)
        lines = [line for line in lines if not line.is_code]
    yield from edits(
        job.program, (Change(line.index, line.raw, _without_slash(line.text)) for line in lines)
    )


def needs_lines_settled(job: Job) -> dict[str, Any] | None:
    """The options of the step where the machine does not do with optional lines what the job is
    read to do, or does not take them; else None."""
    dialect, machine = job.dialect, Dialect.of(job.machine)
    settled = dialect.optional_settled and not machine.optional_settled
    other = settled or dialect.block_delete != machine.block_delete
    refuses = job.machine.optional_lines == "refused"
    return {} if (other or refuses) and _slashed(job) else None


def _slashed(job: Job) -> list[Line]:
    """The lines with a slash that are ever reached, ascending."""
    return [job.program[line] for line in job.program.lines_optional().tolist() if runs(job, line)]


def _without_slash(text: str) -> str:
    """
    >>> _without_slash("/ N10 G0 X1"), _without_slash("(A)/G0 X1")
    ('N10 G0 X1', '(A)G0 X1')
    """
    lead = _LEAD.match(text)
    assert lead is not None
    rest = text[lead.end() :]
    return lead[1] + rest if lead[1].strip() else lead[1] + rest.lstrip(" \t")
