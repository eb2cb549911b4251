"""What the run sheet says of one card file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headrace.card.entry import Proved
from headrace.card.writing import Content
from headrace.sheet.facts import FileFacts

if TYPE_CHECKING:
    from headrace.outcome import Outcome
    from headrace.recipe import Plan


def file_facts(
    outcome: Outcome,
    plan: Plan,
    prefix: str,
    *,
    name: str,
    title: str,
    source: str | None,
    content: Content | None = None,
) -> FileFacts:
    """The facts of a file that was made: `outcome` has a result and a job. `prefix` keeps the ids
    of its drawings apart from those of others, `name` is what it is called on the card, `source`
    the job that it was made from. `content` is that of the result, where it is known already."""
    from headrace.language import EventKind
    from headrace.picture.job import job_drawings
    from headrace.rehearsal.space import stretches
    from headrace.sheet.cuts import cuts_of, on_surface
    from headrace.sheet.depth import depth_of
    from headrace.sheet.doing import doing
    from headrace.sheet.modes import modes
    from headrace.sheet.pauses import pauses
    from headrace.sheet.reaches import reaches
    from headrace.sheet.tools import tool_uses
    from headrace.sheet.view.track import track_of
    from headrace.timing.clock import clock_of
    from headrace.timing.times import times_of

    job, result = outcome.job, outcome.result
    assert job is not None, "there are no facts of a refused job"
    assert result is not None, "there are no facts of a refused job"
    clock = clock_of(job)
    times = times_of(job, clock)
    cuts = cuts_of(job, list(stretches(job)))
    stops = pauses(job, clock)
    outputs = (event.value for event in job.trace.events_of(EventKind.OUTPUT))
    return FileFacts(
        name=name,
        title=title,
        source=source,
        does=doing(job, cuts, stops),
        modes=modes(job, cuts, times, None if source is None else outcome.source, plan.assumed),
        lines=len(result),
        moves=len(job.trace),
        content=Content.of(*result.parts()) if content is None else content,
        pauses=stops,
        tools=tool_uses(job, on_surface(job, cuts), times),
        reaches=reaches(job, cuts),
        depth=depth_of(job, cuts),
        times=times,
        proof=None if outcome.proof is None else Proved.of(outcome.proof),
        findings=outcome.findings,
        drawings=job_drawings(job, prefix),
        track=track_of(job, clock),
        switches=tuple(dict.fromkeys(map(str, outputs))),
    )
