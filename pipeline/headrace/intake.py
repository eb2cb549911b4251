"""A job as it comes: read in the dialect of jobs, with the bit that is in the collet."""

from __future__ import annotations

from dataclasses import replace

from headrace.job import Job
from headrace.language import Dialect, EventKind, State
from headrace.language.modal import SYSTEMS
from headrace.machine import Machine, Setup
from headrace.program import Program
from headrace.recipe import Plan
from headrace.rehearsal.alone import with_bits_asked_for


def start_state(machine: Machine, setup: Setup, dialect: Dialect) -> State:
    """What is known of the machine when a card file in a dialect begins: hardly anything."""
    state = State(units=dialect.units, absolute_centres=dialect.absolute_centres)
    if not machine.work_zero.systems:
        state.origins = [[0.0] * len(row) for row in state.origins]
        for system, (x, y, z) in setup.offsets.items():  # as a job means them that has some
            state.origins[SYSTEMS[round(float(system[1:]) * 10)] - 1] = [x, y, z, 0.0, 0.0, 0.0]
    else:
        # a machine with work offset systems is not shifted by G92 as well, unless a job does it
        state.shift = [0.0] * len(state.shift)
    return state


def job_of(name: str, data: bytes, plan: Plan) -> Job:
    """A job as it comes, before the first step."""
    dialect = Dialect.of(plan.machine, plan.assumed.units)
    if not plan.alone:
        dialect = dialect.as_jobs_have_it(plan.assumed)
    start = start_state(plan.machine, plan.setup, dialect)
    program = Program.read(data, name)
    job = Job(program, plan.machine, plan.setup, dialect, start, stand_alone=plan.alone)
    likely = _likely(job)
    if plan.alone:
        asked = with_bits_asked_for(likely)
        if asked is not likely:
            return with_first_tool(job.with_program(asked.program))
    return with_first_tool(job, likely)


def with_first_tool(job: Job, likely: Job | None = None) -> Job:
    """The same job with the bit in the collet that it takes for granted there: the one that it
    calls before it first cuts, unless the set-up says which one is in.

    `likely` is the job with that bit as it seems at a first look: if it is so, nothing needs to be
    read again. What a job calls and where it cuts does not depend on what is in the collet.
    """
    read = likely or job
    setup, cut = job.setup, read.landmarks.first_cut
    first = next(read.trace.events_of(EventKind.TOOL), None)
    if first is not None and isinstance(first.value, int) and (cut is None or first.line <= cut):
        setup = setup.begun_by(first.value)
    if setup == read.setup and setup.tool.number == read.start.tool:
        return read
    return _begun_with(job, setup)


def _likely(job: Job) -> Job:
    """The job with the bit in the collet that its first word for one names."""
    named = job.program.lines_with("T")[:1]
    number = job.program[int(named[0])].get("T") if len(named) else None
    if number is None or number < 0 or number != int(number):
        return _begun_with(job, job.setup)
    return _begun_with(job, job.setup.begun_by(int(number)))


def _begun_with(job: Job, setup: Setup) -> Job:
    """The job in a set-up with the bit that is in its collet, where that has a number."""
    if setup.tool.number is None:
        return job
    start = job.start.copy()
    start.tool = setup.tool.number
    return replace(job, setup=setup, start=start)
