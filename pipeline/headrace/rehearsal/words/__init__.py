"""Words: what lines say that this machine reads otherwise, or that was hardly meant."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from headrace.findings import Finding
from headrace.job import Job
from headrace.rehearsal.words.bits import bit_findings
from headrace.rehearsal.words.centres import centre_findings
from headrace.rehearsal.words.dialects import dialect_findings
from headrace.rehearsal.words.distances import distance_findings
from headrace.rehearsal.words.drilling import drilling_findings
from headrace.rehearsal.words.ending import ending_findings
from headrace.rehearsal.words.forms import form_findings
from headrace.rehearsal.words.lines import (
    comment_findings,
    length_findings,
    mark_findings,
    optional_findings,
    unit_findings,
)
from headrace.rehearsal.words.machine_moves import machine_move_findings
from headrace.rehearsal.words.modes import mode_findings
from headrace.rehearsal.words.points import point_findings
from headrace.rehearsal.words.rapids import rapid_findings
from headrace.rehearsal.words.stops import stop_findings
from headrace.rehearsal.words.stored_points import stored_point_findings
from headrace.rehearsal.words.vocabulary import dwell_findings, output_findings, word_findings
from headrace.rehearsal.words.zeros import zero_findings

_CHECKS: tuple[Callable[[Job], Iterator[Finding]], ...] = (
    length_findings,
    mark_findings,
    unit_findings,
    word_findings,
    form_findings,
    dialect_findings,
    output_findings,
    dwell_findings,
    comment_findings,
    optional_findings,
    ending_findings,
    stop_findings,
    mode_findings,
    distance_findings,
    machine_move_findings,
    stored_point_findings,
    drilling_findings,
    centre_findings,
    point_findings,
    bit_findings,
    rapid_findings,
    zero_findings,
)


def wording_findings(job: Job) -> Iterator[Finding]:
    """What there is to say on words, line by line and as a whole."""
    for check in _CHECKS:
        yield from check(job)
