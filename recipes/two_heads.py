"""A transform for a machine with two heads side by side on one gantry.

The machine file describes the further head: which bit is in it, where it stands beside the first
one, which output lowers it, and in which work offset system it works. What the job does with that
bit is done by that head: the same numbers, counted from a zero that lies so far aside as the heads
stand apart. `renumbers` declares that: headrace proves that every cut of a bit has its numbers in
the system of its head, and that it is still cut by that bit at its speed.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace import (
    Edit,
    EventKind,
    Facet,
    Finding,
    Head,
    Heights,
    Job,
    JobRefused,
    Renumbering,
    asking,
    before,
    needed,
    number_text,
    pausing,
    replace,
    transform,
)

SLIDE = {"type": "number", "description": "How long the heads take to change places; s.",
         "default": 2, "exclusiveMinimum": 0}  # fmt: skip


@transform(
    "first-head",
    changes=[Facet.SPINDLE, Facet.OUTPUTS, Facet.DWELL],
    options={"slide": SLIDE},
)
def first_head(job: Job, *, slide: float) -> Iterator[Edit]:
    """Lower the first head. Put it behind `home`: only at the upper end of Z may heads change.

    Nobody knows which one a stop has left down, how deep, and whether it turns.
    """
    rests = seconds(job, job.machine.spindle.run_down)
    yield before(job.landmarks.start, "M5", f"G4 P{rests}")
    yield before(job.landmarks.start, *words_off(job).values(), f"G4 P{seconds(job, slide)}")


def words_off(job: Job) -> dict[int, str]:
    """The words that lift the further heads, by the bits in them."""
    return {head.tool: str(job.machine.off_word(head.down)) for head in job.machine.heads}


def renumbered(job: Job, **_: float) -> Iterator[Renumbering]:
    """Each further bit's numbers go from the first system, unchanged, into that of its head."""
    for head in job.machine.heads:
        into = job.machine.work_zero.systems.index(head.system) + 1
        yield Renumbering(1, into, (0.0, 0.0, 0.0), tool=head.tool)


@transform(
    "two-heads",
    changes=[*map(Facet, ("work-zero", "outputs", "stops", "dwell", "spelling", "comments"))],
    adds_motion=True,
    options={
        "gap": {"type": "number", "description": "Air above the highest plate; mm.", "default": 5,
                "exclusiveMinimum": 0},
        "over-travel": {"type": "number", "description": "How far below the lowest plate the probe"
                        " aims; mm.", "default": 3, "exclusiveMinimum": 0},
        "slide": SLIDE,
    },
    renumbers=renumbered,
)  # fmt: skip
def two_heads(job: Job, *, gap: float, over_travel: float, slide: float) -> Iterator[Edit]:
    """Have each bit's cuts made by the head that holds it.

    Where the job calls for a bit: up, at rest, heads changed, the other zero selected. A further
    head finds its Z by a touch of its own, when it is first lowered, and X and Y there from how far
    it stands from the first one. The job stops and starts the spindle itself. This step stands
    behind `touch-off`, which is for the first head.
    """
    machine, touched = job.machine, set[int]()
    if machine.work_zero.word != "G10 L20" or not machine.machine_moves or not machine.heads:
        raise unsuited("two-heads needs `heads`, `machine-moves`, and G10 L20 as `work-zero.word`")
    if job.setup.tool.number is None or machine.head_of(job.setup.tool.number) is not None:
        raise unsuited(
            "two-heads must know which bit is in the first head: state `setup.tool.number`"
        )
    off = words_off(job)
    calls = [e for e in job.trace.events_of(EventKind.TOOL) if job.program[e.line].asks is None]
    tool: object = job.trace.tool
    for event, then in zip(calls, [*(e.line for e in calls), len(job.program)][1:], strict=True):
        line, number = job.program[event.line], event.value
        if not isinstance(number, int) or any(word.letter not in "NTM" for word in line.words):
            raise unsuited(
                "two-heads: a call for a bit stands alone on its line, as T2 M6", job, line.index
            )
        head = machine.head_of(number)
        if number != tool:
            yield from lifted(job, line.index)
            switched = [word for other, word in off.items() if other != number]
            switched += [] if head is None else [head.down]
            yield before(line.index, *switched)
            system = machine.work_zero.systems[0] if head is None else head.system
            yield before(line.index, f"G4 P{seconds(job, slide)}", system)
            if head is not None and number not in touched:
                yield from touch(job, line.index, head, gap, over_travel)
                touched.add(number)
            yield before(line.index, *back(job, line.index))
        yield replace(line.index, f"(TOOL {number} IS AT WORK)")
        tool = number
        for at in range(event.line + 1, then) if head is not None else ():
            selects = [word for word in job.program[at].words if word.code == "G54"]
            if selects:
                assert head is not None
                yield replace(at, job.program[at].rewritten({selects[0]: head.system}))


def lifted(job: Job, at: int) -> Iterator[Edit]:
    """Up, and the spindle at rest: the drive goes over to the other head."""
    if job.state_at(at).spindle != "off":
        raise unsuited("two-heads: nothing stops the spindle before this call for a bit", job, at)
    top = job.machine.axes["z"].high - job.machine.margin
    rests = seconds(job, job.machine.spindle.run_down)
    yield before(at, "G90", f"G53 G0 Z{number_text(top)}", f"G4 P{rests}")


def touch(job: Job, at: int, head: Head, gap: float, over_travel: float) -> Iterator[Edit]:
    """Zero for a head: X and Y over the plate by the heads' distance, Z by touching it twice."""
    machine, setup = job.machine, job.setup.with_tool(head.tool)
    corner = needed(setup.sheet.corner, "setup.sheet.corner", "two-heads")
    aside = needed(setup.plate.at, "setup.plate.at", "two-heads")
    plate = needed(setup.plate.thickness, "setup.plate.thickness", "two-heads")
    probe = needed(machine.probe, "machine.probe", "two-heads")
    way, high = Heights.of(machine, setup, "two-heads").touch, machine.axes["z"].high
    n, zero = number_text, f"G10 L20 P{machine.work_zero.systems.index(head.system) + 1}"
    x, y = (corner[axis] + aside[axis] - head.at[axis] for axis in (0, 1))
    yield before(
        at,
        f"G53 G0 X{n(x)} Y{n(y)}",
        f"{zero} X{n(aside[0])} Y{n(aside[1])} Z{n(high - machine.margin)}",
    )
    yield from pausing(job.machine, at, *asking("clip-on"), asks="clip-on")
    yield before(
        at,
        f"G0 Z{n(high - way.least + gap)}",
        f"{probe.word} Z{n(high - way.most - over_travel)} F{n(probe.quick)}",
        f"{zero} Z{n(plate)}",
        f"G0 Z{n(plate + 2)}",
        f"{probe.word} Z{n(plate - over_travel)} F{n(probe.slow)}",
        f"{zero} Z{n(plate)}",
        f"G53 G0 Z{n(high - machine.margin)}",
    )
    yield from pausing(job.machine, at, *asking("clip-off"), asks="clip-off")


def back(job: Job, at: int) -> list[str]:
    """Over the place where the job stood, in the numbers of the head that is down now."""
    state = job.state_at(at)
    if state.incremental or state.units != "mm":
        raise unsuited("two-heads: a bit is called for in increments, or in inches", job, at)
    known = {a: v for a, v in zip("XYZ", state.position, strict=False) if not isnan(v)}
    words = [[f"{a}{number_text(known[a])}" for a in axes if a in known] for axes in ("XY", "Z")]
    return [" ".join(["G0", *group]) for group in words if group]


def seconds(job: Job, value: float) -> str:
    return number_text(value / job.dialect.dwell_unit)


def unsuited(what: str, job: Job | None = None, line: int = 0) -> JobRefused:
    place = None if job is None else job.program.place(line)
    return JobRefused(findings=[Finding.of("step-unsuited", what, place)])
