"""Several heads on one gantry: they change places lifted, and each bit must cut with the zero of
the head that holds it."""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan

from headrace.findings import Finding
from headrace.job import Job
from headrace.language import Event, EventKind
from headrace.language.modal import SYSTEMS
from headrace.machine import Head
from headrace.rehearsal.lengths import NEAR, mm

_MOST = 50
"""So many changes of heads are looked at."""


def _unlifted(job: Job) -> Iterator[Finding]:
    """The first change of heads that does not come at the upper end of Z, or as high as parked. A
    word that may lift or lower a head is one, too, where nobody knows which head is down."""
    axis = job.machine.axes["z"]
    enough = min(axis.high - job.machine.margin, job.machine.park.get("z", axis.high))
    changes = [
        event.line
        for event in job.trace.events_of(EventKind.TOOL)
        if job.program[event.line].asks is None and not job.program[event.line].has("M", 6)
    ]
    for line in sorted({*_first_words(job), *changes})[:_MOST]:
        state = job.state_at(line)
        height = state.placed.get(2, state.machine[2])
        if not height >= enough - NEAR:
            where = (
                "at an unknown height" if isnan(height) else f"{mm(axis.high - height)} below it"
            )
            what = f"the heads change places before Z is at its upper end: {where}"
            yield Finding.of("heads-unlifted", what, job.program.place(line))
            return


def _first_words(job: Job) -> Iterator[int]:
    """For each further head the first line that lifts or lowers it."""
    firsts = (_first_word(job, head) for head in job.machine.heads)
    yield from (line for line in firsts if line is not None)


def _first_word(job: Job, head: Head) -> int | None:
    """The first line that lifts or lowers a head."""
    words = (head.down, job.machine.off_word(head.down))
    lines = [job.program.lines_with("M", int(word[1:])) for word in words if word is not None]
    return min((int(each[0]) for each in lines if len(each)), default=None)


def head_findings(job: Job) -> Iterator[Finding]:
    """A change of heads at the wrong height; a cut by another head than the bit's; where nothing
    else is told, a head that no line lowers or lifts before something is touched or cut."""
    found = [*_unlifted(job), *_elsewhere(job)]
    yield from found or _untold(job)


def _elsewhere(job: Job) -> Iterator[Finding]:
    """The first cut with another head down than the bit's, in the system of another head, or in one
    whose Z zero this file has not found with that head down though it has found another head's."""
    machine = job.machine
    systems = [SYSTEMS[round(float(word[1:]) * 10)] for word in machine.work_zero.systems]
    names = dict(zip(systems, machine.work_zero.systems, strict=True))
    found = [
        (event.moves, event.value[1] if _own_zero(job, event) else None)
        for event in job.trace.zeros("Z")
        if isinstance(event.value, tuple) and event.value[0] == "origin"
    ]
    moves = 0
    for block in job.trace.blocks:
        setting, begun = block.setting, moves
        moves += len(block)
        cuts = block.line[block.cuts]
        own = cuts[job.program.own(cuts)]
        if not len(own):
            continue
        head = machine.head_of(setting.tool)
        mine = _system(job, head)
        place, bit = job.program.place(int(own[0])), f"tool {setting.tool}"
        down = [
            each.down for each in machine.heads if (int(each.down[1:]), True) in setting.outputs
        ]
        if down != ([] if head is None else [head.down]):
            there = "the first head is down" if not down else f"{' and '.join(down)} lowered a head"
            remedy = "lower the head that holds the bit, and no other one"
            what = f"{bit} is to cut, and {there}"
            yield Finding.of("head-elsewhere", what, place, remedy=remedy)
            return
        if setting.system != mine:
            there = names.get(setting.system, f"system {setting.system}")
            what = f"{bit} is in the head that counts in {names[mine]}, and this cut is in {there}"
            yield Finding.of("head-elsewhere", what, place)
            return
        before = {system for at, system in found if at <= begun + len(block)}
        if before and mine not in before:
            what = f"{bit} cuts in {names[mine]}, whose Z zero this file has not found"
            remedy = "touch off with that head before it cuts"
            yield Finding.of("tool-without-zero", what, place, remedy=remedy)
            return


def _system(job: Job, head: Head | None) -> int:
    """The work offset system of a head; None is the first one."""
    word = job.machine.work_zero.systems[0] if head is None else head.system
    return SYSTEMS[round(float(word[1:]) * 10)]


def _own_zero(job: Job, event: Event) -> bool:
    """Whether a zero is set in the system of the head that is down."""
    tool = job.state_at(event.line).tool
    return isinstance(event.value, tuple) and event.value[1] == _system(
        job, job.machine.head_of(tool)
    )


def _untold(job: Job) -> Iterator[Finding]:
    """The first head that no line lowers or lifts before something is touched or cut."""
    touches = [event.line for event in job.trace.events_of(EventKind.PROBE)]
    cuts = [int(block.line[block.cuts][0]) for block in job.trace.blocks if block.cuts.any()]
    if not touches and not cuts:
        return
    first = min(*touches[:1], *cuts[:1], len(job.program))
    for head in job.machine.heads:
        told = _first_word(job, head)
        if told is None or told > first:
            what = f"no line before this one tells whether {head.down} has lowered its head"
            lifts = job.machine.off_word(head.down) or head.down
            remedy = f"put {lifts} before it, or see which head is down"
            yield Finding.of("start-unknown", what, job.program.place(first), remedy=remedy)
            return
