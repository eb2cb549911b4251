"""Both drawings of a job."""

from __future__ import annotations

from headrace.job import Job
from headrace.picture.depths import Depths
from headrace.picture.drawing import Drawing
from headrace.picture.side import side
from headrace.picture.top import keeps_of, top
from headrace.picture.way import way_of
from headrace.rehearsal.space.stretches import stretches


def job_drawings(job: Job, prefix: str) -> tuple[Drawing, Drawing]:
    """The job on its sheet from above and from the side; ids begin with `prefix`."""
    space = list(stretches(job))
    way = way_of(space)
    depths = Depths.of(way)
    keeps = keeps_of(job.setup, space)
    return top(job, way, depths, keeps, prefix), side(job, way, depths, prefix)
