"""How long a card file takes, in s, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from headrace.job import Job
    from headrace.timing.clock import Clock

UNCALIBRATED, CALIBRATED = 0.25, 0.10
"""How far motion may take longer or shorter than is planned, without a timed run of the machine
and with one: common practice."""


@dataclass(frozen=True, slots=True)
class ToolTime:
    """Planned seconds of motion with one bit (None: the one in the collet, which no job names)."""

    tool: int | None
    seconds: float


@dataclass(frozen=True, slots=True)
class Times:
    """`naive` is the whole with every move at its full feed, dwells included: nothing is faster.
    The rest is planned: `cutting`, `rapids`, `probing` and `homing` are motion, `waiting` are
    dwells. Probes go to where they are expected to touch, the latest place of all that may vary;
    homing from where the axes stand, and where that is not known over the whole travel.

    `low` to `high` is the band around their sum, pauses left out: a quarter of the motion to both
    sides, with a timed run of this machine (`calibrated`) a tenth, but never below `naive`. Both
    are None where accelerations or corners are not described, as the four are then not known
    better than `naive`. `pauses` (optional ones too) and `tool_changes` besides them are counted:
    how long a person takes nobody knows. `unknown` are moves whose length or speed is not known;
    they are not in any of the sums.
    """

    naive: float
    cutting: float
    rapids: float
    probing: float
    homing: float
    waiting: float
    low: float | None
    high: float | None
    calibrated: bool
    pauses: int
    tool_changes: int
    tools: tuple[ToolTime, ...]
    unknown: int = 0

    @property
    def planned(self) -> float:
        """All of it but for the pauses (s)."""
        return self.cutting + self.rapids + self.probing + self.homing + self.waiting


def times_of(job: Job, clock: Clock | None = None) -> Times:
    """How long a job takes; `clock` is the job's, where it is there already."""
    import numpy as np

    from headrace.language import EventKind
    from headrace.language.trace import CCW, HOME, PROBE, RAPID
    from headrace.timing.clock import clock_of

    clock = clock or clock_of(job)
    kind = job.trace.kind
    rapids, probing, homing = (
        float(clock.moving[kind == each].sum()) for each in (RAPID, PROBE, HOME)
    )
    cutting = float(clock.moving[(kind > RAPID) & (kind <= CCW)].sum())
    waiting, least = float(clock.waits.sum()), float(clock.least.sum())
    motion = cutting + rapids + probing + homing
    calibrated = clock.planned and job.machine.timing is not None
    part = CALIBRATED if calibrated else UNCALIBRATED
    # what takes longest and may take nothing, such as homing, is no part of the least
    surely = motion - float(clock.moving[kind >= PROBE].sum() - clock.least[kind >= PROBE].sum())
    pausing = job.trace.events_of(EventKind.STOP, EventKind.OPTIONAL_STOP)
    stops = [event.line for event in pausing]
    asked = set(stops)
    return Times(
        naive=least + waiting,
        cutting=cutting,
        rapids=rapids,
        probing=probing,
        homing=homing,
        waiting=waiting,
        low=max(surely * (1.0 - part), least) + waiting if clock.planned else None,
        high=motion * (1.0 + part) + waiting if clock.planned else None,
        calibrated=calibrated,
        pauses=len(stops),
        tool_changes=sum(event.line not in asked for event in job.trace.events_of(EventKind.TOOL)),
        tools=_by_tool(job, clock),
        unknown=int(np.count_nonzero(clock.unknown)),
    )


def _by_tool(job: Job, clock: Clock) -> tuple[ToolTime, ...]:
    """The seconds of motion with each bit, in the order in which they are first in the collet."""
    found: dict[int | None, float] = {}
    at = 0
    for block in job.trace.blocks:
        tool, seconds = block.setting.tool, float(clock.moving[at : at + len(block)].sum())
        found[tool] = found.get(tool, 0.0) + seconds
        at += len(block)
    return tuple(ToolTime(tool, seconds) for tool, seconds in found.items())
