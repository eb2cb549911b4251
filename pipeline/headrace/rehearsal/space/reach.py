"""Does everything stay inside the machine's travel?

Along an axis whose machine coordinates are known the travel is compared directly. Behind a touch
the height of Z zero is known within the span that sheet and bit allow; what is judged then holds
for the whole span.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isnan

from headrace.findings import Finding
from headrace.job import Job
from headrace.language.trace import PROBE
from headrace.machine import Axis, Machine, Setup, Span, unknown
from headrace.rehearsal.lengths import NEAR, mm
from headrace.rehearsal.space.stretches import Stretch

_MOST_OUT = 20.0
"""Nobody lets a bit stand out by more (mm) than it did: common practice."""

_WHY = {
    "clamps": "this controller cuts the move short there without a word: a flat edge, or a zero"
    " that no longer holds",
    "alarms": "this controller stops in alarm before such a move, in the middle of the job",
    "none": "nothing stops the axis before it runs into its end and loses its place",
    None: "an axis that runs into its end loses its place; what this controller does about it is"
    " not described (soft-limits)",
}


def reach_findings(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The place that lies furthest outside along each axis, at either end."""
    for axis, name in enumerate("XYZ"):
        travel = job.machine.axes.get(name.lower())
        if travel is None:
            continue
        for up in (True, False):
            outside = [
                (out, number, stretch)
                for number, stretch in enumerate(space)
                for out in [_outside(stretch, axis, travel, up)]
                if out > NEAR
            ]
            if outside:
                _, _, stretch = max(outside, key=lambda found: (found[0], -found[1]))
                yield _finding(stretch, axis, travel, up)
                break
    yield from _shown(job, space)
    yield from _untold(job, space)


def _limit(travel: Axis, place: Span, up: bool) -> float:
    """The last number inside, wherever in `place` the zero may be."""
    return travel.high - place.most if up else travel.low - place.least


def _outside(stretch: Stretch, axis: int, travel: Axis, up: bool) -> float:
    """How far a stretch goes out of the travel (mm)."""
    place, reached = stretch.frame.machine[axis], stretch.furthest(axis, up)
    if place is None or reached is None:
        return 0.0
    limit = _limit(travel, place, up)
    return reached[0] - limit if up else limit - reached[0]


def _finding(stretch: Stretch, axis: int, travel: Axis, up: bool) -> Finding:
    name = "XYZ"[axis]
    place, reached = stretch.frame.machine[axis], stretch.furthest(axis, up)
    assert place is not None
    assert reached is not None
    number, row = reached
    low, high = (_limit(travel, place, end) for end in (False, True))
    out = number - high if up else low - number
    what = (
        f"{name}{mm(number)} lies {mm(out)} mm outside the travel, which here is"
        f" {name}{mm(low)} to {name}{mm(high)}"
    )
    return Finding.of(
        "target-outside",
        what,
        stretch.place(row),
        why=_WHY[stretch.job.machine.soft_limits],
        remedy=_remedy(stretch, row, axis, up, out, high if up else low),
    )


def _remedy(stretch: Stretch, row: int, axis: int, up: bool, out: float, limit: float) -> str:
    if axis < 2:
        way = ("left" if up else "right") if axis == 0 else ("towards you" if up else "back")
        return (
            f"move the sheet or the job {mm(out)} mm {way}; if `travel` or `corner` is wrong,"
            " mend that"
        )
    if stretch.block.kind[row] == PROBE:
        return f"aim no {'higher' if up else 'lower'} than Z{mm(limit)}"
    if not isnan(stretch.block.setting.offset[2]):
        # numbers that count from homing: how far the bit stands out is of no account
        return f"go no {'higher' if up else 'lower'} than Z{mm(limit)}, or touch off before it"
    if up:
        return (
            f"lower this height by {mm(out)} mm, to {mm(limit)} or less: in CAM it is the safe"
            " or retract height; or let the bit stand out less"
        )
    if out > _MOST_OUT:
        return f"go {mm(out)} mm less deep"
    return f"go {mm(out)} mm less deep, or let the bit stand out that much more"


def _shown(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """Controllers that compare the numbers that are shown, wherever the zero is."""
    if job.machine.soft_limit_numbers != "shown" or job.machine.soft_limits == "none":
        return
    for axis, name in enumerate("XYZ"):
        travel = job.machine.axes[name.lower()]
        for stretch in space:
            if any(placed == axis for placed, _ in stretch.block.setting.placed):
                continue
            for up, limit in ((True, travel.high), (False, travel.low)):
                reached = stretch.furthest(axis, up)
                out = 0.0 if reached is None else (reached[0] - limit) * (1 if up else -1)
                if reached is not None and out > NEAR:
                    what = (
                        f"{name}{mm(reached[0])} lies {mm(out)} mm outside {name}"
                        f"{mm(travel.low)} to {name}{mm(travel.high)}, and this controller"
                        " compares the numbers that it shows"
                    )
                    yield Finding.of(
                        "shown-outside",
                        what,
                        stretch.place(reached[1]),
                        why=_WHY[job.machine.soft_limits],
                    )
                    break
            else:
                continue
            break


def _untold(job: Job, space: Sequence[Stretch]) -> Iterator[Finding]:
    """The field that would tell where the job goes on the machine, where there is one."""
    for axis, name in enumerate("XYZ"):
        for stretch in space:
            reached = stretch.furthest(axis, True)
            if reached is None or stretch.frame.machine[axis] is not None:
                continue
            field = "setup.sheet.corner" if axis < 2 else height_field(job.machine, stretch.setup)
            if field is not None:
                question = f"whether {name} stays inside the travel"
                yield unknown(field, question, stretch.place(reached[1]))
            break


def height_field(machine: Machine, setup: Setup) -> str | None:
    """The first field without which heights on the machine are not known."""
    fields = {
        "setup.sheet.thickness": setup.sheet.thickness,
        setup.field(setup.tool, "stick-out"): setup.tool.stick_out,
        "machine.bed": machine.bed_under(setup.tool.number),
    }
    return next((field for field, value in fields.items() if value is None), None)
